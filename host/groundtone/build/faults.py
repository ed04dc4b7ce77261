"""What can be wrong with a mat's wiring: each fault with its line, in words, and what to do about it."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

PANELS = ("left", "right")


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
    kind : Kind
    lines : tuple of int
        Rows or columns (or row and column) from 0; columns over both panels. Places on the mat for opens, cells and
        orders; lines of the board for resistors and shorts.
    panel : int or None
        0 left, 1 right; None where both are meant or the lines say it.
    factor : float
        By which a resistor is wrong; 1 where that says nothing.
    sentence, remedy : str
        What is wrong, and what to do.
    alternatives : tuple of Fault
        What would look the same to the program; the remedy names the measurement that tells.
    """

    kind: Kind
    lines: tuple[int, ...]
    panel: int | None
    factor: float
    sentence: str
    remedy: str
    alternatives: tuple[Fault, ...] = field(default=())

    @property
    def key(self) -> tuple[str, tuple[int, ...], int | None]:
        """Kind and line, by which two findings are the same."""
        return self.kind, self.lines, self.panel


@dataclass(frozen=True)
class Namer:
    """Makes faults for a mat of this size.

    Attributes
    ----------
    columns_per_panel : int
    """

    columns_per_panel: int

    def column(self, c: int) -> str:
        """A column as a builder finds it.

        Examples
        --------
        >>> Namer(4).column(5)
        'column 5 (right panel)'
        """
        return f"column {c} ({PANELS[c >= self.columns_per_panel]} panel)"

    def cell(self, row: int, c: int) -> str:
        """A cell as a builder finds it."""
        return f"row {row}, {self.column(c)}"

    def rows_joined(self, a: int, b: int) -> Fault:
        """Two row lines that conduct to each other."""
        return Fault(
            Kind.ROWS_JOINED, _sorted(a, b), None, 1.0, f"Rows {a} and {b} are joined.",
            f"Look for a bridge of solder or copper between rows {a} and {b}, at the board first, then at both panels' "
            "tails and along the strips; pull one panel's plug to see which side it is on.",
        )  # fmt: skip

    def row_low(self, row: int, alternatives: tuple[Fault, ...] = ()) -> Fault:
        """A row that something pulls down."""
        return Fault(
            Kind.ROW_LOW, (row,), None, 1.0, f"Row {row} is held low: by a load, damp, or a short to ground.",
            "Take everything off the mat; if it stays, measure from the row's tail to 0 V without power: more than "
            "10 kΩ is right, about 1 kΩ is a short to a column, near 0 Ω a short to ground.", alternatives,
        )  # fmt: skip

    def row_on_column(self, row: int, c: int) -> Fault:
        """A row strip or wire that touches a column."""
        return Fault(
            Kind.ROW_ON_COLUMN, (row, c), None, 1.0, f"Row {row} touches {self.column(c)}.",
            f"Look at the crossing of row {row} and {self.column(c)} for film that is missing or torn, then at their "
            "tails and at the plug for a bridge.",
        )  # fmt: skip

    def columns_joined(self, a: int, b: int) -> Fault:
        """Two columns that are one electrically."""
        return Fault(
            Kind.COLUMNS_JOINED, _sorted(a, b), None, 1.0,
            f"Columns {min(a, b)} and {max(a, b)} are joined: whatever is pressed shows in both alike.",
            f"Look for a bridge between {self.column(a)} and {self.column(b)}: at the multiplexer, the plug, the "
            "tails, and along the strips.",
        )  # fmt: skip

    def row_open(self, row: int, panel: int | None) -> Fault:
        """A row that does not answer, on one panel or on both."""
        where = "on both panels" if panel is None else f"of the {PANELS[panel]} panel"
        remedy = (
            f"Look at row {row}'s wire between the board and the plugs, and at its resistor: with a multimeter from "
            "the board's pin to the strip, 100 Ω is right."
            if panel is None
            else f"Look at row {row}'s tail and plug on the {PANELS[panel]} panel: the other panel's is fine."
        )
        return Fault(Kind.ROW_OPEN, (row,), panel, 1.0, f"Row {row} {where} does not answer: it is open.", remedy)

    def column_open(self, c: int) -> Fault:
        """A column that does not answer."""
        return Fault(
            Kind.COLUMN_OPEN, (c,), None, 1.0, f"C{self.column(c)[1:]} does not answer: it is open.",
            "Follow its wire from the multiplexer to the strip with a multimeter: under 1 Ω is right.",
        )  # fmt: skip

    def cell_dead(self, row: int, c: int) -> Fault:
        """A cell that does not answer though its row and its column do."""
        return Fault(
            Kind.CELL_DEAD, (row, c), None, 1.0, f"The cell at {self.cell(row, c)} does not answer.",
            "Look there for a crack in the copper, a missing pad, tape or backing paper left on the film.",
        )  # fmt: skip

    def cell_stuck(self, row: int, c: int) -> Fault:
        """A cell that conducts though nothing lies on it."""
        return Fault(
            Kind.CELL_STUCK, (row, c), None, 1.0, f"The cell at {self.cell(row, c)} conducts with nothing on it.",
            "Look there for a crumb, a hard edge of the pad, or a hole in the film; loosen the cover.",
        )  # fmt: skip

    def cell_noisy(self, row: int, c: int) -> Fault:
        """A cell that does not rest."""
        return Fault(
            Kind.CELL_NOISY, (row, c), None, 1.0, f"The cell at {self.cell(row, c)} does not hold still.",
            "Solder its row's and its column's tails again: a joint that moves makes this.",
        )  # fmt: skip

    def no_pulldown(self, c: int) -> Fault:
        """A column without its resistor to ground."""
        return Fault(
            Kind.NO_PULLDOWN, (c,), None, 1.0, f"C{self.column(c)[1:]} has no pull-down: its readings float.",
            "Solder its resistor to ground, or its joint again: from the column to 0 V, without power, Rs is right.",
        )  # fmt: skip

    def pulldown(self, c: int, factor: float, ohm: float, alternatives: tuple[Fault, ...] = ()) -> Fault:
        """A pull-down of a wrong value."""
        also = "".join(f", or {other.sentence[:1].lower()}{other.sentence[1:-1]}" for other in alternatives)
        return Fault(
            Kind.PULLDOWN, (c,), None, factor,
            f"The pull-down of {self.column(c)} is about {ohm_words(ohm * factor)} instead of {ohm_words(ohm)}{also}.",
            f"Measure from the column to 0 V without power and with the panels unplugged: {ohm_words(ohm)} is right.",
            alternatives,
        )  # fmt: skip

    def series(self, row: int, factor: float, ohm: float) -> Fault:
        """A series resistor of a wrong value."""
        return Fault(
            Kind.SERIES, (row,), None, factor,
            f"The resistor in row {row} is about {ohm_words(ohm * factor)} instead of {ohm_words(ohm)}.",
            f"Measure from the board's pin to the row's tail without power: {ohm_words(ohm)} is right"
            + (", and less endangers the pin when two rows touch." if factor < 1 else "."),
        )  # fmt: skip

    def reference(self, factor: float, ohm: float) -> Fault:
        """The reference resistor is wrong, or missing (factor inf)."""
        what = "is missing" if factor == float("inf") else f"is about {ohm_words(ohm * factor)}"
        return Fault(
            Kind.REFERENCE, (), None, factor, f"The reference resistor {what}; it should be {ohm_words(ohm)}.",
            f"Measure from row 0's line to the pin REF without power: {ohm_words(ohm)} is right.",
        )  # fmt: skip

    def divider(self, level: float) -> Fault:
        """The two resistors that halve the supply are not equal: which one is wrong, a level cannot tell."""
        ratio = (1.0 - level) / level if level > 0 else float("inf")
        upper = f"the upper resistor is {_times(ratio)}"
        lower = f"the lower one is {_times(1.0 / ratio if ratio else float('inf'))}"
        return Fault(
            Kind.DIVIDER, (), None, ratio,
            f"The divider gives {level:.2f} of the supply instead of 0.50: {upper}, or {lower}; by electricity alone "
            "these are one.",
            "Measure both resistors without power, each from the divider's middle: to the supply and to 0 V. Equal is "
            "right.",
        )  # fmt: skip

    def tap_open(self) -> Fault:
        """The wire from row 0's line to the multiplexer is not there."""
        return Fault(
            Kind.TAP_OPEN, (), None, 1.0, "The tap of row 0 does not reach the multiplexer.",
            "Solder a wire from row 0's line, behind its 100 Ω, to the multiplexer's input 10.",
        )  # fmt: skip

    def zero(self) -> Fault:
        """The 0 V input is not at 0 V."""
        return Fault(
            Kind.ZERO, (), None, 1.0, "The multiplexer's input 8 is not at 0 V.",
            "Solder input 8 to ground, at the multiplexer's own ground pin.",
        )  # fmt: skip

    def address(self, a: int, b: int) -> Fault:
        """Two address lines of the multiplexer are exchanged."""
        return Fault(
            Kind.ADDRESS, _sorted(a, b), None, 1.0,
            f"The multiplexer's address lines S{min(a, b)} and S{max(a, b)} are exchanged.",
            f"Exchange the two wires at S{min(a, b)} and S{max(a, b)}; a layout cannot mend this.",
        )  # fmt: skip

    def rows_order(self, kind: Kind, lines: tuple[int, ...], panel: int | None) -> Fault:
        """Rows that hang on each other's lines."""
        where = "both panels" if panel is None else f"the {PANELS[panel]} panel"
        what = {
            Kind.ROWS_SWAPPED: f"Rows {' and '.join(map(str, lines))} of {where} are exchanged.",
            Kind.ROWS_REVERSED: f"The rows of {where} run from the toe end to the heel end.",
        }.get(kind, f"The rows of {where} are mixed up: their places hang on lines {_list(lines)}.")
        return Fault(kind, lines, panel, 1.0, what, _REORDER)

    def columns_order(self, kind: Kind, lines: tuple[int, ...], panel: int | None) -> Fault:
        """Columns that hang on each other's lines."""
        what = {
            Kind.COLUMNS_SWAPPED: f"Columns {' and '.join(map(str, lines))} are exchanged.",
            Kind.PANELS_SWAPPED: "The panels are exchanged: what is pressed left shows right.",
        }.get(kind, f"The columns are mixed up: their places hang on lines {_list(lines)}.")
        if kind is Kind.COLUMNS_REVERSED and panel is not None:
            what = f"The columns of the {PANELS[panel]} panel run from right to left."
        return Fault(kind, lines, panel, 1.0, what, _REORDER)

    def other(self, sentence: str, remedy: str, lines: tuple[int, ...] = (), kind: Kind = Kind.OTHER) -> Fault:
        """Anything else that a step finds."""
        return Fault(kind, lines, None, 1.0, sentence, remedy)


_REORDER = (
    "Plug or solder it in order, or keep it: 'groundtone build commission --keep-order' corrects the layout instead."
)


def ohm_words(ohm: float) -> str:
    """A resistance as it is written on a bag of resistors.

    Examples
    --------
    >>> ohm_words(1000.0), ohm_words(100.0)
    ('1 kΩ', '100 Ω')
    """
    return f"{ohm / 1000:.3g} kΩ" if ohm >= 1000 else f"{ohm:.3g} Ω"


def _times(ratio: float) -> str:
    if ratio == float("inf"):
        return "open"
    return f"{ratio:.3g} times the other" if ratio >= 1 else f"1/{1 / ratio:.3g} of the other"


def _sorted(a: int, b: int) -> tuple[int, int]:
    return (a, b) if a < b else (b, a)


def _list(lines: tuple[int, ...]) -> str:
    return ", ".join(map(str, lines))
