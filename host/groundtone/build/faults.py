"""What can be wrong with a mat's wiring: each fault with its line, in words, and what to do about it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from groundtone.build.eseries import in_words

PANELS = ("left", "right")
_BRIDGE_OHM = 20.0


class Kind(StrEnum):
    """Kinds of faults."""

    ROWS_JOINED = "rows joined"
    ROW_LOW = "row held low"
    ROW_ON_COLUMN = "row touches column"
    COLUMNS_JOINED = "columns joined"
    ROW_OPEN = "row open"
    COLUMN_OPEN = "column open"
    CELL_DEAD = "cell dead"
    CELL_STUCK = "cell stuck"
    CELL_NOISY = "cell noisy"
    NO_PULLDOWN = "pull-down missing"
    PULLDOWN = "pull-down wrong"
    SERIES = "series resistor wrong"
    REFERENCE = "reference resistor wrong"
    DIVIDER = "supply divider wrong"
    TAP_OPEN = "tap missing"
    ZERO = "zero input wrong"
    ADDRESS = "address lines swapped"
    MULTIPLEXER = "multiplexer missing"
    UNEXPLAINED = "not explained"
    ROWS_SWAPPED = "rows swapped"
    ROWS_REVERSED = "rows reversed"
    ROWS_MIXED = "rows mixed up"
    COLUMNS_SWAPPED = "columns swapped"
    COLUMNS_REVERSED = "columns reversed"
    COLUMNS_MIXED = "columns mixed up"
    PANELS_SWAPPED = "panels swapped"
    FILM_UNCUT = "film conducts sideways"
    SETTLE = "settle time too short"
    OTHER = "other"


ORDER_KINDS = frozenset(
    {
        Kind.ROWS_SWAPPED, Kind.ROWS_REVERSED, Kind.ROWS_MIXED, Kind.COLUMNS_SWAPPED, Kind.COLUMNS_REVERSED,
        Kind.COLUMNS_MIXED, Kind.PANELS_SWAPPED,
    }
)  # fmt: skip
"""Faults that a corrected layout mends as well as a soldering iron does."""


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong.

    Attributes
    ----------
    lines : tuple of int
        Rows or columns (or row and column) from 0; columns over both panels. Places on the mat for opens, cells and
        orders; lines of the board for resistors and shorts.
    panel : int or None
        0 left, 1 right; None where both are meant or the lines say it.
    ohm : tuple of float
        Between which values a wrong resistor lies, Ω; empty where that says nothing.
    sentence, remedy : str
        What is wrong, and what to do.
    alternatives : tuple of Fault
        What would look the same to the program; the remedy names the measurement that tells.
    """

    kind: Kind
    lines: tuple[int, ...]
    panel: int | None
    ohm: tuple[float, ...]
    sentence: str
    remedy: str
    alternatives: tuple[Fault, ...] = field(default=())

    @property
    def key(self) -> tuple[str, tuple[int, ...], int | None]:
        """Kind and line, by which two findings are the same."""
        return self.kind, self.lines, self.panel


PLAIN = {
    Kind.ROWS_JOINED: (
        "rows {a} and {b} are joined.",
        "Look for a bridge of solder or copper between rows {a} and {b}, at the board first, then at both panels' "
        "tails and along the strips; pull one panel's plug to see which side it is on.",
    ),
    Kind.ROW_LOW: (
        "row {a} is held low: by a load, damp, or a short to ground.",
        "Take everything off the mat; if it stays, measure from the row's tail to 0 V without power: more than "
        "10 kΩ is right, about 1 kΩ is a short to a column, near 0 Ω a short to ground.",
    ),
    Kind.ROW_ON_COLUMN: (
        "row {a} touches {last}.",
        "Look at the crossing of row {a} and {last} for film that is missing or torn, then at their tails and at the "
        "plug for a bridge.",
    ),
    Kind.COLUMNS_JOINED: (
        "columns {a} and {b} are joined: whatever is pressed shows in both alike.",
        "Look for a bridge between {first} and {last}: at the multiplexer, the plug, the tails, and along the strips.",
    ),
    Kind.COLUMN_OPEN: (
        "{first} does not answer: it is open.",
        "Follow its wire from the multiplexer to the strip with a multimeter: under 1 Ω is right.",
    ),
    Kind.CELL_DEAD: (
        "the cell at row {a}, {last} does not answer.",
        "Look there for a crack in the copper, a missing pad, tape or backing paper left on the film.",
    ),
    Kind.CELL_STUCK: (
        "the cell at row {a}, {last} conducts with nothing on it.",
        "Look there for a crumb, a hard edge of the pad, or a hole in the film; loosen the cover.",
    ),
    Kind.CELL_NOISY: (
        "the cell at row {a}, {last} does not hold still.",
        "Solder its row's and its column's tails again: a joint that moves makes this.",
    ),
    Kind.TAP_OPEN: (
        "the tap of row 0 does not reach the multiplexer.",
        "Solder a wire from row 0's line, behind its resistor, over its 1 kΩ to the multiplexer's input 10.",
    ),
    Kind.ZERO: (
        "the multiplexer's input 8 is not at 0 V.",
        "Solder input 8 over its 1 kΩ to ground, at the multiplexer's own ground pin.",
    ),
    Kind.ADDRESS: (
        "the multiplexer's address lines S{a} and S{b} are exchanged.",
        "Exchange the two wires at S{a} and S{b}; a layout cannot mend this.",
    ),
    Kind.MULTIPLEXER: (
        "nothing reaches the board's converter: all inputs read alike.",
        "Look at the multiplexer: its supply, its ground and enable pins, and the wire from its output (Z, also marked "
        "SIG or COM) to the board.",
    ),
}
"""Sentence and remedy: a and b are the lines, first and last the columns of these numbers as a builder finds them."""


@dataclass(frozen=True)
class Namer:
    """Makes faults for a mat of this size."""

    columns_per_panel: int

    def column(self, c: int) -> str:
        """A column as a builder finds it.

        Examples
        --------
        >>> Namer(4).column(5)
        'column 5 (right panel)'
        """
        return f"column {c} ({PANELS[c >= self.columns_per_panel]} panel)"

    def plain(self, kind: Kind, *lines: int) -> Fault:
        """A fault whose words are the same for every line: the row first, or two lines of one sort in any order.

        Examples
        --------
        >>> Namer(4).plain(Kind.CELL_DEAD, 3, 5).sentence
        'The cell at row 3, column 5 (right panel) does not answer.'
        """
        if kind in (Kind.ROWS_JOINED, Kind.COLUMNS_JOINED, Kind.ADDRESS):
            lines = tuple(sorted(lines))
        a, b = (lines[0] if lines else 0, lines[-1] if lines else 0)
        words = {"a": a, "b": b, "first": self.column(a), "last": self.column(b)}
        sentence, remedy = (text.format(**words) for text in PLAIN[kind])
        return Fault(kind, lines, None, (), sentence[:1].upper() + sentence[1:], remedy)

    def row_open(self, row: int, panel: int | None) -> Fault:
        """A row that does not answer, on one panel or on both."""
        where = "on both panels" if panel is None else f"of the {PANELS[panel]} panel"
        remedy = (
            f"Look at row {row}'s wire between the board and the plugs, and at its resistor: with a multimeter from "
            "the board's pin to the strip, 220 Ω is right (100 Ω in earlier mats)."
            if panel is None
            else f"Look at row {row}'s tail and plug on the {PANELS[panel]} panel: the other panel's is fine."
        )
        return Fault(Kind.ROW_OPEN, (row,), panel, (), f"Row {row} {where} does not answer: it is open.", remedy)

    def pulldown(self, c: int, ohm: tuple[float, float], nominal: float) -> Fault:
        """A pull-down of a wrong value; one of next to nothing is a short, an endless one is missing."""
        if ohm[1] == math.inf:
            least = "" if ohm[0] == math.inf else f", or one of {in_words(ohm[0])} or more"
            return Fault(
                Kind.NO_PULLDOWN, (c,), None, ohm, f"C{self.column(c)[1:]} has no pull-down{least}: it floats.",
                f"Solder its resistor to ground, or its joint again: from the column to 0 V, without power, "
                f"{in_words(nominal)} is right.",
            )  # fmt: skip
        if ohm[1] < _BRIDGE_OHM:
            return Fault(
                Kind.PULLDOWN, (c,), None, ohm, f"C{self.column(c)[1:]} is shorted to 0 V.",
                "Look for a bridge to ground at its resistor and at the multiplexer.",
            )  # fmt: skip
        return Fault(
            Kind.PULLDOWN, (c,), None, ohm,
            f"The pull-down of {self.column(c)} is {_between(ohm)} instead of {in_words(nominal)}.",
            f"Measure from the column to 0 V without power and with the panels unplugged: {in_words(nominal)} is "
            "right.",
        )  # fmt: skip

    def series(self, row: int, ohm: tuple[float, float], nominal: float) -> Fault:
        """A series resistor of a wrong value."""
        return Fault(
            Kind.SERIES, (row,), None, ohm,
            f"The resistor in row {row} is {_between(ohm)} instead of {in_words(nominal)}.",
            f"Measure from the board's pin to the row's tail without power: {in_words(nominal)} is right"
            + (", and less endangers the pin when two rows touch." if ohm[0] < nominal else "."),
        )  # fmt: skip

    def reference(self, ohm: tuple[float, float], nominal: float) -> Fault:
        """The reference resistor is wrong, or missing (endless)."""
        what = "is missing" if ohm[0] == math.inf else f"is {_between(ohm)}"
        return Fault(
            Kind.REFERENCE, (), None, ohm, f"The reference resistor {what}; it should be {in_words(nominal)}.",
            f"Measure from row 0's line to the pin REF without power: {in_words(nominal)} is right.",
        )  # fmt: skip

    def divider(self, half: str, ohm: tuple[float, float]) -> Fault:
        """One of the two resistors that halve the supply is wrong."""
        where = "to the supply" if half == "upper" else "to 0 V"
        return Fault(
            Kind.DIVIDER, (), None, ohm,
            f"The divider does not halve the supply: its resistor {where} is {_between(ohm)} beside one of 10 kΩ.",
            "By electricity alone the two cannot be told apart: measure both without power, each from the divider's "
            "middle. 10 kΩ and 10 kΩ is right.",
        )  # fmt: skip

    def unexplained(self, what: Sequence[str]) -> Fault:
        """Readings that no part's value makes."""
        some = ", ".join(what[:4]) + (" and more" if len(what) > 4 else "")
        return Fault(
            Kind.UNEXPLAINED, (), None, (), f"No wrong part explains what was read: {some}.",
            "Measure the resistors of these lines without power, look at their joints, and do this step again.",
        )  # fmt: skip

    def or_else(self, fault: Fault, others: tuple[Fault, ...]) -> Fault:
        """The same fault, saying what else would look like it."""
        if not others:
            return fault
        other = ", or ".join(f.sentence[:1].lower() + f.sentence[1:-1] for f in others[:3])
        return replace(fault, sentence=f"{fault.sentence[:-1]}, or {other}.", alternatives=others)

    def rows_order(self, kind: Kind, lines: tuple[int, ...], panel: int | None) -> Fault:
        """Rows that hang on each other's lines."""
        where = "both panels" if panel is None else f"the {PANELS[panel]} panel"
        what = {
            Kind.ROWS_SWAPPED: f"Rows {' and '.join(map(str, lines))} of {where} are exchanged.",
            Kind.ROWS_REVERSED: f"The rows of {where} run from the toe end to the heel end.",
        }.get(kind, f"The rows of {where} are mixed up: their places hang on lines {_list(lines)}.")
        return Fault(kind, lines, panel, (), what, _REORDER)

    def columns_order(self, kind: Kind, lines: tuple[int, ...], panel: int | None) -> Fault:
        """Columns that hang on each other's lines."""
        what = {
            Kind.COLUMNS_SWAPPED: f"Columns {' and '.join(map(str, lines))} are exchanged.",
            Kind.PANELS_SWAPPED: "The panels are exchanged: what is pressed left shows right.",
        }.get(kind, f"The columns are mixed up: their places hang on lines {_list(lines)}.")
        if kind is Kind.COLUMNS_REVERSED and panel is not None:
            what = f"The columns of the {PANELS[panel]} panel run from right to left."
        return Fault(kind, lines, panel, (), what, _REORDER)

    def other(self, sentence: str, remedy: str, lines: tuple[int, ...] = (), kind: Kind = Kind.OTHER) -> Fault:
        """Anything else that a step finds."""
        return Fault(kind, lines, None, (), sentence, remedy)


_REORDER = (
    "Plug or solder it in order, or keep it: 'groundtone build commission --keep-order' corrects the layout instead."
)


def _between(ohm: tuple[float, float]) -> str:
    """A resistance that lies between two values, in words."""
    if ohm[0] == ohm[1]:
        return f"about {in_words(ohm[0])}"
    return f"{in_words(ohm[0])} or more" if ohm[1] == math.inf else f"{in_words(ohm[0])} to {in_words(ohm[1])}"


def _list(lines: tuple[int, ...]) -> str:
    return ", ".join(map(str, lines))
