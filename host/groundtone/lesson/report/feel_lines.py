"""Feel in words: the range on purpose, the error of feel, what was kept, the plan, and where good strikes come from."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from groundtone.feel.agreement import FEWEST_KEPT, Kept, Sure, kept
from groundtone.feel.guess import Feel, feel
from groundtone.feel.lines import FEWEST, LINES, MOMENTS, Line
from groundtone.feel.plan import Ball, Plan, steps
from groundtone.feel.purpose import Command, Height, command, growth, height
from groundtone.feel.strike_model import BANDS, USUAL, StrikeModel
from groundtone.feel.strike_model import FEWEST as FEWEST_BALLS
from groundtone.lesson.drills import drill_of, words_of
from groundtone.lesson.report.choice import Units
from groundtone.lesson.report.notation import Notation
from groundtone.lesson.wording import Words, words
from groundtone.review.swings import Lesson, balls, column

if TYPE_CHECKING:
    # A quarter of a second to be loaded.
    from groundtone.review.feel_log import FeelLesson

# So many steps of a plan fit on a page; 'groundtone plan' shows all.
_SHOWN = 24


def feel_lines(lessons: Sequence[FeelLesson], say: Words) -> list[str]:
    """Range and error of feel of the last lesson that tells enough, and what became of them over lessons."""
    notation = Notation(say, Units())
    out = []
    for line in LINES.values():
        for moment in MOMENTS:
            out += _range(line, moment, [command(each.tries, line, moment) for each in lessons], notation)
    out += _height([height(each.tries) for each in lessons], notation)
    for line in LINES.values():
        out += _error(line, [feel(each.guesses, line) for each in lessons], notation)
    return out or [say("feel.nothing")]


def kept_lines(lessons: Sequence[Lesson], measure: str, say: Words) -> list[str]:
    """What was kept of a measure between the last lesson with a test and the retention test after it; often nothing."""
    found = kept_between(lessons, measure)
    if found is None:
        return []
    notation = Notation(say, Units())
    name = notation.measure(measure)
    if not found.told:
        return [say("feel.kept_few", measure=name, least=str(FEWEST_KEPT))]
    text = say(
        "feel.kept",
        measure=name,
        **_points("learnt", found.learnt, notation),
        **_points("stayed", found.stayed, notation),
    )
    if not math.isnan(found.part.value):
        part = {key: notation.percent(value) for key, value in
                (("part", found.part.value), ("low", found.part.low), ("high", found.part.high))}  # fmt: skip
        text += " " + say("feel.kept_part", **part)
    return [text]


def kept_between(lessons: Sequence[Lesson], measure: str) -> Kept | None:
    """What was kept; None without a retention test, or without a test before it.

    Parameters
    ----------
    lessons : sequence of Lesson
        Oldest first.
    measure : str
        Its name.
    """

    def of(lesson: Lesson, role: str) -> list[float]:
        return [v for b in lesson.blocks if b.role == role for v in column(balls(b.swings), measure).tolist()]

    later = next((i for i in range(len(lessons) - 1, -1, -1) if of(lessons[i], "retention")), None)
    if later is None:
        return None
    tested = next((i for i in range(later - 1, -1, -1) if of(lessons[i], "test")), None)
    if tested is None:
        return None
    begun = next((each for each in reversed(lessons[: tested + 1]) if of(each, "baseline")), lessons[tested])
    sides = (of(begun, "baseline"), of(lessons[tested], "test"), of(lessons[later], "retention"))
    return kept(*(np.array(side) for side in sides))


def ball_rows(plan: Plan, balls: Sequence[Ball]) -> list[tuple[str, str, str, str]]:
    """Balls of a plan in rows: how many, club, what, and the tone."""
    kinds = {"drill": words_of(drill_of(plan.drill), words("en")).title if plan.drill else "free"}
    return [
        (str(n), ball.club, f"on purpose: {ball.asked}" if ball.asked else kinds.get(ball.kind, "test"),
         "on" if ball.tone else "off")
        for ball, n in steps(balls)
    ]  # fmt: skip


def plan_lines(plan: Plan, say: Words) -> list[str]:
    """A plan as the page prints it."""
    notation = Notation(say, Units())
    if plan.kept:
        return []
    out = []
    if not plan.practised:
        told = []
        for ball, n in steps(plan.all_balls()[plan.done :]):
            tone = say("feel.plan_tone") if ball.tone else say("feel.plan_silent")
            what = say(f"feel.asked_{ball.asked}") if ball.asked else tone
            told.append(f"{n} × {ball.club} ({what})" if ball.club else f"{n} ({what})")
        more = ["…"] if len(told) > _SHOWN else []
        out.append(say("feel.plan", balls=", ".join(told[:_SHOWN] + more)))
        out.append(say("feel.plan_later", days=str(plan.days)))
    else:
        out.append(say("feel.plan_due", date=notation.date(plan.due)))
    return out


def model_lines(models: Mapping[str, StrikeModel], say: Words) -> list[str]:
    """Where a golfer's good strikes come from, by the club's class."""
    notation = Notation(say, Units())
    out = []
    for club, model in models.items():
        name = club or say("feel.no_class")
        if not model.enough:
            out.append(say("feel.model_few", club=name, n=str(model.n), good=str(model.good), least=str(FEWEST_BALLS)))
            continue
        chance = model.of_ten(float(USUAL[0]), float(USUAL[1]))
        out.append(say("feel.model", club=name, n=str(model.n), low=str(chance.low), high=str(chance.high)))
        for axis in BANDS:
            proposal = model.propose(axis)
            line = next(each for each in LINES.values() if each.value == axis)
            if proposal.moved:
                numbers = {
                    "usual": notation.percent(proposal.usual), "proposed": notation.percent(proposal.proposed),
                    "least": notation.number(proposal.least, 1), "gain": notation.number(proposal.gain),
                }  # fmt: skip
                out.append(_capital(say("feel.proposed", line=_line(line, say), **numbers)))
            else:
                out.append(_capital(say("feel.usual", line=_line(line, say))))
    return out


def _range(line: Line, moment: str, lessons: Sequence[Command], notation: Notation) -> list[str]:
    say, asked = notation.words, [each for each in lessons if each.n]
    if not asked:
        return []
    last, where = (
        next((each for each in reversed(asked) if each.told), asked[-1]),
        {"line": _line(line, notation.words), "moment": say(f"feel.{moment}")},
    )
    if last.fit is None:
        return [say("feel.range_few", n=str(last.n), least=str(FEWEST), **where)]
    numbers = {**_parts("low", last.low, notation), **_parts("high", last.high, notation)}
    numbers |= {key: notation.number(10 * value, 1) for key, value in _named("slope", last.fit.slope).items()}
    numbers |= {**_points("offset", last.fit.offset, notation), **_points("spread", last.fit.spread, notation)}
    out = say("feel.range", n=str(last.n), **where, **numbers)
    grown = growth(lessons)
    return [f"{out} {say('feel.grown', **_points('grown', grown, notation))}" if grown is not None else out]


def _height(lessons: Sequence[Height], notation: Notation) -> list[str]:
    say, asked = notation.words, [each for each in lessons if each.n]
    if not asked:
        return []
    last = next((each for each in reversed(asked) if each.told), asked[-1])
    if not last.told:
        return [say("feel.height_few", n=str(last.n), least=str(FEWEST))]
    counts = {"low": last.low[0], "low_of": last.low[1], "high": last.high[0], "high_of": last.high[1]}
    numbers = {**{key: str(n) for key, n in counts.items()}, **_parts("part", last.part, notation)}
    return [say("feel.height", chance=notation.number(last.by_chance, 1), **numbers)]


def _error(line: Line, lessons: Sequence[Feel], notation: Notation) -> list[str]:
    say, guessed = notation.words, [each for each in lessons if each.n]
    if not guessed:
        return []
    last = next((each for each in reversed(guessed) if each.known), guessed[-1])
    counts = {
        "line": _line(line, say), "right": str(last.right), "n": str(last.n),
        "chance": notation.number(last.by_chance, 1),
    }  # fmt: skip
    if not last.known:
        return [say("feel.error_few", least=str(FEWEST), **counts)]
    numbers = {**_points("bias", last.bias, notation), **_points("spread", last.spread, notation)}
    out = say("feel.error", plus=say(f"feel.plus_{line.value}"), **counts, **numbers)
    first = next((each for each in guessed if each.known and each is not last), None)
    return [f"{out} {say('feel.error_first', **_points('bias', first.bias, notation))}" if first is not None else out]


def _line(line: Line, say: Words) -> str:
    return say(f"feel.line_{line.value}")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _named(name: str, sure: Sure) -> dict[str, float]:
    return {name: sure.value, f"{name}_low": sure.low, f"{name}_high": sure.high}


def _parts(name: str, sure: Sure, notation: Notation) -> dict[str, str]:
    return {key: notation.percent(value) for key, value in _named(name, sure).items()}


def _points(name: str, sure: Sure, notation: Notation) -> dict[str, str]:
    """Differences, in points of per cent with a sign where they have one."""
    return {
        key: notation.of("points", notation.number(100 * value, 1, sign=name != "spread"))
        for key, value in _named(name, sure).items()
    }
