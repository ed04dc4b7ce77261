"""Progress as one picture: a small field for each measure, in one hue, days to scale, the band as a pale corridor."""

from __future__ import annotations

import io
import math
import textwrap
import warnings
from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from groundtone.feel.in_blocks import Level
from groundtone.lesson.lesson_measures import LessonMeasure
from groundtone.lesson.progress import Progress, days_between
from groundtone.lesson.report.choice import Units
from groundtone.lesson.report.content import shown_name
from groundtone.lesson.report.notation import Notation
from groundtone.lesson.report.paper import CORRIDOR, EDGE, FAINT, INK, INSIDE, LINE, PAPER, font_with, missing
from groundtone.lesson.report.pictures import drawing, sheet
from groundtone.lesson.strike_counts import StrikeCounts
from groundtone.lesson.wording import words

_SIZE_MM, _DPI, _ACROSS, _DOWN = (297.0, 210.0), 130, 4, 3
_LETTERS = 34  # in a line over a field


def draw_progress(found: Progress, golfer: str, *, language: str = "en", invented: bool = False) -> bytes:
    """The picture as PNG.

    Parameters
    ----------
    invented : bool
        An example: said in the picture.
    """
    notation = Notation(words(language), Units())
    with drawing():
        figure = sheet(_SIZE_MM)
        figure.set_facecolor(PAPER)
        _head(figure, found, shown_name(golfer), notation, invented)
        days = [days_between(found.lessons[0].started, lesson.started) for lesson in found.lessons]
        for place in range(min(len(found.looked) + 1, _ACROSS * _DOWN)):
            row, column = divmod(place, _ACROSS)
            axes = figure.add_axes((0.055 + column * 0.238, 0.655 - row * 0.262, 0.185, 0.155))
            if place == 0:
                _strikes(axes, found.strikes, days, notation)
            else:
                _measure(axes, found, found.looked[place - 1], days, notation)
        figure.text(0.05, 0.028, notation.words("progress.whiskers"), fontsize=8.5, color=FAINT, va="center")
        out = io.BytesIO()
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", message="Glyph .* missing from font")
            figure.savefig(out, format="png", dpi=_DPI, metadata={"Software": None})
    return out.getvalue()


def _head(figure: Figure, found: Progress, golfer: str, notation: Notation, invented: bool) -> None:
    say = notation.words
    title = say("progress.title", golfer=golfer or say("page.nobody"))
    fonts = ["DejaVu Sans"]
    lost = missing([title])
    if lost and (other := font_with(lost)) is not None:
        fonts.append(other[0])
    title = textwrap.shorten(title, 70, placeholder=" …")
    figure.text(0.05, 0.945, title, fontsize=20, fontweight="bold", color=INK, family=fonts, parse_math=False)
    lines = [lessons_line(found, notation), club_line(found, notation)]
    lines = [say("progress.invented"), *lines] if invented else lines
    text = textwrap.fill(" ".join(filter(None, lines)), 150, max_lines=2, placeholder=" …")
    figure.text(0.05, 0.928, text, fontsize=9, color=FAINT, va="top", linespacing=1.4, parse_math=False)


def lessons_line(found: Progress, notation: Notation) -> str:
    """When the lessons were: the first's date, then the days between."""
    say, n = notation.words, len(found.lessons)
    count = say("progress.one_lesson") if n == 1 else say("progress.lessons", n=str(n))
    later = [say("progress.one_day") if days == 1 else say("progress.days", n=str(days)) for days in found.days]
    return f"{count}: {', '.join([notation.date(found.lessons[0].started), *later])}."


def club_line(found: Progress, notation: Notation) -> str:
    """Which swings are counted."""
    if found.few:
        return notation.words("progress.club_few", club=notation.words(f"club_class.{found.few}"))
    if found.club is None:
        return notation.words("progress.club_all")
    if not found.club:
        return notation.words("progress.club_unsaid")
    return notation.words("progress.club", club=shown_name(found.club))


def _measure(axes: Axes, found: Progress, looked: LessonMeasure, days: Sequence[int], notation: Notation) -> None:
    points, scale = found.points[looked.name], 100.0 if looked.unit == "%" else 1.0
    low, high = (edge * scale for edge in looked.band)
    _dots(axes, days, points, scale)
    inside = [v * scale for p in points for v in (p.value, p.low, p.high) if not math.isnan(v)]
    edges = [edge for edge in (low, high) if math.isfinite(edge)]
    least = looked.step * scale * 4 or 1.0
    _frame(axes, notation.measure(looked.name), days, (*inside, *edges), least, (low, high))
    digits = 0 if looked.unit in ("%", "mm") else 1
    axes.yaxis.set_major_formatter(FuncFormatter(lambda v, _: _tick(notation, looked.unit, v, digits)))


def _strikes(axes: Axes, strikes: Sequence[StrikeCounts], days: Sequence[int], notation: Notation) -> None:
    points = [Level(c.inside_share, *c.inside_interval, n=c.placed) for c in strikes]
    _dots(axes, days, points, 100.0)
    _frame(axes, notation.words("progress.inside"), days, (0.0, 100.0), 1.0, (-math.inf, math.inf))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda v, _: _tick(notation, "%", v, 0)))
    for day, c in zip(days, strikes, strict=True):
        if c.placed:
            axes.annotate(f"{c.inside}/{c.placed}", (day, 100 * c.inside_share), (5, 0), textcoords="offset points",
                          fontsize=7.5, color=INK, va="center")  # fmt: skip


def _tick(notation: Notation, unit: str, value: float, digits: int) -> str:
    number = notation.number(value, digits)
    return notation.of({"%": "percent", "": "none"}.get(unit, unit), number)


def _dots(axes: Axes, days: Sequence[int], points: Sequence[Level], scale: float) -> None:
    known = [(day, p) for day, p in zip(days, points, strict=True) if not math.isnan(p.value)]
    axes.plot([day for day, _ in known], [p.value * scale for _, p in known], color=INSIDE, linewidth=1.1, zorder=3)
    for day, p in known:
        if not math.isnan(p.low):
            axes.plot([day, day], [p.low * scale, p.high * scale], color=INSIDE, linewidth=2.2, zorder=4)
        axes.plot([day], [p.value * scale], "o", color=INSIDE, markersize=6.5, markeredgecolor=PAPER, zorder=5)


def _frame(
    axes: Axes, title: str, days: Sequence[int], shown: Sequence[float], least: float, band: tuple[float, float]
) -> None:
    axes.set_title(textwrap.fill(title, _LETTERS), fontsize=9, fontweight="bold", color=INK, loc="left", pad=6)
    low, high = (min(shown), max(shown)) if shown else (0.0, 1.0)
    middle, half = (low + high) / 2, max((high - low) / 2 * 1.15, least / 2)
    axes.set_ylim(middle - half, middle + half)
    last = max(days[-1], 1)
    axes.set_xlim(-0.08 * last, 1.12 * last)
    bottom, top = axes.get_ylim()
    axes.axhspan(
        max(band[0], bottom), min(band[1], top), color=CORRIDOR if any(map(math.isfinite, band)) else PAPER, zorder=0
    )
    for edge in band:
        if math.isfinite(edge):
            axes.axhline(edge, color=EDGE, linewidth=1.2, zorder=1)
    axes.set_xticks(sorted(set(days)))
    if len(set(days)) > 6:
        axes.set_xticks([days[0], days[-1]])
    axes.yaxis.set_major_locator(MaxNLocator(4))
    axes.tick_params(labelsize=7.5, colors=INK, length=3)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(LINE)
