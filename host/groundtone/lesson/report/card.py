"""The card: the page in one picture that fits a message on a telephone."""

from __future__ import annotations

import io
import textwrap
import warnings

from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from groundtone.lesson.report.content import Content
from groundtone.lesson.report.data import PageData
from groundtone.lesson.report.paper import FAINT, INK, INSIDE, PAPER, SHADE, font_with, missing
from groundtone.lesson.report.pictures import draw_swings, sheet
from groundtone.lesson.wording import words

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
