"""The page as words: every sentence, row and figure in the reader's language, before any of it is laid out."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from groundtone.lesson.compare import BETTER, CHANGED, DIFFER, SAME, UNKNOWN, WORSE, Change
from groundtone.lesson.drills import Drill, drill_of, drills_for, words_of
from groundtone.lesson.lesson_measures import unit_of
from groundtone.lesson.outside import could_be, outside
from groundtone.lesson.report.choice import PageChoice
from groundtone.lesson.report.data import PageData
from groundtone.lesson.report.feel_lines import feel_lines, kept_lines, plan_lines
from groundtone.lesson.report.figures import Figure, sides_of, strike_lines, table
from groundtone.lesson.report.notation import Notation
from groundtone.lesson.wording import Words, words
from groundtone.review.swings import balls
from groundtone.swing.bands import default_bands

FEW = 4
"""With fewer swings at a ball a page says so, and neither that something stands out nor that nothing does."""


@dataclass(frozen=True)
class DrillText:
    """The drill: what stands on the front, then what stands on the back."""

    title: str
    aim: str
    often: str
    feel: str
    steps: tuple[str, ...]
    band: tuple[str, ...]
    stop: str
    care: str
    source: str


@dataclass(frozen=True)
class Content:
    """All words of a page.

    Attributes
    ----------
    golfer, sub, banner : str
        Who, when and with whom; what must be known first (empty: nothing).
    said : tuple of (str, str)
        Heading and text of what we saw, what we changed, what to do.
    picture : str
        Its title; empty where there is none.
    sides : tuple of (str, str)
        For the strike map: "before", "after" and their counts; empty where it is left out.
    header, rows : tuples
        The table of measures; no rows where it is left out.
    strong : tuple of bool
        Rows in which something clearly changed.
    feel_lines : tuple of str
        Range on purpose, error of feel, what was kept, the plan; empty without any.
    figures : tuple of Figure
        Every number on the page, with its text.
    """

    language: str
    golfer: str
    sub: str
    banner: str
    said: tuple[tuple[str, str], ...]
    picture: str
    drill: DrillText | None
    sides: tuple[tuple[str, str], ...]
    strike_lines: tuple[str, ...]
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    strong: tuple[bool, ...]
    condition_lines: tuple[str, ...]
    limit_lines: tuple[str, ...]
    feel_lines: tuple[str, ...] = ()
    figures: tuple[Figure, ...] = field(default=(), repr=False)


def content_of(data: PageData, choice: PageChoice) -> Content:
    """A page's words.

    Raises
    ------
    GroundtoneError
        A language or a drill is not there.
    """
    notation = Notation(words(choice.language), choice.units)
    say = notation.words
    drill = _drill(data, choice)
    subject = drill.findings[0] if drill is not None and data.main not in drill.findings else data.main
    told = said(data, choice, notation, drill, subject)
    header, rows, strong, figures = table(data, notation)
    lines, strike_figures = strike_lines(data, notation)
    sides = tuple((name, text) for name, text, _ in sides_of(data, notation))
    picture = choice.picture and (data.before_path is not None or data.after_path is not None)
    both = data.before_path is not None and data.after_path is not None
    sub = [say("page.sub", date=notation.date(data.date))]
    sub += [say("page.with_coach", coach=choice.coach)] if choice.coach.strip() else []
    sub += [say("page.next", date=choice.next_date)] if choice.next_date.strip() else []
    conditions, condition_figures = _conditions(data, choice, notation)
    return Content(
        language=choice.language,
        golfer=shown_name(data.golfer.name) or say("page.nobody"),
        sub=" · ".join(sub),
        banner=say("page.invented") if data.invented else say("page.simulated") if data.simulated else "",
        said=told,
        picture=say("picture.title_two" if both else "picture.title_one") if picture else "",
        drill=_drill_text(drill, notation) if drill is not None and choice.drill else None,
        sides=sides if choice.strikes else (),
        strike_lines=lines if choice.strikes else (),
        header=header if choice.measures else (),
        rows=rows if choice.measures else (),
        strong=strong if choice.measures else (),
        condition_lines=conditions,
        limit_lines=_limits(data, choice, notation),
        feel_lines=_feel(data, drill, say),
        figures=(
            *(figures if choice.measures else ()),
            *(strike_figures if choice.strikes else ()),
            *condition_figures,
        ),
    )


def _feel(data: PageData, drill: Drill | None, say: Words) -> tuple[str, ...]:
    """Range, error of feel, what was kept and the plan, as far as there are such."""
    lines = feel_lines(data.feel, say) if data.feel else []
    measure = drill_of(data.plan.drill).measure if data.plan is not None and data.plan.drill else ""
    measure = measure or (drill.measure if drill is not None else "")
    lines += kept_lines(data.lessons, measure, say) if measure else []
    lines += plan_lines(data.plan, say) if data.plan is not None else []
    return tuple(lines)


def columns_of(content: Content) -> tuple[float, ...]:
    """Widths of the table's columns, per cent."""
    return (31, 8, 8.5, 20, 14, 18.5) if len(content.header) == 6 else (42, 18, 20, 20)


def shown_name(name: str) -> str:
    """A name without what has no shape: line breaks and control characters become blanks."""
    return " ".join("".join(c if c.isprintable() else " " for c in name).split())


def _drill(data: PageData, choice: PageChoice) -> Drill | None:
    if choice.drill_name:
        return drill_of(choice.drill_name)
    return drills_for(data.main)[0] if data.main else None


def _drill_text(drill: Drill, notation: Notation) -> DrillText:
    say, text = notation.words, words_of(drill, notation.words)
    told_by = "both" if drill.other else drill.rule or "none"
    return DrillText(
        title=text.title,
        aim=text.aim,
        often=f"{_capital(dose(drill, notation))}, {say(f'drill.pace.{drill.pace}')}.",
        feel=text.feel,
        steps=text.steps,
        band=(_capital(_band(drill, notation)) + ".", say(f"drill.rule.{told_by}")),
        stop=text.stop,
        care=text.care,
        source=say("drill.source_invented" if drill.source == "invented" else "drill.source_common"),
    )


def _band(drill: Drill, notation: Notation) -> str:
    name = notation.measure(drill.measure)

    def told(value: float) -> str:
        return notation.in_unit(unit_of(drill.measure), value)

    if math.isinf(drill.low):
        return notation.words("drill.below", measure=name, limit=told(drill.high))
    if math.isinf(drill.high):
        return notation.words("drill.above", measure=name, limit=told(drill.low))
    return notation.words("drill.between", measure=name, low=told(drill.low), high=told(drill.high))


def _conditions(data: PageData, choice: PageChoice, notation: Notation) -> tuple[tuple[str, ...], tuple[Figure, ...]]:
    say, blocks = notation.words, data.shown
    first = blocks[0] if blocks else data.drill
    figures: list[Figure] = []
    lines = [say(f"conditions.hand_{data.golfer.hand}")]
    if first is not None:
        club = shown_name(first.club)
        lines.append(say("conditions.club", club=club) if club else say("conditions.club_unsaid"))
        if first.usual_m:
            text = notation.distance(first.usual_m)
            lines.append(say("conditions.usual", distance=text))
            figures.append(Figure("usual_m", float(first.usual_m), text))
        lines.append(say(f"conditions.lie_{first.lie}"))
    if choice.weight and data.golfer.mass_kg is not None:
        text = notation.mass(data.golfer.mass_kg)
        lines.append(say("conditions.weight", mass=text))
        figures.append(Figure("mass_kg", float(data.golfer.mass_kg), text))
    if data.before is not None and data.after is not None:
        a, b = data.before, data.after
        if a.club != b.club:
            clubs = (shown_name(side.club) or say("conditions.unsaid") for side in (a, b))
            lines.append(say("conditions.clubs_differ", **dict(zip(("before", "after"), clubs, strict=True))))
        lines += [say("conditions.lies_differ")] if a.lie != b.lie else []
        if data.in_turn:
            lines.append(say("conditions.in_turn"))
        elif a.cues != b.cues:
            lines.append(say("conditions.cues_after" if b.cues else "conditions.cues_before"))
    return tuple(lines), tuple(figures)


def _limits(data: PageData, choice: PageChoice, notation: Notation) -> tuple[str, ...]:
    names = ["guessed"] if data.guessed and not data.invented else []
    names += ["damaged"] if data.damaged else []
    names += ["one_block"] if data.comparison is not None and not data.comparison.in_turn else []
    main = next((seen for seen in data.seen if seen.name == data.main), None)
    shown = data.shown[0] if data.shown else None
    common = []
    if main is not None and shown is not None:
        low, high = could_be(shown.swings, main, shown.club)
        numbers = {"n": str(main.n), "of": str(main.of), "low": str(low), "high": str(high)}
        common = [notation.words("limits.common", **numbers)] if low < high else []
    names += ["vertical", "bands"]
    names += ["typical"] if choice.picture and (data.before_path or data.after_path) else []
    names += ["link"] if any(each.claimed for each in data.together) else []
    return (*(notation.words(f"limits.{name}") for name in names), *common)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def said(
    data: PageData, choice: PageChoice, notation: Notation, drill: Drill | None, subject: str
) -> tuple[tuple[str, str], ...]:
    """Heading and text of each; the coach's own words where there are any.

    Parameters
    ----------
    data, choice, notation
    subject : str
        The finding that the lesson was about; empty where none stands out.
    """
    say = notation.words
    return (
        (say("page.saw"), choice.saw.strip() or saw(data, notation)),
        (say("page.changed"), choice.changed.strip() or changed(data, notation, subject)),
        (say("page.todo"), choice.todo.strip() or todo(data, notation, drill)),
    )


def saw(data: PageData, notation: Notation) -> str:
    """What stood out, and what it went with."""
    say = notation.words
    block = data.before or data.only or data.after
    of = len(balls(block.swings)) if block is not None else 0
    main = next((seen for seen in data.seen if seen.name == data.main), None)
    if main is None:
        parts = [say("saw.none" if of >= FEW else "saw.few_one" if of == 1 else "saw.few", of=str(of))]
    else:
        parts = [say(f"finding.{main.name}.saw", n=str(main.n), of=str(main.of))]
    for answer in data.together:
        if answer.claimed:
            down = answer.size < 0
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
    parts.append(_became(change, notation, subject, data) if change is not None else say("changed.nothing_stood_out"))
    if change is not None:
        parts += _counted(data, notation, subject, change)
    words = {BETTER: "changed.strikes_better", WORSE: "changed.strikes_worse"}
    if data.comparison.inside_verdict in words:
        before, after = data.comparison.strikes
        numbers = {
            "inside_before": str(before.inside), "placed_before": str(before.placed),
            "inside_after": str(after.inside), "placed_after": str(after.placed),
        }  # fmt: skip
        parts.append(say(words[data.comparison.inside_verdict], **numbers))
    return " ".join(parts)


def _counted(data: PageData, notation: Notation, subject: str, change: Change) -> list[str]:
    """The counts beside the measure, why a change is not clear yet, and what a per cent is of."""
    say, out = notation.words, []
    assert data.before is not None
    assert data.after is not None
    before, after = (outside(side.swings, subject) for side in (data.before, data.after))
    if before.n or after.n:
        numbers = {"n": str(before.n), "of": str(before.of), "m": str(after.n), "after": str(after.of)}
        out.append(say("changed.counts_in_turn" if data.in_turn else "changed.counts", **numbers))
    if change.verdict == UNKNOWN:
        blocks, each = change.need
        many = {"blocks": str(blocks), "each": str(each)}
        out.append(say("changed.need", **many) if blocks else say("changed.need_more"))
    elif data.seen and change.verdict != SAME:
        out.append(say("changed.way_back"))
    measure = default_bands().band(subject).measure
    if measure.startswith(("overall", "share")):
        out.append(say("changed.of_foot" if measure.startswith("overall") else "changed.of_weight"))
    return out


def todo(data: PageData, notation: Notation, drill: Drill | None) -> str:
    """What to practise and how often."""
    say = notation.words
    if drill is None:
        block = data.before or data.only or data.after
        few = block is None or len(balls(block.swings)) < FEW
        return say("todo.few" if few else "todo.none")
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


def _became(change: Change, notation: Notation, subject: str, data: PageData) -> str:
    keys = {
        BETTER: "better", WORSE: "worse", CHANGED: "changed", DIFFER: "differ", SAME: "same", UNKNOWN: "unknown",
    }  # fmt: skip
    key = keys.get(change.verdict)
    if key is None:
        return notation.words("changed.few")
    return notation.words(
        f"changed.{key}",
        measure=notation.words(f"finding.{subject}.measure"),
        **{side: f"{notation.value(change.looked, value)} {notation.words(f'before_after.{data.word(side)}')}"
           for side, value in (("before", change.before), ("after", change.after))},
    )  # fmt: skip
