"""What the desk does for feel: what is felt and done on purpose, where good strikes come from, the plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from groundtone.errors import GroundtoneError, sentence_of
from groundtone.feel import plan as plans
from groundtone.feel.plan import Plan
from groundtone.files import data_folder

if TYPE_CHECKING:
    from groundtone.cue.personal import Limits


@dataclass(frozen=True)
class FeelSeen:
    """What is known of a pupil's feel.

    Attributes
    ----------
    lines, model : tuple of str
        Range and error of feel; where good strikes come from, with what is proposed.
    proposed : bool
        A band is proposed that can be set.
    plan : str
        What the plan says for today; that there is none.
    balls : tuple of (str, str, str, str)
        The next ones: how many, club, what, tone.
    """

    lines: tuple[str, ...]
    model: tuple[str, ...]
    proposed: bool
    plan: str
    balls: tuple[tuple[str, str, str, str], ...]


def feel_of(golfer: str, day: str) -> FeelSeen:
    """What is known of a pupil's feel, and what the plan says for a day.

    Raises
    ------
    GroundtoneError
        There is no such pupil.
    """
    from groundtone.lesson.report.feel_lines import ball_rows, feel_lines, model_lines
    from groundtone.lesson.wording import words
    from groundtone.record.library import Library
    from groundtone.review.feel_log import feel_lessons, struck_balls

    with Library(data_folder()) as library:
        lessons, balls = feel_lessons(library, golfer), struck_balls(library, golfer)
    say = words("en")
    try:
        from groundtone.lesson.proposed import models, proposed

        found = models(balls)
        model, moved = tuple(model_lines(found, say)), bool(proposed(found))
    except GroundtoneError as error:
        model, moved = (sentence_of(error),), False
    plan = plans.read_plan(golfer)
    if plan is None:
        return FeelSeen(tuple(feel_lines(lessons, say)), model, moved, "There is no plan yet.", ())
    now = plans.next_of(plan, day)
    return FeelSeen(tuple(feel_lines(lessons, say)), model, moved, now.sentence, tuple(ball_rows(plan, now.balls)))


def proposed_set(golfer: str) -> tuple[Limits, list[str]]:
    """Sets a pupil's bands to what their strikes propose; what puts it back, and what was changed."""
    from groundtone.lesson.proposed import models, proposed, put_in_force
    from groundtone.record.library import Library
    from groundtone.review.feel_log import struck_balls

    with Library(data_folder()) as library:
        balls = struck_balls(library, golfer)
    return put_in_force(golfer, proposed(models(balls)))


def exchanged(golfer: str, limits: Limits) -> Limits:
    """Puts limits of a pupil's own back; see `groundtone.cue.personal.exchange`."""
    from groundtone.cue.personal import exchange

    return exchange(golfer, limits)


def planned(golfer: str, plan: Plan | None) -> Plan | None:
    """Keeps a plan in place of the one there is, or takes it away; the one there was."""
    before = plans.read_plan(golfer)
    if plan is None:
        plans.forget_plan(golfer)
    else:
        plans.write_plan(plan)
    return before
