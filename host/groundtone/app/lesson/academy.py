"""The commands `groundtone library …` of an academy: where it is, who may do what, recordings, versions, the page."""

from __future__ import annotations

import datetime
import sys
from pathlib import Path

import click
from rich.console import Console

from groundtone.app.console import at_once, say
from groundtone.app.language import tr
from groundtone.app.lesson.library import opened
from groundtone.app.lesson.targets import one_line
from groundtone.errors import GroundtoneError, sentence_of
from groundtone.files import data_folder

_OUTSIDE = 1


@click.command()
@click.argument("url", default="")
@click.option("--bay", default="", help="What this bay is called; without it the computer's name.")
@click.option("--recordings", default="", help="Where recordings are kept too: a folder, or s3://BUCKET/FOLDER.")
@click.option("--alone", is_flag=True, help="Back to the file of this computer.")
def at(url: str, bay: str, recordings: str, alone: bool) -> None:
    """Say where the library is: postgresql://USER@HOST/DATABASE. Without URL: where it is now."""
    from groundtone.record.academy.where import Where, keep, where

    console, folder = Console(), data_folder()
    if alone:
        keep(folder, Where())
    elif url or bay or recordings:
        was = where(folder)
        keep(folder, Where(url or was.library, bay or was.bay, recordings or was.recordings))
    with opened(console) as found:
        if recordings and found.place is not None:
            found.place.make()
        kept = f"; recordings are kept at {found.place.url} too" if found.place is not None else ""
        say(
            console,
            f"The library is {one_line(found.name)}, this bay is {one_line(found.bay) or 'the only one'}{kept}.",
        )


@click.command()
@click.option("--give", "user", default="", help="Who gets a role; made where nobody is called so.")
@click.option("--role", default="", help="reader, desk or coach.")
def roles(user: str, role: str) -> None:
    """Make the database's three roles, as its owner: reader, desk, coach. Passwords are set in the database."""
    from groundtone.record.academy.roles import ROLES, make_roles
    from groundtone.record.academy.where import where

    console, url = Console(), where(data_folder()).library
    if not url:
        raise GroundtoneError("the library is a file of this computer: whoever can open it may do everything")
    if bool(user) != bool(role):
        raise GroundtoneError("--give and --role belong together: who, and which role")
    make_roles(url, user, role)
    for name, words in ROLES.items():
        say(console, f"groundtone_{name}: {words}.")
    if user:
        say(console, f"{one_line(user)} is a {role} from now on.")


@click.command()
@click.option("--free", is_flag=True, help="Remove each recording here once it has been read back there.")
@click.option("--strays", is_flag=True, help="Remove there what is in no library.")
def send(free: bool, strays: bool) -> None:
    """Bring this bay's recordings to their place, as far as they are not there whole."""
    from groundtone.record.academy.keeping import remove_strays
    from groundtone.record.academy.keeping import send as sent_from

    console, left = Console(), 0
    with opened(console) as found:
        if strays:
            say(console, f"{remove_strays(found)} strays were removed.")
        for path, what in sent_from(found, free):
            left += what not in ("sent", "freed")
            say(console, f"{path.name}: {what}." if what in ("sent", "freed") else sentence_of(what))
    sys.exit(_OUTSIDE if left else 0)


@click.command()
@click.argument("golfer")
@click.option("--here", "ours", is_flag=True, help="What was changed at this bay holds.")
@click.option("--there", "theirs", is_flag=True, help="What the library has holds.")
def own(golfer: str, ours: bool, theirs: bool) -> None:
    """Say which holds, where a pupil's bands or plan were changed at two bays."""
    from groundtone.app.live.bay import own_files_of
    from groundtone.record.academy.own_files import decide

    if ours == theirs:
        raise GroundtoneError("say --here or --there: what was changed at this bay, or what the library has")
    console = Console()
    with opened(console) as found:
        golfer = found.spelt(golfer)
        decide(found, golfer, own_files_of(golfer, found.folder), ours)
        say(console, f"Bands and plan of {one_line(golfer)} are the same here and there.")


@click.command()
@click.option("--since", default="", help="Only sessions from this day on, as 2026-03-14.")
@click.option("--pupil", default="", help="Only this golfer's sessions.")
@click.option("--cluster", default="", help="The address of a Dask scheduler: tcp://HOST:8786.")
@click.option(
    "--workers", type=click.IntRange(1, 256), help="Processes of this computer; without it its processors less one."
)
@click.option("--again", is_flag=True, help="Also what this very version has measured.")
def remeasure(since: str, pupil: str, cluster: str, workers: int | None, again: bool) -> None:
    """Measure sessions anew with today's algorithms; it can be cut and goes on where it was."""
    at_once("Looking for what another version measured.")
    from rich.progress import Progress

    from groundtone.app.lesson.remeasure import remeasured
    from groundtone.record.academy.versions import to_measure
    from groundtone.record.academy.where import where
    from groundtone.review.session_review import analysis_version

    console, version = Console(), analysis_version()
    if since:
        try:
            datetime.date.fromisoformat(since)
        except ValueError:
            raise GroundtoneError(f"{since!r} is no day: write it as 2026-03-14") from None
    with opened(console) as found:
        folder, rows = found.folder, to_measure(found, version, since, pupil, again)
    names, failed = {row.session: Path(row.path).name for row in rows}, 0
    if rows:
        with Progress(console=console, transient=True) as bar:
            task = bar.add_task(tr("Measuring"), total=len(rows))
            for session, why_not in remeasured(
                folder, where(folder), list(names), version, cluster, again, workers or 0
            ):
                failed += bool(why_not)
                if why_not:
                    say(console, f"{names[session]}: {sentence_of(why_not)}")
                bar.advance(task)
    say(console, f"{len(rows) - failed} sessions measured by {version}{f', {failed} left out' if failed else ''}.")
    sys.exit(_OUTSIDE if failed else 0)


@click.command()
@click.argument("golfer", default="")
def changes(golfer: str) -> None:
    """What the last measuring anew has changed, and for whom."""
    from groundtone.record.academy.versions import changes as changed

    console = Console()
    with opened(console) as found:
        told, counts = changed(found, golfer)
    for each in told:
        say(
            console,
            f"{one_line(each.golfer)}, {each.measure}: {each.swings} of {each.of} swings differ, by {each.mean:+.3g} "
            f"on average and {each.most:+.3g} at most ({each.before} to {each.now}).",
        )
    for name, came, went in counts:
        say(console, f"{one_line(name)}: {came} swings more are found, {went} no longer.")
    if not told and not counts:
        say(console, "Nothing has changed.")


@click.command()
@click.option("--out", type=click.Path(file_okay=False, path_type=Path), default=Path("out/academy"), show_default=True)
def desk(out: Path) -> None:
    """Write the head coach's page: pupils, coaches, bays, what is due, and mats that age."""
    from groundtone.app.lesson.academy_page import write_academy
    from groundtone.record.academy.head_coach import overview

    console = Console()
    with opened(console) as found:
        path = write_academy(overview(found), found.name, datetime.date.today(), out)
    say(console, f"The page of the academy is {path}.")
