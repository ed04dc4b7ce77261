"""Where a user's files live when no path is named: profiles, runs and checks of each mat."""

from __future__ import annotations

from pathlib import Path

from groundtone.files import data_folder


def profile_path(uid: str) -> Path:
    """Where the profile of a mat lies when no other is named."""
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
