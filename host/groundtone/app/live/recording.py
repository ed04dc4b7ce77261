"""Where recordings lie, whose they are, and how one that has ended goes into the library."""

from __future__ import annotations

import contextlib
import datetime
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from groundtone.errors import DamagedError, GroundtoneError, LibraryError, MissingError, RecordError, sentence_of
from groundtone.files import data_folder
from groundtone.record.academy.queue import expect, last_seen, waiting
from groundtone.record.academy.where import where
from groundtone.record.reader import open_recording, read_about
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
            if library.shared:
                from groundtone.app.live.bay import carry_out_erasures, exchanged

                carry_out_erasures(library)
                for sentence in exchanged(library, name):
                    tell(sentence_of(sentence))
    except LibraryError as error:
        tell(f"{sentence_of(error)} {name} practises all the same, and the session is put in when that is mended.")
    return replace(golfer, hand=hand or golfer.hand, shoe_mm=shoe_mm if shoe_mm is not None else golfer.shoe_mm)


def expect_filing(path: Path, wished: bool = True) -> None:
    """A recording begins: a bay of an academy notes that it is to be filed, whatever comes in between.

    Raises
    ------
    RecordError
        That cannot be written down.
    """
    try:
        if wished and where(data_folder()).library:
            expect(data_folder(), path.name, last_seen(data_folder()))
    except LibraryError as error:
        raise RecordError(str(error)) from error


def into_library(path: Path) -> str:
    """Puts a recording that has ended into the user's library; a sentence where that failed, else empty.

    What failed is no loss: the recording is there, and the library can be made anew from it. A bay of an academy files
    what waits from before first.
    """
    try:
        if path.resolve().parent == recordings_folder().resolve():
            expect_filing(path)
            for earlier in _before(path):
                _file(earlier)
        _file(path)
        _erasures()
    except MissingError as error:
        return str(error)
    except DamagedError as error:
        return f"{error}; the session is in {path} all the same, and goes in with that"
    except GroundtoneError as error:
        return f"{error}; the session is in {path} all the same, and goes into the library with the next command"
    return ""


def _before(path: Path) -> list[Path]:
    """What a bay of an academy has to file before a recording."""
    left = unfiled(data_folder()) if where(data_folder()).library else []
    return left[: left.index(path)] if path in left else []


def file_unfiled(tell: Callable[[str], None]) -> int:
    """Puts recordings into the library that ended without it (a kill, a power cut, no network); how many.

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
        except MissingError as error:
            tell(f"The session of {when} is not put into the library: {error}.")
            continue
        except LibraryError:
            # Whoever needs the library says what is the matter with it.
            return done
        except GroundtoneError as error:
            refuse(data_folder(), path)
            tell(f"The session of {when} cannot be put into the library: {error}.")
            continue
        done += 1
        tell(f"The session of {when} had not been ended in order: it is in the library now.")
    with contextlib.suppress(LibraryError):
        _erasures()
    return done


def _erasures() -> None:
    """What was erased at another bay of an academy goes here too."""
    if where(data_folder()).library:
        from groundtone.app.live.bay import carry_out_erasures
        from groundtone.record.library import Library

        with Library(data_folder()) as library:
            carry_out_erasures(library)


def _writable() -> bool:
    from groundtone.record.library import Library

    try:
        with Library(data_folder()) as library:
            return not library.read_only
    except LibraryError:
        return False


def _file(path: Path) -> None:
    # The review needs half a second to be imported: a golfer on the mat must not wait for it.
    from groundtone.app.live.bay import after_filing, clock_doubts, drop
    from groundtone.record.contents import put
    from groundtone.record.library import Library
    from groundtone.review.library_reader import keep_style
    from groundtone.review.session_review import analysed, analysis_version

    folder, academy = data_folder(), bool(where(data_folder()).library)
    seen = next((each.seen for each in waiting(folder) if each.name == path.name), last_seen(folder))
    if academy:
        # To measure takes a while: whether anybody is there to take it is asked first.
        with Library(folder):
            pass
    recorded = open_recording(path)
    swings, doubts = analysed(recorded)
    with Library(folder) as library:
        if academy:
            doubts = [*doubts, *clock_doubts(library)]
        try:
            put(library, recorded, swings, doubts, analysis_version(), seen if academy else None)
        except MissingError:
            if academy:
                drop(library, path, recorded.about, seen)
            raise
        # Another bay may have renamed them meanwhile.
        about = (read_about(path) if academy else None) or recorded.about
        if about.golfer.name:
            keep_style(library, about.golfer.name)
        if academy:
            after_filing(library, path, about)
