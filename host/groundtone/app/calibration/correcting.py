"""What the newest check says of a profile: its correction goes into the profile that a session uses."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

from rich.console import Console

from groundtone.app.folders import checks_path
from groundtone.app.saying import say, sentence_of
from groundtone.calibration.checking.check_log import corrected, newest_for, read_checks
from groundtone.calibration.profile import Profile
from groundtone.errors import GroundtoneError

# A check says something of the mat today; an older one is still better than none, and is remarked on.
_OLD_H = 24.0


def newest_correction(profile: Profile, path: Path) -> tuple[Profile, list[str]]:
    """The profile with the correction of the newest check of it, and sentences about that check.

    Checks lie beside the profile. What cannot be read is told and changes nothing.

    Parameters
    ----------
    profile : Profile
        As it was read from `path`.
    path : Path
    """
    try:
        kept = newest_for(read_checks(checks_path(path)), profile)
        if kept is None:
            return profile, ["This profile was not checked since it was made: groundtone check takes a minute."]
        film = corrected(profile.film, kept)
    except GroundtoneError as error:
        return profile, [f"{sentence_of(error)} The profile is used without a correction."]
    when = _when(kept.record.date)
    if kept.not_fit:
        why = "; ".join(kept.findings) or "no reason kept"
        return profile, [f"The check of {when} found this mat not fit: {why}."]
    what = "its correction is in force" if kept.factor is not None else "nothing had to be corrected"
    told = [f"Checked {when}: {kept.record.verdict}, {what}."]
    if kept.factor is None:
        return profile, told
    note = f"{profile.note}; corrected by the check of {kept.record.date}".strip("; ")
    return replace(profile, film=film, note=note), told


def with_newest_check(profile: Profile, path: Path, console: Console) -> Profile:
    """As `newest_correction`, its sentences said on a console."""
    corrected_profile, told = newest_correction(profile, path)
    for sentence in told:
        say(console, sentence)
    return corrected_profile


def _when(date: str) -> str:
    """A date as a person says it, and how long ago that was where it matters."""
    try:
        then = datetime.datetime.fromisoformat(date)
        hours = (datetime.datetime.now().astimezone() - then).total_seconds() / 3600
    except (ValueError, TypeError):
        return date
    words = f"{then:%d.%m.%Y %H:%M}"
    return words if hours <= _OLD_H else f"{words} ({hours / 24:.0f} days ago: check it again)"
