"""The profile of a mat: where it lies when no path is named, what lies beside it, and how it is read for use."""

from __future__ import annotations

import re
from pathlib import Path

from groundtone.calibration.checking.check_log import newest_correction
from groundtone.calibration.profile import Profile, read_profile
from groundtone.errors import ProfileError
from groundtone.files import data_folder
from groundtone.mat.layout import Layout
from groundtone.wire.messages import Hello


def profile_path(uid: str) -> Path:
    """Where the profile of a mat lies when no other is named.

    Raises
    ------
    ProfileError
        That is no mat's id (a recording may say anything), and would name another file.
    """
    if not re.fullmatch(r"[0-9a-zA-Z]{1,64}", uid):
        raise ProfileError(f"{uid!r} is no mat's id, so no profile can be found by it: name one with --profile")
    return data_folder() / "profiles" / f"{uid}.json"


def run_path(profile: Path) -> Path:
    """The bench run that belongs to a profile: beside it."""
    return profile.with_suffix(".run.jsonl")


def checks_path(profile: Path) -> Path:
    """The checks of a profile's mat, the newest last: beside it."""
    return profile.with_suffix(".checks.jsonl")


def set_aside(path: Path) -> Path | None:
    """Gives a file a name that is free, so that nothing is overwritten; the new name, None where there is no file."""
    if not path.exists():
        return None
    number = 1
    while (free := path.with_name(f"{path.name}.{number}")).exists():
        number += 1
    path.rename(free)
    return free


def own_profile(hello: Hello, layout: Layout, path: Path | None = None) -> tuple[Profile | None, Path]:
    """The profile of an open mat and where it lies; None where the mat has none and no other was named.

    Parameters
    ----------
    path : Path or None
        A named one; None: the mat's own place.

    Raises
    ------
    ProfileError
        It cannot be used, or a named one is not there.
    """
    where = path or profile_path(hello.uid)
    if path is None and not where.exists():
        return None, where
    profile = read_profile(where)
    profile.check_mat(hello, layout)
    return profile, where


def profile_in_force(hello: Hello, layout: Layout, path: Path | None = None) -> tuple[Profile | None, list[str]]:
    """As `own_profile`, with the correction of its newest check in force, and sentences about it."""
    profile, where = own_profile(hello, layout, path)
    if profile is None:
        return None, [
            "This mat is not calibrated: forces are a guess from the typical film, cells differ by a quarter. "
            "groundtone calibrate standing takes a minute."
        ]
    return newest_correction(profile, checks_path(where))
