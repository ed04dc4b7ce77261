"""The command `groundtone page`: the page that the pupil takes home. Options and printing only."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click
from rich.console import Console

from groundtone.app.console import at_once, say
from groundtone.app.language import SPOKEN
from groundtone.app.lesson.targets import recording_path
from groundtone.errors import GroundtoneError
from groundtone.files import data_folder
from groundtone.lesson.report.choice import PARTS, PageChoice, shown, units_of
from groundtone.lesson.report.data import PageData, data_for, reviews_of, with_history
from groundtone.lesson.wording import languages
from groundtone.review.session_review import Review


@click.command()
@click.argument("sessions", nargs=-1)
@click.option("--golfer", default="", help="Without SESSIONS: this golfer's last lesson.")
@click.option("--name", default="", help="Write this name on the page instead of the code name.")
@click.option("--out", type=click.Path(file_okay=False, path_type=Path), default=Path("out/page"), show_default=True)
@click.option("--language", type=click.Choice(languages()), default=lambda: SPOKEN.code, show_default="en")
@click.option("--units", default="metres,kg", show_default=True, help="metres or yards, kg or lb: yards,lb.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@click.option(
    "--without", multiple=True, help=f"Leave out a part: {', '.join(PARTS[:-1])}. May be given several times."
)
@click.option("--with-weight", is_flag=True, help="Say the golfer's weight, which is left out otherwise.")
@click.option("--coach", default="", help="Who gave the lesson.")
@click.option("--next", "next_date", default="", help="When the next lesson is.")
@click.option("--saw", default="", help="Your own words for what you saw.")
@click.option("--changed", default="", help="Your own words for what you changed.")
@click.option("--todo", default="", help="Your own words for what to do.")
@click.option("--drill", default="", help="Another drill than the finding's own, by name.")
@click.option("--fault", "faults", multiple=True, help="A finding that you call a fault in any case, by name.")
@click.option(
    "--profile", type=click.Path(dir_okay=False, path_type=Path), help="Measure with this profile, not the recorded."
)
@click.option("--json", "as_json", is_flag=True, help="Write the numbers of the page beside it as well.")
@click.option("--example", "as_example", is_flag=True, help="A page from an invented lesson.")
def page_command(
    sessions: tuple[str, ...],
    golfer: str,
    name: str,
    out: Path,
    language: str,
    units: str,
    paper: str,
    without: tuple[str, ...],
    with_weight: bool,
    coach: str,
    next_date: str,
    saw: str,
    changed: str,
    todo: str,
    drill: str,
    faults: tuple[str, ...],
    profile: Path | None,
    as_json: bool,
    as_example: bool,
) -> None:
    """The page to take home: HTML, the same as PDF, and a card for a message.

    SESSIONS are the recordings of one lesson: files, beginnings of sessions' ids, or `last` (which is taken where
    nothing is named). Baseline, drill and test blocks become before, practice and after.
    """
    at_once("Making the page.")
    from groundtone.app.lesson.review import check_faults, plain
    from groundtone.lesson.report.example import example
    from groundtone.lesson.report.page import build_page, write_page

    console = Console()
    check_faults(faults)
    choice = PageChoice(
        language=language, units=units_of(units), paper=paper, saw=saw, changed=changed, todo=todo, drill_name=drill,
        coach=coach, next_date=next_date, **shown(without, ("weight",) if with_weight else ()),
    )  # fmt: skip
    reviews: list[Review] = []
    if as_example:
        if sessions or golfer:
            raise GroundtoneError("--example is an invented lesson: name no session and no golfer with it")
        data = example(language)
    else:
        data, reviews = _recorded(console, sessions, golfer, profile, faults)
    if name:
        data = replace(data, golfer=replace(data.golfer, name=name))
    page = build_page(data, choice)
    if as_json and reviews:
        # The pupil's name is the page's: their code name does not travel with the numbers.
        sessions_told = [{key: part for key, part in plain(seen).items() if key != "golfer"} for seen in reviews]
        page = replace(page, numbers={**page.numbers, "sessions": sessions_told})
    paths = write_page(page, out, as_json=as_json)
    for sentence in page.doubts:
        say(console, sentence)
    if page.content.banner:
        say(console, page.content.banner)
    for heading, text in page.content.said:
        say(console, f"{heading}: {text}")
    for path in paths:
        say(console, f"Written: {path}.")


def _recorded(
    console: Console, sessions: tuple[str, ...], golfer: str, profile: Path | None, faults: tuple[str, ...]
) -> tuple[PageData, list[Review]]:
    from groundtone.record.library import Library
    from groundtone.review.library_reader import last_lesson

    paths = [recording_path(session) for session in sessions or (() if golfer else ("last",))]
    if not paths:
        with Library(data_folder()) as library:
            paths = last_lesson(library, golfer)
    reviews = reviews_of(paths, profile, faults)
    for recording in (seen.recording for seen in reviews):
        named = recording.about.golfer.name
        if golfer and named and named != golfer:
            raise GroundtoneError(
                f"{recording.path} is a recording of {named!r} and not of {golfer!r}: name the right one"
            )
    for sentence in dict.fromkeys(doubt for seen in reviews for doubt in seen.measured.doubts):
        say(console, sentence)
    data = data_for(reviews, coach=faults)
    if golfer and not data.golfer.name:
        data = replace(data, golfer=replace(data.golfer, name=golfer))
    with Library(data_folder()) as library:
        return with_history(data, library), reviews
