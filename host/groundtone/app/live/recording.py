"""Where recordings lie, whose they are, and how one that has ended goes into the library."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

from groundtone.errors import GroundtoneError, MissingError
from groundtone.files import data_folder
from groundtone.record.contents import put
from groundtone.record.library import Library, check_name
from groundtone.record.reader import open_recording
from groundtone.record.session import About, Golfer


def recordings_folder() -> Path:
    """Where recordings lie when no other place is named."""
    return data_folder() / "recordings"


def new_recording_path(about: About) -> Path:
    """The file of a new recording: its time and a part of its id; no name of a golfer."""
    when = datetime.datetime.fromisoformat(about.started)
    return recordings_folder() / f"{when:%Y-%m-%d-%H%M%S}-{about.session[:8]}.mcap"


def known_golfer(name: str, hand: str | None, shoe_mm: float | None) -> Golfer:
    """The golfer as the library knows them, else a new one; what was told now counts more.

    Raises
    ------
    LibraryError
        The library cannot be read, or the name will not do.
    """
    if not name:
        return Golfer("", hand or "right", None, shoe_mm)
    check_name(name)
    with Library(data_folder()) as library:
        name = library.spelt(name)
        golfer = library.golfer(name) if library.knows(name) else Golfer(name)
    return replace(golfer, hand=hand or golfer.hand, shoe_mm=shoe_mm if shoe_mm is not None else golfer.shoe_mm)


def into_library(path: Path) -> str:
    """Puts a recording that has ended into the user's library; a sentence where that failed, else empty.

    What failed is no loss: the recording is there, and the library can be made anew from it.
    """
    # The review needs half a second to be imported: a golfer on the mat must not wait for it.
    from groundtone.review.session_review import analysed

    try:
        recorded = open_recording(path)
        swings, doubts = analysed(recorded)
        with Library(data_folder()) as library:
            put(library, recorded, swings, doubts)
    except MissingError as error:
        return str(error)
    except GroundtoneError as error:
        return f"{error}; the session is in {path} all the same, and 'groundtone library rebuild' puts it in later"
    return ""
