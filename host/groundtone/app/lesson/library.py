"""The commands `groundtone library …`: golfers and their sessions. Options, questions and printing only."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich import box
from rich.console import Console
from rich.table import Table

from groundtone.app.click_parts import LazyGroup, Number
from groundtone.app.console import say, turned
from groundtone.app.language import tr
from groundtone.app.lesson.targets import one_line
from groundtone.errors import GroundtoneError, sentence_of
from groundtone.files import data_folder
from groundtone.lesson.sentences import Given
from groundtone.record.session import Golfer

if TYPE_CHECKING:
    # A quarter of a second to be loaded.
    from groundtone.record.library import Known, Library

_OUTSIDE = 1
_NOBODY = "(nobody named)"


_OF_ACADEMY = {
    "at": "Say where the library is: postgresql://USER@HOST/DATABASE.",
    "changes": "What the last measuring anew has changed, and for whom.",
    "desk": "Write the head coach's page: pupils, coaches, bays, what is due, and mats that age.",
    "own": "Say which holds, where a pupil's bands or plan were changed at two bays.",
    "remeasure": "Measure sessions anew with today's algorithms; it can be cut and goes on where it was.",
    "roles": "Make the database's three roles, as its owner: reader, desk, coach.",
    "send": "Bring this bay's recordings to their place, as far as they are not there whole.",
}


@click.group(
    cls=LazyGroup,
    elsewhere={name: (f"groundtone.app.lesson.academy:{name}", told) for name, told in _OF_ACADEMY.items()},
)
def library() -> None:
    """Golfers and their recorded sessions."""


def opened(console: Console) -> Library:
    """The user's library; says so where it can only be read."""
    from groundtone.record.library import Library

    found = Library(data_folder())
    if found.shared:
        from groundtone.app.live.bay import carry_out_erasures

        carry_out_erasures(found)
    if found.read_only:
        say(console, f"The library {found.name} can only be read here: nothing will be changed.")
    return found


@library.command(name="list")
@click.argument("name", required=False)
def list_(name: str | None) -> None:
    """Everybody in the library, or the sessions of one golfer."""
    from groundtone.record.contents import unlisted

    console = Console()
    with opened(console) as found:
        if name is not None:
            _show_golfer(console, found, name)
            return
        known = found.golfers()
        waiting = unlisted(found)
        if known:
            console.print(turned(_everybody(known)))
        else:
            say(console, "The library is empty: 'groundtone practise --golfer NAME' records a session.")
        if waiting:
            files = "1 recording is" if len(waiting) == 1 else f"{len(waiting)} recordings are"
            say(console, f"{files} not in the library yet: 'groundtone library rebuild' puts them in.")


def _everybody(known: list[Known]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, padding=(0, 1, 0, 0))
    table.add_column("golfer", overflow="fold")
    for column in ("hand", "kg", "shoe\nmm"):
        table.add_column(column, no_wrap=True)
    for column in ("lessons", "sessions", "swings", "strikes"):
        table.add_column(column, justify="right", no_wrap=True)
    table.add_column("last", no_wrap=True)
    for each in known:
        golfer = each.golfer
        table.add_row(
            Given(_escaped(golfer.name)) or _NOBODY,
            golfer.hand,
            _or_dash(golfer.mass_kg),
            _or_dash(golfer.shoe_mm),
            *map(str, (each.lessons, each.recordings, each.swings, each.strikes)),
            each.last[:10] or "-",
        )
    return table


def _show_golfer(console: Console, found: Library, name: str) -> None:
    from groundtone.review.library_reader import sessions_of

    golfer = found.golfer(name)
    parts = [f"{golfer.hand}-handed"]
    parts += [f"{golfer.mass_kg:g} kg"] if golfer.mass_kg is not None else []
    parts += [f"shoe {golfer.shoe_mm:g} mm"] if golfer.shoe_mm is not None else []
    say(console, Given(f"{one_line(golfer.name) or tr(_NOBODY)}: {', '.join(map(tr, parts))}."))
    if golfer.notes:
        say(console, Given(one_line(golfer.notes)))
    for seen in sessions_of(found, name):
        words = "; ".join(
            f"{tr(block.role)}{' ' + one_line(block.club) if block.club else ''}"
            f"{'' if block.cues else ', ' + tr('silent')}, "
            + tr("1 swing" if len(block.swings) == 1 else f"{len(block.swings)} swings")
            for block in seen.blocks
        )
        # Turned above, word by word: dates, places and names stay as they are.
        say(console, Given(f"{seen.started[:16].replace('T', ' ')}  {seen.path}"))
        say(console, Given(f"    {tr(one_line(seen.lesson))}: {words}"))


@library.command()
@click.argument("name")
@click.option("--hand", type=click.Choice(["right", "left"]), default="right", show_default=True)
@click.option("--mass", type=Number(5, 400, "kg"), help="Body mass, kg.")
@click.option("--shoe", type=Number(100, 400, "mm"), help="Outer length of the shoes, mm.")
@click.option("--notes", default="", help="Whatever helps.")
@click.option("--change", is_flag=True, help="Change what is known of a golfer who is there already.")
@click.option(
    "--recording", "files", type=click.Path(path_type=Path), multiple=True, help="Take this file in as theirs."
)
def add(
    name: str, hand: str, mass: float | None, shoe: float | None, notes: str, change: bool, files: tuple[Path, ...]
) -> None:
    """Add a golfer; a code name is enough."""
    from groundtone.app.live.recording import new_recording_path
    from groundtone.record.contents import put
    from groundtone.record.reader import open_recording
    from groundtone.review.golfers import adopt
    from groundtone.review.session_review import analysed

    console = Console()
    golfer = Golfer(name, hand, mass, shoe, notes)
    with opened(console) as found:
        known = found.knows(name)
        recordings = [(path, open_recording(path)) for path in files]
        if change:
            found.change(golfer)
        elif not (known and files):
            found.add(golfer)
        else:
            golfer = found.golfer(name)
        for path, recording in recordings:
            to = new_recording_path(recording.about)
            adopt(path, golfer, to)
            taken = open_recording(to)
            put(found, taken, *analysed(taken))
            say(console, f"{path} was taken in as {to.name}.")
        say(console, f"{one_line(name)} is in the library.")


@library.command()
@click.argument("old")
@click.argument("new")
def rename(old: str, new: str) -> None:
    """Give a golfer another code name, in the recordings too. OLD may be "" for sessions without a name."""
    from groundtone.review import golfers

    console = Console()
    with opened(console) as found:
        changed = golfers.rename(found, old, new)
        say(console, f"{one_line(old) or _NOBODY} is {one_line(new)} from now on, in {_recordings(changed)} too.")


@library.command()
@click.argument("source")
@click.argument("into")
@click.option("--yes", is_flag=True, help="Do not ask.")
def merge(source: str, into: str, yes: bool) -> None:
    """Make one golfer of two: everything of SOURCE becomes INTO's."""
    from groundtone.review import golfers

    console = Console()
    with opened(console) as found:
        found.golfer(source), found.golfer(into)
        _ask(f"Give everything of {one_line(source) or _NOBODY} to {one_line(into)}? This cannot be undone.", yes)
        changed = golfers.merge(found, source, into)
        say(console, f"{one_line(source) or _NOBODY} is {one_line(into)} from now on, in {_recordings(changed)} too.")


@library.command()
@click.argument("name")
@click.argument("to", type=click.Path(path_type=Path))
def export(name: str, to: Path) -> None:
    """Write everything of a golfer's to a new folder TO, or to a file that ends with .zip."""
    from groundtone.review.golfer_export import give

    console = Console()
    with opened(console) as found:
        count = give(found, name, to)
        say(console, f"Tables and {_recordings(count)} of {one_line(name) or _NOBODY} are in {to}.")


@library.command()
@click.argument("name")
@click.option("--yes", is_flag=True, help="Do not ask.")
def erase(name: str, yes: bool) -> None:
    """Remove a golfer with everything of theirs, recordings too. There is no way back."""
    from groundtone.app.live.bay import erase as erased

    console = Console()
    with opened(console) as found:
        known = [each for each in found.golfers() if each.golfer.name == name]
        what = f"{_recordings(known[0].recordings)} and {known[0].swings} swings" if known else "all recordings"
        _ask(f"Erase {one_line(name) or _NOBODY} with {what}? This cannot be undone.", yes)
        count = erased(found, name)
        say(
            console,
            f"{one_line(name) or _NOBODY} is erased, with {_recordings(count)}. Copies that were exported before are "
            "yours to remove.",
        )


@library.command()
@click.argument("to", type=click.Path(dir_okay=False, path_type=Path))
def backup(to: Path) -> None:
    """Write the whole library into one new file TO: recordings, golfers, bands, profiles, checks."""
    from groundtone.review.backup import back_up

    say(Console(), f"{_files(back_up(data_folder(), to))} in {to}.")


@library.command()
@click.argument("source", type=click.Path(exists=True, dir_okay=False, path_type=Path))
def restore(source: Path) -> None:
    """Bring a backed-up library in; what is here already stays as it is."""
    from groundtone.review.backup import restore as brought_in

    came, were_here = brought_in(source, data_folder())
    say(Console(), f"{_recordings(came)} came, {were_here} were here already.")


def _files(count: int) -> str:
    return "1 file is" if count == 1 else f"{count} files are"


@library.command()
def rebuild() -> None:
    """Make the library anew from the recordings: with today's calibration and analysis."""
    from groundtone.record.contents import open_for_rebuild
    from groundtone.record.contents import rebuild as made_anew
    from groundtone.review.session_review import analysed

    console = Console()
    found, damaged = open_for_rebuild(data_folder())
    with found:
        if damaged:
            say(console, damaged)
        done = failed = 0
        for path, why_not in made_anew(found, analysed):
            done, failed = (done, failed + 1) if why_not else (done + 1, failed)
            say(console, sentence_of(GroundtoneError(why_not)) if why_not else f"{path.name} is in.")
        say(console, f"{_recordings(done)} in the library{f', {failed} left out' if failed else ''}.")
    sys.exit(_OUTSIDE if failed else 0)


@library.command()
def check() -> None:
    """Look whether library and recordings are whole and agree."""
    from groundtone.record.academy.keeping import wrong_at_place
    from groundtone.record.contents import check as wrong_in

    console = Console()
    with opened(console) as found:
        wrong = [*wrong_in(found), *wrong_at_place(found)]
        for sentence in wrong:
            say(console, sentence)
        if not wrong:
            say(console, "Library and recordings are whole and agree.")
    sys.exit(_OUTSIDE if wrong else 0)


def _ask(question: str, yes: bool) -> None:
    if yes:
        return
    try:
        sure = click.confirm(tr(question))
    except click.Abort:
        raise GroundtoneError(
            "nobody answered, so nothing was changed: say --yes to do it without a question"
        ) from None
    if not sure:
        raise GroundtoneError("nothing was changed")


def _recordings(count: int) -> str:
    return "1 recording" if count == 1 else f"{count} recordings"


def _or_dash(value: float | None) -> str:
    return "-" if value is None else f"{value:g}"


def _escaped(text: str) -> str:
    from rich.markup import escape

    return escape(one_line(text))
