"""What the newest check says of a profile: its correction goes into the profile that a session uses, and is told."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

from rich.console import Console

from groundtone.app.folders import checks_path
from groundtone.app.saying import say, sentence_of
from groundtone.calibration.check_log import corrected, newest_for, read_checks
from groundtone.calibration.profile import Profile
from groundtone.errors import GroundtoneError

# A check says something of the mat today; an older one is still better than none, and is remarked on.
_OLD_H = 24.0


def with_newest_check(profile: Profile, path: Path, console: Console) -> Profile:
    """The profile with the correction of the newest check of it, and a sentence about that check.

    Checks lie beside the profile. What cannot be read is told and changes nothing.

    Parameters
    ----------
    profile : Profile
        As it was read from `path`.
    path : Path
    console : Console
    """
    try:
        kept = newest_for(read_checks(checks_path(path)), profile)
        if kept is None:
            say(console, "This profile was not checked since it was made: groundtone check takes a minute.")
            return profile
        film = corrected(profile.film, kept)
    except GroundtoneError as error:
        say(console, f"{sentence_of(error)} The profile is used without a correction.")
        return profile
    when = _when(kept.record.date)
    if kept.not_fit:
        say(console, f"The check of {when} found this mat not fit: {'; '.join(kept.findings) or 'no reason kept'}.")
        return profile
    what = "its correction is in force" if kept.factor is not None else "nothing had to be corrected"
    say(console, f"Checked {when}: {kept.record.verdict}, {what}.")
    if kept.factor is None:
        return profile
    return replace(profile, film=film, note=f"{profile.note}; corrected by the check of {kept.record.date}".strip("; "))


def _when(date: str) -> str:
    """A date as a person says it, and how long ago that was where it matters."""
    try:
        then = datetime.datetime.fromisoformat(date)
        hours = (datetime.datetime.now().astimezone() - then).total_seconds() / 3600
    except (ValueError, TypeError):
        return date
    words = f"{then:%d.%m.%Y %H:%M}"
    return words if hours <= _OLD_H else f"{words} ({hours / 24:.0f} days ago: check it again)"
