"""What a bay of an academy does besides filing: recordings to their place, what the head coach sees, erasures."""

from __future__ import annotations

import contextlib
import tomllib
from collections.abc import Iterator
from dataclasses import asdict
from glob import escape
from pathlib import Path
from typing import TYPE_CHECKING

from groundtone.errors import AwayError, GroundtoneError
from groundtone.record.academy.queue import FILE, SEND, expect, last_seen, saw, settle, waiting
from groundtone.record.channels import Channel
from groundtone.record.session import About, renamed

if TYPE_CHECKING:
    from groundtone.record.library import Library

# Clocks that agree within this are told nothing of, s (invented).
_CLOCK_S = 120.0
_DAY = "[0-9]" * 4 + "-[0-9][0-9]" * 2


def clock_doubts(library: Library) -> list[str]:
    """A sentence where this bay's clock is not the library's: times of its sessions are as it told them."""
    off_s = library.clock_off_s
    if abs(off_s) < _CLOCK_S:
        return []
    way = "ahead of" if off_s > 0 else "behind"
    words = f"The clock of {library.bay} was {abs(off_s) / 60:.0f} min {way} the library's"
    return [f"{words}: set it; the times of what it records are as it told them."]


def after_filing(library: Library, path: Path, about: About) -> None:
    """Sends a filed recording to its place, and tells the library what is due and how old the mat is.

    What cannot be sent now is sent after the next one.

    Raises
    ------
    LibraryError
    """
    from groundtone.record.academy.keeping import send_one

    _tell_mat(library, about.hello.uid)
    if about.golfer.name:
        _tell_due(library, about.golfer.name)
        exchanged(library, about.golfer.name)
    if library.place is not None:
        expect(library.folder, path.name, 0, SEND)
        with contextlib.suppress(AwayError):
            for each in waiting(library.folder, SEND):
                send_one(library, library.recordings / each.name)
                settle(library.folder, each.name, SEND)
    settle(library.folder, path.name)


def exchanged(library: Library, golfer: str) -> list[str]:
    """What is the golfer's own, brought from and to other bays; sentences where it was changed at two."""
    from groundtone.record.academy.own_files import exchange

    return exchange(library, golfer, own_files_of(golfer, library.folder))


def own_files_of(golfer: str, folder: Path) -> dict[str, Path]:
    """The files that are one golfer's own, by what they are called."""
    from groundtone.cue.personal import path_of
    from groundtone.feel.plan import path_of as plan_of

    return {"bands": path_of(golfer, folder), "plan": plan_of(golfer, folder)}


def _tell_due(library: Library, golfer: str) -> None:
    from groundtone.feel.plan import read_plan
    from groundtone.record.academy.head_coach import tell_due

    plan = read_plan(golfer, library.folder)
    tell_due(library, golfer, plan.due if plan is not None and not plan.kept else "")


def _tell_mat(library: Library, uid: str) -> None:
    from groundtone.calibration.checking.check_log import read_checks
    from groundtone.calibration.own_profile import checks_path, profile_path
    from groundtone.calibration.profile import read_profile
    from groundtone.record.academy.head_coach import Mat, tell_mat

    with contextlib.suppress(GroundtoneError):
        path = profile_path(uid)
        calibrated = read_profile(path).date if path.exists() else ""
        checks = read_checks(checks_path(path))
        last = (checks[-1].date, checks[-1].verdict) if checks else ("", "")
        tell_mat(library, Mat(uid, library.bay, calibrated, *last))


def drop(library: Library, path: Path, about: About, seen: int) -> None:
    """A recording that came too late: its golfer was erased, and nothing of theirs stays here."""
    if library.called_now(about.golfer.name, seen) is None:
        forget_here(library.folder, about.golfer.name, [path])
    if not path.exists():
        settle(library.folder, path.name)
        settle(library.folder, path.name, SEND)


def carry_out_erasures(library: Library) -> int:
    """Removes here what is left of golfers who were erased at another bay, and renames those renamed; how many.

    Raises
    ------
    LibraryError
    """
    folder, seen = library.folder, last_seen(library.folder)
    if not library.shared or library.seen <= seen:
        return 0
    left = {name: (library.called_now(name, seen), files) for name, files in _left_here(library).items()}
    late = {name: how for name, how in left.items() if how[0] != name}
    for name, (now, files) in late.items():
        if now is not None:
            _rename_here(library, name, now, files)
            continue
        forget_here(folder, name, files)
        for path in files:
            settle(folder, path.name)
            settle(folder, path.name, SEND)
    saw(folder, library.seen)
    return len(late)


def _rename_here(library: Library, old: str, now: str, files: list[Path]) -> None:
    """What lies here under a name that another bay has changed; what lies at the place has been changed there."""
    from groundtone.cue.personal import hand_on
    from groundtone.feel.plan import hand_on_plan
    from groundtone.record.academy.own_files import forget_base
    from groundtone.record.reader import read_about
    from groundtone.record.recorder import append

    listed = {row.session for row in library.recordings_of(now)}
    for path in files:
        about = read_about(path)
        if about is None:
            continue
        if about.session in listed and library.place is not None:
            path.unlink()
        else:
            append(path, [(Channel.GOLFER, asdict(renamed(about.golfer, now)))])
    forget_base(library.folder, [path.name for path in own_files_of(old, library.folder).values()])
    hand_on(old, now, library.folder)
    hand_on_plan(old, now, library.folder)
    for page in pages_of(old, library.folder):
        page.unlink(missing_ok=True)


def forget_here(folder: Path, name: str, files: list[Path]) -> None:
    """Removes a golfer's recordings, lanes, bands, plan and pages from this bay."""
    from groundtone.cue.personal import forget_personal
    from groundtone.feel.plan import forget_plan
    from groundtone.record.academy.own_files import forget_base
    from groundtone.record.reader import read_about

    for path in files:
        about = read_about(path) if path.exists() else None
        if about is not None:
            for lane in (folder / "lanes").glob(f"{about.session}-*.npz"):
                lane.unlink(missing_ok=True)
        path.unlink(missing_ok=True)
    forget_base(folder, [path.name for path in own_files_of(name, folder).values()])
    forget_personal(name, folder)
    forget_plan(name, folder)
    for page in pages_of(name, folder):
        page.unlink(missing_ok=True)


def erase(library: Library, name: str) -> int:
    """Removes a golfer with everything of theirs, pages and what waits too; errors and result as `golfers.erase`."""
    from groundtone.record.academy.own_files import forget_base
    from groundtone.review import golfers

    count = golfers.erase(library, name)
    for page in pages_of(name, library.folder):
        page.unlink(missing_ok=True)
    if library.shared:
        forget_base(library.folder, [path.name for path in own_files_of(name, library.folder).values()])
        for file in (FILE, SEND):
            for each in waiting(library.folder, file):
                if not (library.recordings / each.name).exists():
                    settle(library.folder, each.name, file)
    return count


def pages_of(name: str, folder: Path) -> list[Path]:
    """The pages of a golfer that the window has put into the data folder."""
    from groundtone.lesson.report.page import stem_of

    return sorted((folder / "pages").glob(f"{escape(stem_of(name, ''))}-{_DAY}*")) if name else []


def _left_here(library: Library) -> dict[str, list[Path]]:
    """Everybody of whom something lies in this bay's folder, with their recordings, and is not in the library."""
    from groundtone.record.reader import read_about

    known = {each.golfer.name for each in library.golfers()}
    out: dict[str, list[Path]] = {name: [] for name in _named_in(library.folder)}
    for path in sorted(library.recordings.glob("*.mcap")):
        about = read_about(path)
        if about is not None and about.golfer.name:
            out.setdefault(about.golfer.name, []).append(path)
    # Somebody of that name who was added since is another person, with recordings of their own.
    listed = {library.file_of(row) for name in known & set(out) for row in library.recordings_of(name)}
    return {name: [path for path in files if path not in listed] for name, files in out.items()}


def _named_in(folder: Path) -> Iterator[str]:
    for kind in ("bands", "plans"):
        for path in sorted((folder / kind).glob("*.toml")):
            with contextlib.suppress(OSError, ValueError):
                name = tomllib.loads(path.read_text("utf-8")).get("golfer")
                if isinstance(name, str) and name:
                    yield name
