"""What the desk does for the pupils: who is in the library, and renaming, merging, erasing, naming, moving it all."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from groundtone.errors import GroundtoneError
from groundtone.files import data_folder
from groundtone.record.library import Library

if TYPE_CHECKING:
    from groundtone.app.window.places.pupil import Feet
    from groundtone.lesson.pupils import PupilLine


def everybody() -> list[PupilLine]:
    """Pupils and walk-ins, the last one who was here first."""
    from groundtone.lesson.pupils import pupil_lines

    with Library(data_folder()) as library:
        return pupil_lines(library)


def renamed(old: str, new: str) -> str:
    """Gives a pupil another code name; the name as it is now."""
    from groundtone.review import golfers

    with Library(data_folder()) as library:
        golfers.rename(library, old, new.strip())
    return new.strip()


def stands(name: str, feet: Feet) -> Feet:
    """Keeps a pupil's shoe, stance and flare where the commands keep them; what was there before."""
    from groundtone.app.window.places.pupil import Feet
    from groundtone.cue.personal import read_personal, write_personal

    with Library(data_folder()) as library:
        own = read_personal(name)
        golfer = library.golfer(name) if library.knows(name) else None
        before = Feet(golfer.shoe_mm if golfer is not None else None, own.stance_mm, own.flare_deg)
        write_personal(replace(own, stance_mm=feet.stance_mm, flare_deg=feet.flare_deg))
        if golfer is not None:
            library.change(replace(golfer, shoe_mm=feet.shoe_mm))
    return before


def merged(source: str, into: str) -> str:
    """Makes one pupil of two; the name of the one who stays."""
    from groundtone.review import golfers

    with Library(data_folder()) as library:
        into = library.spelt(into)
        golfers.merge(library, source, into)
    return into


def erased(name: str) -> int:
    """Removes a pupil with everything of theirs; how many recordings that were."""
    from groundtone.app.live.bay import erase

    with Library(data_folder()) as library:
        return erase(library, name)


def named(paths: tuple[Path, ...], name: str) -> str:
    """Tells whose a walk-in's recordings are; the name as the library spells it."""
    from groundtone.review import golfers

    with Library(data_folder()) as library:
        name = library.spelt(name)
        for path in paths:
            golfers.name_session(library, path, name)
    return name


def deleted(paths: tuple[Path, ...]) -> int:
    """Removes recordings without a swing; how many."""
    from groundtone.review import golfers

    if not paths:
        raise GroundtoneError("nothing of theirs is recorded: erase removes the name")
    with Library(data_folder()) as library:
        for path in paths:
            golfers.delete_empty(library, path)
    return len(paths)


def backed_up(to: Path) -> int:
    """Writes the whole library into one file; how many files are in it."""
    from groundtone.review.backup import back_up

    return back_up(data_folder(), to)


def restored(source: Path) -> tuple[int, int]:
    """Brings a backed-up library in; recordings that came, and those that were here already."""
    from groundtone.review.backup import restore

    return restore(source, data_folder())
