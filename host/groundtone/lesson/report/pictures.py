"""The pictures of the page: a typical swing before and after, the strike map, and the card for a message."""

from __future__ import annotations

import io
import logging
import math
import re
import textwrap
import warnings
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import numpy as np
from matplotlib import style
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.patches import Circle, FancyBboxPatch, Rectangle

from groundtone.lesson.report.content import Content
from groundtone.lesson.report.data import PageData
from groundtone.lesson.report.paper import (
    CORRIDOR,
    EDGE,
    FAINT,
    INK,
    INSIDE,
    LINE,
    OUTSIDE,
    PAPER,
    SHADE,
    font_with,
    missing,
)
from groundtone.lesson.wording import Words, words
from groundtone.review.lane import Lane, spread
from groundtone.review.strikes import CENTRE_CIRCLE_MM, Contact
from groundtone.review.swings import BlockRows

_MM = 1 / 25.4
SWINGS_MM = (180.0, 96.0)
"""Size of the picture of the swings on paper."""
FACE_MM = (88.0, 50.0)
"""Size of one strike map on paper."""
# The face as a plain rectangle from its centre, mm (invented: about what an iron has to hit the ball with).
_FACE_X, _FACE_Y = 38.0, 22.0
# The events that the page names.
_EVENTS = ("takeaway", "turn", "impact")
_SETTINGS = {
    "font.family": "DejaVu Sans",
    "svg.fonttype": "path",
    "svg.hashsalt": "groundtone",
    "pdf.fonttype": 42,
    "hatch.linewidth": 0.8,
}


@contextmanager
def drawing() -> Iterator[None]:
    """The same look whatever the user's own plotting settings are."""
    log = logging.getLogger("matplotlib.font_manager")
    level = log.level
    # A foreign name's font often has no bold: that is no matter for whoever hands the page over.
    log.setLevel(logging.ERROR)
    try:
        with style.context(["default", _SETTINGS]):
            yield
    finally:
        log.setLevel(level)


def sheet(size_mm: tuple[float, float]) -> Figure:
    """An empty figure of that size on paper."""
    figure = Figure(figsize=(size_mm[0] * _MM, size_mm[1] * _MM), dpi=150, facecolor="none")
    FigureCanvasAgg(figure)
    return figure


def swings_picture(data: PageData, say: Words) -> Figure:
    """A typical swing before and after, side by side on one scale of time; or the one there is."""
    figure = sheet(SWINGS_MM)
    paths = [(path, word) for path, word in ((data.before_path, "before"), (data.after_path, "after")) if path]
    words = [say(f"before_after.{data.word(word)}") if len(paths) == 2 else "" for _, word in paths]
    draw_swings(figure, [path for path, _ in paths], words, say, (0.0, 0.0, 1.0, 1.0))
    return figure


def draw_swings(
    figure: Figure, paths: Sequence[Lane], titles: Sequence[str], say: Words,
    box: tuple[float, float, float, float], size: float = 1.0,
) -> None:  # fmt: skip
    """Draws swings side by side into a part of a figure.

    Parameters
    ----------
    paths : sequence of Lane
        One or two.
    titles : sequence of str
        Over each; empty ones take no room.
    box : (float, float, float, float)
        Left, bottom, width and height in parts of the figure.
    size : float
        Of letters and lines.
    """
    first = min(float(path.t_s[0]) for path in paths)
    last = max(float(path.t_s[-1]) for path in paths)
    span = (first - 0.03 * (last - first), last + 0.03 * (last - first))
    each = box[2] / 2
    left = box[0] + (box[2] - each * len(paths)) / 2
    for i, (path, title) in enumerate(zip(paths, titles, strict=True)):
        _draw_swing(figure, path, title, say, (left + i * each, box[1], each, box[3]), span, size)


def _draw_swing(
    figure: Figure, path: Lane, title: str, say: Words, box: tuple[float, float, float, float],
    span: tuple[float, float], size: float,
) -> None:  # fmt: skip
    """Two ribbons with the events' words between them."""
    left, bottom, width, height = box
    # What stands over and under the ribbons needs the same room however high they are.
    point = size / (72 * figure.get_figheight())
    head, foot_room = (32 if title else 15) * point, 13 * point
    foot, top = bottom + foot_room, height - head - foot_room
    ribbon, gap, margin = 0.335 * width, 0.25 * width, 0.04 * width
    share = figure.add_axes((left + margin, foot, ribbon, top))
    middle = figure.add_axes((left + margin + ribbon, foot, gap, top))
    toes = figure.add_axes((left + margin + ribbon + gap, foot, ribbon, top))
    for axes in (share, middle, toes):
        axes.set_ylim(*span)
        axes.set_xlim(0.0, 1.0)
        axes.set_axis_off()
    _ribbon(share, path, "share", size)
    _ribbon(toes, path, "overall", size)
    for axes, name, low, high in ((share, "share", "trail", "lead"), (toes, "heel_toe", "heels", "toes")):
        axes.annotate(say(f"picture.{name}"), (0.5, 1), (0, 3 * size), xycoords="axes fraction",
                      textcoords="offset points", ha="center", va="bottom", fontsize=7.6 * size, color=INK)  # fmt: skip
        for at, word, side in ((0.0, low, "left"), (1.0, high, "right")):
            axes.annotate(say(f"picture.{word}"), (at, 0), (0, -2.5 * size), xycoords="axes fraction",
                          textcoords="offset points", ha=side, va="top",
                      fontsize=7.2 * size, color=FAINT)  # fmt: skip
    _events(middle, (share, toes), path, say, span, size)
    if title:
        figure.text(left + width / 2, bottom + height, title, ha="center", va="top", fontsize=11 * size,
                    fontweight="bold", color=INK)  # fmt: skip


def _ribbon(axes: Axes, lane: Lane, key: str, size: float) -> None:
    t, x = lane.t_s, getattr(lane, key)
    axes.axvspan(0.0, 1.0, color="#F5F6F7", zorder=0)
    axes.axvline(0.5, color=LINE, linewidth=0.7 * size, linestyle=(0, (2, 4)), zorder=1)
    for start, end, low, high in lane.limits.get(key, ()):
        a, b = max(low, 0.0), min(high, 1.0)
        axes.add_patch(Rectangle((a, start), b - a, end - start, facecolor=CORRIDOR, edgecolor="none", zorder=2))
        for edge in (low, high):
            if 0.0 < edge < 1.0:
                axes.plot([edge, edge], [start, end], color=EDGE, linewidth=1.1 * size, zorder=3)
    left = lane.out(key)
    # Both neighbours of a crossing belong to the piece, or the ribbon would have holes.
    whole = left.copy()
    whole[:-1] |= left[1:]
    whole[1:] |= left[:-1]
    axes.plot(x, t, color=PAPER, linewidth=5 * size, solid_capstyle="round", zorder=4)
    axes.plot(x, t, color=INSIDE, linewidth=3.2 * size, solid_capstyle="round", solid_joinstyle="round", zorder=5)
    off = np.where(whole, x, np.nan)
    axes.plot(off, t, color=OUTSIDE, linewidth=5.5 * size, solid_capstyle="butt", solid_joinstyle="round", zorder=6)
    axes.plot(off, t, color="white", linewidth=2.4 * size, linestyle=(0, (0.5, 0.7)), dash_capstyle="butt", zorder=7)


def _events(
    middle: Axes, ribbons: Sequence[Axes], lane: Lane, say: Words, span: tuple[float, float], size: float
) -> None:
    ordered = sorted((t, name) for t, name in lane.events if name in _EVENTS)
    gap = 0.095 * (span[1] - span[0])
    for (t, name), height in zip(
        ordered, spread([t for t, _ in ordered], gap, span[0] + gap / 2, span[1] - gap / 2), strict=True
    ):
        for axes in ribbons:
            axes.axhline(t, color=INK, linewidth=0.8 * size, zorder=3.5)
        for xs, ys in (([0.0, 0.1], [t, height]), ([0.9, 1.0], [height, t])):
            middle.plot(xs, ys, color=INK, linewidth=0.8 * size)
        middle.text(0.5, height, _two_lines(say(f"picture.{name}")), ha="center", va="center", fontsize=7.2 * size,
                    color=INK, linespacing=1.05)  # fmt: skip
    middle.annotate(say("picture.time"), (0.5, 1), (0, 3 * size), xycoords="axes fraction",
                    textcoords="offset points", ha="center", va="bottom",
                fontsize=7.2 * size, color=FAINT)  # fmt: skip


def _two_lines(text: str) -> str:
    if len(text) <= 12 or " " not in text:
        return text
    cut = min((i for i, c in enumerate(text) if c == " "), key=lambda i: abs(i - len(text) / 2))
    return f"{text[:cut]}\n{text[cut + 1 :]}"


def face_picture(block: BlockRows, say: Words, *, filled: bool) -> Figure:
    """The face with the centre circle and a mark for every strike whose place was told.

    Parameters
    ----------
    filled : bool
        Discs (after) or rings (before): told apart without colour.
    """
    figure = sheet(FACE_MM)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    half = 50.0
    axes.set_xlim(-half, half)
    axes.set_ylim(-half * FACE_MM[1] / FACE_MM[0], half * FACE_MM[1] / FACE_MM[0])
    axes.set_axis_off()
    axes.add_patch(FancyBboxPatch((-_FACE_X + 2, -_FACE_Y + 2), 2 * _FACE_X - 4, 2 * _FACE_Y - 4,
                                  boxstyle="round,pad=2", facecolor=SHADE, edgecolor=INK, linewidth=0.9))  # fmt: skip
    axes.add_patch(Circle((0, 0), CENTRE_CIRCLE_MM, facecolor=CORRIDOR, edgecolor=EDGE, linewidth=1.1))
    for x, name, turn in ((-46.0, "heel", 90), (46.0, "toe", 270)):
        axes.text(x, 0, say(f"strikes.{name}"), rotation=turn, ha="center", va="center", fontsize=8, color=FAINT)
    for x, y in places(block):
        inner, rim, width = (INSIDE, PAPER, 0.6) if filled else (PAPER, INSIDE, 1.4)
        axes.add_patch(Circle((x, y), 2.0, facecolor=inner, edgecolor=rim, linewidth=width, zorder=5))
    return figure


def places(block: BlockRows) -> list[tuple[float, float]]:
    """Where to put a mark for each strike, mm from the face's centre.

    Strikes told by field lie side by side around the field's middle in the order they were told, so that each is seen;
    a shank lies beyond the heel.
    """
    out = []
    told = Counter(row.strike.at_mm for row in block.swings if row.strike.place_mm is None)
    used: Counter[tuple[float, float]] = Counter()
    for row in block.swings:
        strike = row.strike
        x, y = strike.at_mm
        if strike.contact is Contact.SHANK:
            x, y = -_FACE_X, y if not math.isnan(y) else 0.0
        elif math.isnan(x):
            continue
        elif strike.place_mm is None:
            # A sunflower that keeps to its field: the n-th at the square root of n steps, turned by the golden angle.
            room = 9.5 if (x, y) == (0.0, 0.0) else 6.5
            step = min(3.7, room / math.sqrt(max(told[x, y] - 1, 1)))
            away, turn = step * math.sqrt(used[x, y]), 2.39996 * used[x, y]
            used[x, y] += 1
            x, y = x + away * math.cos(turn), y + away * math.sin(turn)
        out.append((min(max(x, -_FACE_X), _FACE_X), min(max(y, -_FACE_Y), _FACE_Y)))
    return out


def as_pdf(figures: Sequence[Figure]) -> bytes:
    """Figures as a PDF, each a page of its size; they share their fonts. Empty without any."""
    if not figures:
        return b""
    out = io.BytesIO()
    with PdfPages(out, metadata={"CreationDate": None}) as pages:
        for figure in figures:
            pages.savefig(figure)
    return out.getvalue()


def as_svg(figure: Figure, name: str, described: str) -> str:
    """A figure as an `svg` element to stand in HTML: names of its own, no prologue, nothing that points outside.

    Parameters
    ----------
    name : str
        Begins every id, so that several pictures may stand in one document.
    described : str
        Read out instead of the picture.
    """
    out = io.StringIO()
    figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    svg = out.getvalue()
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"\s*<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    # A rule for every element would hold for the whole page: it stands in the page's own style instead.
    svg = re.sub(r"\s*<style[^>]*>\*\{[^}]*\}</style>", "", svg)
    svg = re.sub(r'\bid="', f'id="{name}-', svg)
    svg = re.sub(r'href="#', f'href="#{name}-', svg)
    svg = svg.replace("url(#", f"url(#{name}-")
    svg = re.sub(r"<!--.*?-->", "", svg, flags=re.DOTALL)
    width, height = re.findall(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)[0]
    described = described.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'viewBox="0 0 {width} {height}" role="img" aria-label="{described}">'
    )
    return head + re.sub(r"^<svg[^>]*>", "", svg)


# 1080 by 1350 dots, a usual shape for a telephone held upright.
_SIZE_MM, _DPI = (91.44, 114.3), 300
_LETTERS, _MOST_LINES = 54, 4


def card_png(content: Content, data: PageData) -> bytes:
    """The card as a PNG picture."""
    figure = sheet(_SIZE_MM)
    figure.set_facecolor(PAPER)
    say = words(content.language)
    fonts = ["DejaVu Sans"]
    lost = missing([content.golfer, content.sub])
    if lost and (found := font_with(lost)) is not None:
        fonts.append(found[0])
    top = _line(figure, _wrapped(content.golfer, 30, 2), 0.955, 12.5, INK, bold=True, fonts=fonts)
    top = _line(figure, _wrapped(content.sub, 60, 2), top - 0.004, 6.6, FAINT, fonts=fonts)
    if content.banner:
        top = _line(figure, _wrapped(content.banner, 52, 2), top - 0.004, 6.6, INK, bold=True)
    top -= 0.014
    for heading, text in content.said[:2]:
        top = _line(figure, heading, top, 7.2, INSIDE, bold=True)
        top = _line(figure, _wrapped(text, _LETTERS, _MOST_LINES), top, 7.2, INK) - 0.012
    foot = _foot(figure, content, say("card.drill"), say("page.todo"))
    paths = [(path, word) for path, word in ((data.before_path, "before"), (data.after_path, "after")) if path]
    if content.picture and paths and top - foot > 0.2:
        titles = [say(f"before_after.{word}") if len(paths) == 2 else "" for _, word in paths]
        height = min(top - foot - 0.02, 0.44)
        draw_swings(figure, [path for path, _ in paths], titles, say, (0.04, foot + 0.015, 0.92, height), 0.55)
    out = io.BytesIO()
    with warnings.catch_warnings():
        # What no font has is said once, by the PDF.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        figure.savefig(out, format="png", dpi=_DPI, metadata={"Software": None})
    return out.getvalue()


def _foot(figure: Figure, content: Content, practise: str, todo: str) -> float:
    """The drill on its shade at the lower edge; its upper edge in parts of the figure."""
    if content.drill is not None:
        title, lines = f"{practise}: {content.drill.title}", f"{content.drill.aim} {content.drill.often}"
    else:
        title, lines = todo, content.said[2][1]
    wrapped = _wrapped(lines, _LETTERS, _MOST_LINES)
    high = 0.095 + 0.0335 * (wrapped.count("\n") + 1)
    figure.add_artist(Rectangle((0, 0), 1, high, transform=figure.transFigure, facecolor=SHADE, edgecolor="none"))
    figure.add_artist(Rectangle((0, 0), 0.014, high, transform=figure.transFigure, facecolor=INSIDE, edgecolor="none"))
    top = _line(figure, _wrapped(title, 36, 1), high - 0.022, 10.5, INK, bold=True)
    _line(figure, wrapped, top - 0.006, 7.2, INK)
    return high


def _line(
    figure: Figure, text: str, top: float, size: float, colour: str, *, bold: bool = False,
    fonts: list[str] | None = None,
) -> float:  # fmt: skip
    """Writes lines from their upper edge; gives their lower edge."""
    figure.text(0.06, top, text, fontsize=size, color=colour, fontweight="bold" if bold else "normal", va="top",
                linespacing=1.3, family=fonts or ["DejaVu Sans"], parse_math=False)  # fmt: skip
    return top - (text.count("\n") + 1) * size * 1.42 / 72 * 25.4 / _SIZE_MM[1]


def _wrapped(text: str, letters: int, lines: int) -> str:
    return "\n".join(textwrap.wrap(text, letters, max_lines=lines, placeholder=" …"))
