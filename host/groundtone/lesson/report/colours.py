"""The colours of the page and where each may stand; tests/external/test_page_colours.py judges them.

Ink on paper and one hue; orange only where a ribbon has left its band, and there it is striped as well. No meaning
hangs on a colour alone.
"""

from __future__ import annotations

PAPER = "#FFFFFF"
SHADE = "#EEF3F7"
"""Behind the drill."""
DESK = "#E2E6EA"
"""Around the sheets, on a screen."""
INK = "#1B2433"
FAINT = "#56606C"
LINE = "#B9C3CC"
CORRIDOR = "#CFE0EE"
EDGE = "#3F709B"
INSIDE = "#1F4E79"
OUTSIDE = "#C4500F"

TEXTS: tuple[tuple[str, str], ...] = (
    (INK, PAPER), (FAINT, PAPER), (INSIDE, PAPER), (INK, SHADE), (FAINT, SHADE), (INSIDE, SHADE), (INK, CORRIDOR),
    (FAINT, DESK),
)  # fmt: skip
"""Every pair of a text and what it stands on."""
GRAPHICS: tuple[tuple[str, str], ...] = (
    (INSIDE, PAPER), (OUTSIDE, PAPER), (INSIDE, CORRIDOR), (OUTSIDE, CORRIDOR), (EDGE, PAPER), (EDGE, CORRIDOR),
    (INK, PAPER),
)  # fmt: skip
"""Every pair of a line or a mark that says something and what it stands on."""
APART: tuple[tuple[str, str, str], ...] = (
    (INSIDE, OUTSIDE, "a ribbon inside and outside its band"),
    (INSIDE, CORRIDOR, "a ribbon and its band"),
    (OUTSIDE, CORRIDOR, "a ribbon outside and its band"),
    (CORRIDOR, PAPER, "a band and the paper"),
)
"""Pairs of colours that carry a meaning, and which."""
