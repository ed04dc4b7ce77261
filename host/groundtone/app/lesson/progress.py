"""The command `groundtone progress`: what became of a golfer over lessons. Options and printing only."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click
from rich import box
from rich.console import Console
from rich.table import Table

from groundtone.app.console import at_once, say
from groundtone.app.language import SPOKEN
from groundtone.cue.personal import called_faults
from groundtone.errors import GroundtoneError, Telling
from groundtone.files import data_folder, write_whole
from groundtone.lesson.compare import CLAIMS, TOO_FEW, UNKNOWN
from groundtone.lesson.progress import Progress, club_of, progress_of_club
from groundtone.lesson.report.choice import Units
from groundtone.lesson.report.content import shown_name
from groundtone.lesson.report.notation import Notation
from groundtone.lesson.wording import languages, words
from groundtone.record.channels import without_nan


@click.command()
@click.argument("golfer", default="")
@click.option("--club", help="Count the swings with clubs of this one's class; without it the club of the last lesson.")
@click.option("--all-clubs", is_flag=True, help="Count the swings with every club.")
@click.option("--fault", "faults", multiple=True, help="A finding that you call a fault in any case, by name.")
@click.option("--language", type=click.Choice(languages()), default=lambda: SPOKEN.code, show_default="en")
@click.option(
    "--out", type=click.Path(file_okay=False, path_type=Path), default=Path("out/progress"), show_default=True
)
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON and draw nothing.")
@click.option("--example", is_flag=True, help="Four invented lessons.")
def progress_command(
    golfer: str,
    club: str | None,
    all_clubs: bool,
    faults: tuple[str, ...],
    language: str,
    out: Path,
    as_json: bool,
    example: bool,
) -> None:
    """Progress of a GOLFER over lessons: a table, and a picture."""
    at_once("Drawing the progress.", quiet=as_json)
    from groundtone.app.lesson.review import check_faults
    from groundtone.lesson.progress_picture import club_line, draw_progress, lessons_line
    from groundtone.lesson.report.example import example_lessons
    from groundtone.lesson.report.page import stem_of

    console = Console()
    check_faults(faults)
    if example == bool(golfer):
        raise GroundtoneError("name a golfer of the library, or say --example for invented lessons")
    if club is not None and all_clubs:
        raise GroundtoneError("--club counts one club and --all-clubs every one: give one of them")
    if example:
        golfer, lessons = words(language)("page.nobody"), example_lessons()
    else:
        from groundtone.record.library import Library
        from groundtone.review.library_reader import lessons_of

        with Library(data_folder()) as library:
            lessons = lessons_of(library, golfer)
    faults = (*faults, *(() if example else called_faults(golfer)))
    found = progress_of_club(lessons, None if all_clubs else club if club is not None else club_of(lessons), faults)
    if as_json:
        click.echo(json.dumps(plain(found, golfer), indent=1, allow_nan=False, ensure_ascii=False))
        return
    notation = Notation(words(language), Units())
    if example:
        say(console, notation.words("progress.invented"))
    elif any(lesson.simulated for lesson in found.lessons):
        say(console, notation.words("page.simulated"))
    say(console, f"{lessons_line(found, notation)} {club_line(found, notation)}")
    console.print(table(found, notation))
    for line in kept_lines(found, notation):
        say(console, line)
    picture = out / f"{stem_of(golfer, found.lessons[-1].started).replace('page', 'progress', 1)}.png"
    with Telling(GroundtoneError, f"the picture cannot be written into {out}", "choose another folder with --out"):
        write_whole(picture, draw_progress(found, golfer, language=language, invented=example))
    say(console, f"Written: {picture}.")


def table(found: Progress, notation: Notation) -> Table:
    """First, one before the last and last lesson, and what changed since the first."""
    say = notation.words
    out = Table(box=box.SIMPLE_HEAD, show_edge=False, padding=(0, 1, 0, 0))
    out.add_column(say("measures.measure"))
    out.add_column(say("measures.usual"), no_wrap=True)
    shown = sorted({0, max(len(found.lessons) - 2, 0), len(found.lessons) - 1})
    for i in shown:
        out.add_column(notation.day(found.lessons[i].started), justify="right", no_wrap=True)
    if found.since is not None:
        out.add_column(say("progress.since"))
    for n, looked in enumerate(found.looked):
        cells = [notation.measure(looked.name), notation.band(looked)]
        cells += [notation.value(looked, found.points[looked.name][i].value) for i in shown]
        out.add_row(*cells, *([say(f"verdict.{found.since.changes[n].verdict}")] if found.since else []))
    last = [say(f"verdict.{found.since.inside_verdict}")] if found.since is not None else []
    out.add_row(say("progress.inside"), "-", *(_inside(found, i) for i in shown), *last)
    return out


def kept_lines(found: Progress, notation: Notation) -> list[str]:
    """What changed from the end of the one before the last lesson to the beginning of the last."""
    if not found.kept:
        return []
    say, last = notation.words, found.kept[-1]
    told = [(notation.measure(c.looked.name), c.verdict) for c in last.changes]
    told.append((say("progress.inside"), last.inside_verdict))
    lines = [f"{name}: {say(f'kept.{verdict}')}" for name, verdict in told if verdict in CLAIMS]
    known = [verdict for _, verdict in told if verdict != TOO_FEW]
    nothing = say(f"kept.{UNKNOWN}") if known else say(f"kept.{TOO_FEW}")
    return [f"{say('progress.kept')}: {'; '.join(lines) or nothing}."]


def _inside(found: Progress, i: int) -> str:
    counts = found.strikes[i]
    return f"{counts.inside}/{counts.placed}" if counts.placed else "-"


def plain(found: Progress, golfer: str) -> Any:
    """Progress as plain types; what is not known is null."""
    return without_nan({
        "golfer": shown_name(golfer),
        "club": found.club,
        "too_few_with": found.few,
        "left_out": found.left_out,
        "lessons": [{"name": lesson.name, "started": lesson.started} for lesson in found.lessons],
        "days": list(found.days),
        "measures": {
            m.name: {
                "band": list(m.band),
                "points": [
                    {"level": p.value, "low": p.low, "high": p.high, "swings": p.n} for p in found.points[m.name]
                ],
                "kept": [
                    {"change": c.effect.size, "low": c.effect.low, "high": c.effect.high,
                     "verdict": c.verdict}
                    for c in found.kept_of(m.name)
                ],
            }
            for m in found.looked
        },
        "inside": [
            {"inside": c.inside, "placed": c.placed, "low": c.inside_interval[0],
             "high": c.inside_interval[1]}
            for c in found.strikes
        ],
    })  # fmt: skip
