"""The page as one HTML file that needs nothing else: no network, no script, pictures inside."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib.resources import files

import jinja2

from groundtone.lesson.report import paper as colours
from groundtone.lesson.report.content import Content, columns_of
from groundtone.lesson.report.paper import Paper
from groundtone.lesson.wording import words

# A little smaller than in the PDF (10): other machines' fonts are wider, and what overflows goes to another sheet.
_LETTERS_PT = 9.6


def html_page(content: Content, paper: Paper, scales: tuple[float, float], swings: str, faces: Sequence[str]) -> str:
    """The document.

    Parameters
    ----------
    content : Content
    paper : Paper
    scales : (float, float)
        Of the letters in front and at the back, so that it prints onto one sheet.
    swings : str
        The picture of the swings as an svg element; empty without one.
    faces : sequence of str
        The strike maps, one for each of the content's sides.
    """
    return _template().render(
        c=content, k=colours, say=words(content.language), paper=paper.name, width=f"{paper.width_mm:g}",
        height=f"{paper.height_mm:g}", scales=scales, swings=swings,
        columns=columns_of(content), letters=_LETTERS_PT, faces=list(zip(content.sides, faces, strict=True)),
    )  # fmt: skip


@cache
def _template() -> jinja2.Template:
    text = (files("groundtone.lesson.report") / "page.html.j2").read_text("utf-8")
    environment = jinja2.Environment(autoescape=True, trim_blocks=False, undefined=jinja2.StrictUndefined)
    return environment.from_string(text)
