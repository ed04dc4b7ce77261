"""The commands `groundtone feel` and `groundtone plan`: options and printing only."""

from __future__ import annotations

import secrets
from dataclasses import replace

import click
from rich.console import Console
from rich.table import Table

from groundtone.app.console import say, turned
from groundtone.app.language import SPOKEN
from groundtone.errors import GroundtoneError
from groundtone.feel import plan as plans
from groundtone.feel.plan import LATER_DAYS, LEAST_BALLS, MOST_BALLS, Ball, Plan, next_of, read_plan, write_plan
from groundtone.files import data_folder


@click.command("feel")
@click.option("--golfer", required=True, help="Code name.")
@click.option("--set", "sets", is_flag=True, help="Set the bands to what their strikes propose; --undo puts them back.")
@click.option("--undo", is_flag=True, help="Put back what the last --set took the place of.")
def feel_command(golfer: str, sets: bool, undo: bool) -> None:
    """What a golfer commands on purpose, how well they feel it, and where their good strikes come from."""
    from groundtone.lesson.proposed import models, proposed, put_in_force, taken_back
    from groundtone.lesson.report.feel_lines import feel_lines, model_lines
    from groundtone.lesson.wording import words
    from groundtone.record.library import Library
    from groundtone.review.feel_log import feel_lessons, struck_balls

    if sets and undo:
        raise GroundtoneError("--set sets a band and --undo takes it back: give one of them")
    console = Console()
    with Library(data_folder()) as library:
        lessons = feel_lessons(library, golfer)
        balls = struck_balls(library, golfer)
    if undo:
        say(console, f"As before: {', '.join(taken_back(golfer))}.")
        return
    found = models(balls)
    if sets:
        for sentence in put_in_force(golfer, proposed(found))[1]:
            say(console, sentence)
        say(console, "'groundtone feel --undo' puts them back.")
        return
    for sentence in (*feel_lines(lessons, words(SPOKEN.code)), *model_lines(found, words(SPOKEN.code))):
        say(console, sentence)
    if proposed(found):
        say(console, "Nothing is set by that: 'groundtone feel --set' sets the band that is proposed.")


def plan_of(golfer: str) -> Plan:
    """The plan of a golfer whom the library knows.

    Raises
    ------
    GroundtoneError
        Nobody is named, the golfer is not known (any more), or there is no plan.
    """
    if not golfer:
        raise GroundtoneError("a plan is a golfer's: name them with --golfer")
    from groundtone.record.library import Library

    with Library(data_folder()) as library:
        library.golfer(golfer)
    plan = read_plan(golfer)
    if plan is None:
        raise GroundtoneError(f"there is no plan for {golfer!r} yet: 'groundtone plan --new --golfer' makes one")
    return plan


@click.command("plan")
@click.option("--golfer", required=True, help="Code name.")
@click.option("--new", is_flag=True, help="Make a plan in place of the one there is.")
@click.option("--clubs", default="7 iron", show_default=True, help="One to five, commas between: '7 iron,driver'.")
@click.option("--drill", default="", help="Whose tone tells (docs/page.md); without it the golfer's own bands.")
@click.option("--balls", type=click.IntRange(LEAST_BALLS, MOST_BALLS), default=40, show_default=True)
@click.option("--days", type=click.IntRange(1, 60), default=LATER_DAYS, show_default=True, help="Until the later test.")
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), help="Draws the order; else by chance.")
def plan_command(golfer: str, new: bool, clubs: str, drill: str, balls: int, days: int, seed: int | None) -> None:
    """What to hit next: clubs from blocked to mixed, a tone that fades, a silent test, and another on a later day.

    'groundtone practise --plan --golfer NAME' follows it by sound alone.
    """
    console = Console()
    day = plans.today()
    if new:
        if drill:
            from groundtone.lesson.drills import drill_of

            drill_of(drill)
        from groundtone.record.library import Library

        with Library(data_folder()) as library:
            library.golfer(golfer)
        names = tuple(club.strip() for club in clubs.split(",") if club.strip())
        drawn = secrets.randbelow(2**31) if seed is None else seed
        write_plan(Plan(golfer, names, drill, balls, drawn, made=day, seen=day, days=days))
    plan = plan_of(golfer)
    now = next_of(plan, day)
    if plan.seen < day:
        write_plan(replace(plan, seen=day))
    say(console, now.sentence)
    if now.balls:
        console.print(turned(_table(plan, now.balls)))
    if not plan.practised:
        say(console, f"The retention test comes {plan.days} days after the last of them.")


def _table(plan: Plan, balls: tuple[Ball, ...]) -> Table:
    from groundtone.lesson.report.feel_lines import ball_rows

    table = Table(box=None)
    for column in ("balls", "club", "what", "tone"):
        table.add_column(column)
    for row in ball_rows(plan, balls):
        table.add_row(*row)
    return table
