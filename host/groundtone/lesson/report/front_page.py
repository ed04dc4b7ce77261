"""The three things the front says, in plain words: what we saw, what we changed, what to do."""

from __future__ import annotations

from groundtone.lesson.compare import Change
from groundtone.lesson.drills import Drill, words_of
from groundtone.lesson.report.choice import PageChoice
from groundtone.lesson.report.data import PageData
from groundtone.lesson.report.notation import Notation
from groundtone.review.swings import balls
from groundtone.swing.bands import default_bands


def said(
    data: PageData, choice: PageChoice, notation: Notation, drill: Drill | None, subject: str
) -> tuple[tuple[str, str], ...]:
    """Heading and text of each; the coach's own words where there are any.

    Parameters
    ----------
    data, choice, notation
    drill : Drill or None
    subject : str
        The finding that the lesson was about; empty where none stands out.
    """
    say = notation.words
    return (
        (say("page.saw"), choice.saw.strip() or saw(data, notation)),
        (say("page.changed"), choice.changed.strip() or changed(data, notation, subject)),
        (say("page.todo"), choice.todo.strip() or todo(notation, drill)),
    )


def saw(data: PageData, notation: Notation) -> str:
    """What stood out, and what it went with."""
    say = notation.words
    block = data.before or data.only or data.after
    of = len(balls(block.swings)) if block is not None else 0
    main = next((seen for seen in data.seen if seen.name == data.main), None)
    if main is None:
        parts = [say("saw.none", of=str(of))]
    else:
        parts = [say(f"finding.{main.name}.saw", n=str(main.n), of=str(main.of))]
    for answer in data.together:
        if answer.claimed:
            down = answer.effect.size < 0
            if answer.shift is None:
                parts.append(say("saw.link_heel" if down else "saw.link_toe"))
            else:
                parts.append(say("saw.link_less" if down else "saw.link_more"))
    return " ".join(parts)


def changed(data: PageData, notation: Notation, subject: str) -> str:
    """What was practised, and what became of the measure that it was about."""
    say, parts = notation.words, []
    if data.drill is not None:
        n = len(balls(data.drill.swings))
        swings = say("before_after.one_swing") if n == 1 else say("before_after.swings", n=str(n))
        parts.append(say("changed.practised" if data.drill.cues else "changed.practised_silent", swings=swings))
    if data.comparison is None:
        if data.drill is None and data.after is None:
            parts.append(say("changed.nothing"))
        else:
            parts.append(say("changed.no_before" if data.before is None else "changed.no_after"))
        return " ".join(parts)
    change = _change_of(data, subject)
    parts.append(_became(change, notation, subject) if change is not None else say("changed.nothing_stood_out"))
    _, low, high = data.comparison.inside
    if low > 0 or high < 0:
        before, after = data.comparison.strikes
        numbers = {
            "inside_before": str(before.inside), "placed_before": str(before.placed),
            "inside_after": str(after.inside), "placed_after": str(after.placed),
        }  # fmt: skip
        parts.append(say("changed.strikes_better" if low > 0 else "changed.strikes_worse", **numbers))
    return " ".join(parts)


def todo(notation: Notation, drill: Drill | None) -> str:
    """What to practise and how often."""
    say = notation.words
    if drill is None:
        return say("todo.none")
    first = say("todo.drill", drill=words_of(drill, say).title, dose=dose(drill, notation))
    return f"{first} {say('todo.silence' if drill.rule else 'todo.seen')}"


def dose(drill: Drill, notation: Notation) -> str:
    """How often, in words."""
    numbers = {"sets": str(drill.sets), "swings": str(drill.swings), "days": str(drill.days)}
    return notation.words("drill.dose_ball" if drill.ball else "drill.dose", **numbers)


def _change_of(data: PageData, subject: str) -> Change | None:
    if not subject or data.comparison is None:
        return None
    measure = default_bands().band(subject).measure
    return next((change for change in data.comparison.changes if change.looked.name == measure), None)


def _became(change: Change, notation: Notation, subject: str) -> str:
    keys = {"better": "better", "worse": "worse", "changed": "changed", "no clear change": "same"}
    key = keys.get(change.verdict)
    if key is None:
        return notation.words("changed.few")
    return notation.words(
        f"changed.{key}",
        measure=notation.words(f"finding.{subject}.measure"),
        before=notation.value(change.looked, change.before),
        after=notation.value(change.looked, change.after),
    )
