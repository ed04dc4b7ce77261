"""Where recordings lie, whose they are, and how one that has ended goes into the library."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from groundtone.errors import DamagedError, GroundtoneError, LibraryError, MissingError, sentence_of
from groundtone.files import data_folder
from groundtone.record.reader import open_recording
from groundtone.record.session import About, Golfer, check_name
from groundtone.record.unfiled import refuse, unfiled


def recordings_folder() -> Path:
    """Where recordings lie when no other place is named."""
    return data_folder() / "recordings"


def new_recording_path(about: About) -> Path:
    """The file of a new recording: its time and a part of its id; no name of a golfer."""
    when = datetime.datetime.fromisoformat(about.started)
    return recordings_folder() / f"{when:%Y-%m-%d-%H%M%S}-{about.session[:8]}.mcap"


def known_golfer(
    name: str, hand: str | None, shoe_mm: float | None, tell: Callable[[str], None] = lambda sentence: None
) -> Golfer:
    """The golfer as the library knows them, else a new one; what was told now counts more.

    Parameters
    ----------
    tell : callable
        Takes a sentence where the library cannot be read: that hinders nobody from practising.

    Raises
    ------
    LibraryError
        The name will not do.
    """
    if not name:
        return Golfer("", hand or "right", None, shoe_mm)
    check_name(name)
    from groundtone.record.library import Library

    golfer = Golfer(name)
    try:
        with Library(data_folder()) as library:
            name = library.spelt(name)
            golfer = library.golfer(name) if library.knows(name) else Golfer(name)
    except LibraryError as error:
        tell(f"{sentence_of(error)} {name} practises all the same, and the session is put in when that is mended.")
    return replace(golfer, hand=hand or golfer.hand, shoe_mm=shoe_mm if shoe_mm is not None else golfer.shoe_mm)


def into_library(path: Path) -> str:
    """Puts a recording that has ended into the user's library; a sentence where that failed, else empty.

    What failed is no loss: the recording is there, and the library can be made anew from it.
    """
    try:
        _file(path)
    except MissingError as error:
        return str(error)
    except DamagedError as error:
        return f"{error}; the session is in {path} all the same, and goes in with that"
    except GroundtoneError as error:
        return f"{error}; the session is in {path} all the same, and goes into the library with the next command"
    return ""


def file_unfiled(tell: Callable[[str], None]) -> int:
    """Puts recordings into the library that ended without it (a kill, a power cut); how many.

    Parameters
    ----------
    tell : callable
        Takes one sentence for each.
    """
    done, left = 0, unfiled(data_folder())
    if not left or not _writable():
        return 0
    for path in left:
        when = re.sub(r"^(\d{4}-\d\d-\d\d)-(\d\d)(\d\d).*", r"\1 \2:\3", path.stem)
        try:
            _file(path)
        except LibraryError:
            # Whoever needs the library says what is the matter with it.
            return done
        except GroundtoneError as error:
            refuse(data_folder(), path)
            tell(f"The session of {when} cannot be put into the library: {error}.")
            continue
        done += 1
        tell(f"The session of {when} had not been ended in order: it is in the library now.")
    return done


def _writable() -> bool:
    from groundtone.record.library import Library

    try:
        with Library(data_folder()) as library:
            return not library.read_only
    except LibraryError:
        return False


def _file(path: Path) -> None:
    # The review needs half a second to be imported: a golfer on the mat must not wait for it.
    from groundtone.record.contents import put
    from groundtone.record.library import Library
    from groundtone.review.library_reader import keep_style
    from groundtone.review.session_review import analysed

    recorded = open_recording(path)
    swings, doubts = analysed(recorded)
    with Library(data_folder()) as library:
        put(library, recorded, swings, doubts)
        if recorded.about.golfer.name:
            keep_style(library, recorded.about.golfer.name)
