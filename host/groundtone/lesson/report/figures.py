"""The figures of the page: rows of the table and what was told of the strikes, each number with its text."""

from __future__ import annotations

import math
from dataclasses import dataclass

from groundtone.feel.in_blocks import level
from groundtone.lesson.compare import BETTER, CLAIMS, DIFFER, SAME, UNKNOWN, WORSE, Change, swings_of
from groundtone.lesson.report.data import PageData
from groundtone.lesson.report.notation import Notation
from groundtone.lesson.strike_counts import StrikeCounts, count, kept_word
from groundtone.review.strikes import CENTRE_CIRCLE_MM
from groundtone.review.swings import BlockRows


@dataclass(frozen=True)
class Figure:
    """A number of the page.

    Attributes
    ----------
    name : str
        Which one, as in "share_impact.before".
    value : float
        As measured, in the unit of its name (a part of one where it is told in per cent).
    text : str
        As it stands on the page.
    """

    name: str
    value: float
    text: str


Table = tuple[tuple[str, ...], tuple[tuple[str, ...], ...], tuple[bool, ...], tuple[Figure, ...]]


def table(data: PageData, notation: Notation) -> Table:
    """Header and rows of the measures, which rows changed, and the numbers in them.

    Before and after with the change, the interval that decides and a verdict; or, where there is only one side, the
    golfer's level with its 95 % interval.
    """
    say = notation.words
    if data.comparison is not None:
        sides = (say(f"before_after.{data.word(side)}") for side in ("before", "after"))
        header = (say("measures.measure"), *sides, say("measures.change"), say("measures.usual"),
                  say("measures.verdict"))  # fmt: skip
        told = [_change(change, notation) for change in data.comparison.changes]
        strong = tuple(change.verdict in CLAIMS for change in data.comparison.changes)
        return header, tuple(row for row, _ in told), strong, tuple(f for _, figures in told for f in figures)
    if not data.shown:
        return (), (), (), ()
    block, rows, figures = data.shown[0], [], []
    word = say("before_after.before" if data.before else "before_after.after" if data.after else "measures.level")
    levels = level(swings_of(block.swings, (), [looked.name for looked in data.looked]))
    for looked, found in zip(data.looked, levels, strict=True):
        if math.isnan(found.value):
            continue
        text = notation.value(looked, found.value)
        range_ = notation.interval(notation.value(looked, found.low), notation.value(looked, found.high))
        rows.append((notation.measure(looked.name), text, range_, notation.band(looked)))
        figures.append(Figure(f"{looked.name}.level", found.value, text))
    short = (say("measures.measure"), word, say("measures.interval"), say("measures.usual"))
    return short, tuple(rows), (False,) * len(rows), tuple(figures)


def _change(change: Change, notation: Notation) -> tuple[tuple[str, ...], list[Figure]]:
    looked, effect = change.looked, change.effect
    before, after = notation.value(looked, change.before), notation.value(looked, change.after)
    name = looked.name
    figures = [Figure(f"{name}.before", change.before, before), Figure(f"{name}.after", change.after, after)]
    range_ = "-"
    if not math.isnan(effect.size):
        size, low, high = (notation.change(looked, v, bare=True) for v in (effect.size, effect.low, effect.high))
        range_ = f"{size} ({notation.interval(low, high)})"
        figures += [Figure(f"{name}.{part}", value, text) for part, value, text in
                    (("change", effect.size, size), ("low", effect.low, low), ("high", effect.high, high))]  # fmt: skip
    row = (
        notation.measure(name),
        before,
        after,
        range_,
        notation.band(looked),
        notation.words(f"verdict.{change.verdict}"),
    )
    return row, [figure for figure in figures if not math.isnan(figure.value)]


def sides_of(data: PageData, notation: Notation) -> list[tuple[str, str, BlockRows]]:
    """Blocks of which places on the face were told: a word for each, the count inside the circle, and the block."""
    out = []
    for block in data.shown:
        counts = count([row.strike for row in block.swings])
        if counts.placed:
            word = data.word("after" if block is data.after else "before")
            text = notation.words("strikes.inside", inside=str(counts.inside), placed=str(counts.placed))
            label = notation.words(f"before_after.{word}") if data.only is None else ""
            out.append((label, text, block))
    return out


def strike_lines(data: PageData, notation: Notation) -> tuple[tuple[str, ...], tuple[Figure, ...]]:
    """What is said of the strikes, and the numbers in it."""
    say, lines, figures = notation.words, [], []
    for block in data.shown:
        word = data.word("after" if block is data.after else "before")
        when = say(f"before_after.{word}") if data.only is None else ""
        key = "after" if block is data.after else "before" if data.only is None else "only"
        counts = count([row.strike for row in block.swings], usual_m=block.usual_m)
        if counts.placed:
            text = str(counts.inside)
            figures += [Figure(f"inside.{key}", counts.inside, text),
                        Figure(f"placed.{key}", counts.placed, str(counts.placed))]  # fmt: skip
        lines += _contact_lines(counts, when, key, notation, figures)
        if not math.isnan(counts.kept) and block.usual_m:
            share = notation.percent(counts.kept)
            word, usual = say(f"strikes.kept_{kept_word(counts.kept)}"), notation.distance(block.usual_m)
            line = say("strikes.kept", when=when, share=share, usual=usual, word=word)
            lines.append(_tidy(line))
            figures.append(Figure(f"kept.{key}", counts.kept, share))
    if data.comparison is not None and any(counts.placed for counts in data.comparison.strikes):
        lines.insert(0, _inside_line(data, notation, figures))
    if any(count([row.strike for row in block.swings]).placed for block in data.shown):
        radius = notation.of("mm", notation.number(CENTRE_CIRCLE_MM))
        lines.append(say("strikes.circle", radius=radius))
        figures.append(Figure("circle_mm", CENTRE_CIRCLE_MM, radius))
    else:
        lines.insert(0, say("strikes.none"))
    return tuple(lines), tuple(figures)


def _contact_lines(counts: StrikeCounts, when: str, key: str, notation: Notation, figures: list[Figure]) -> list[str]:
    if not counts.contacts:
        return []
    ordered = sorted(counts.contacts.items(), key=lambda item: (item[0] != "clean", -item[1], item[0]))
    listed = ", ".join(f"{n} {notation.words(f'contact.{name}')}" for name, n in ordered)
    figures += [Figure(f"contact.{name}.{key}", n, str(n)) for name, n in ordered]
    return [_tidy(notation.words("strikes.contacts", when=when, list=listed))]


def _inside_line(data: PageData, notation: Notation, figures: list[Figure]) -> str:
    assert data.comparison is not None
    _, low, high = data.comparison.inside
    say = notation.words
    kinds = {BETTER: "better", WORSE: "worse", DIFFER: "differ", SAME: "same", UNKNOWN: "unknown"}
    kind = kinds.get(data.comparison.inside_verdict, "few")
    if kind == "few":
        return say("strikes.change_few")
    texts = [notation.number(100 * value, sign=True) for value in (low, high)]
    figures += [Figure(f"inside.{part}", value, text) for part, value, text in
                zip(("low", "high"), (low, high), texts, strict=True)]  # fmt: skip
    return say(f"strikes.change_{kind}", interval=notation.of("points", notation.interval(*texts)))


def _tidy(text: str) -> str:
    """A line whose "before" or "after" is empty, without the blank it leaves."""
    return text.replace(" :", ":").replace("  ", " ")
