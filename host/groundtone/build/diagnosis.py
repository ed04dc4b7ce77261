"""The verdict: all evidence of a commissioning together, told as the fewest faults that explain it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from groundtone.build.evidence import Evidence, Idle, Stroke
from groundtone.build.faults import PANELS, Fault, Kind, Namer
from groundtone.build.permutation import Order
from groundtone.build.places import PlaceMap, place_map
from groundtone.build.soldered import HELD_OHM, NO_MULTIPLEXER, Observed, Soldered, as_planned, column_addresses
from groundtone.build.suspects import Wrong, board_of, wrong_parts
from groundtone.mat.layout import Layout
from groundtone.wire.messages import Finding

# A column whose readings add up to this part of the supply on an empty mat has nothing that pulls it down.
NOTHING_BELOW = 0.8
STUCK = 0.04
# Standard deviation of a resting reading, of the ADC's range: a converter has a quarter step of 12 bits or a few.
NOISY = 0.0025
# Behind more than this, and on a column with less, a press shows too little to be seen.
WEAK_ROW_OHM, WEAK_COLUMN_OHM = 30e3, 20.0


@dataclass(frozen=True)
class Diagnosis:
    """What is wrong, and the orders that the strokes found.

    Attributes
    ----------
    untested : list of str
        What could not be looked at because of a fault, in words.
    """

    faults: list[Fault]
    places: PlaceMap | None
    untested: list[str]

    @property
    def orders(self) -> tuple[Order, Order, Order] | None:
        """Row lines of the left and the right panel and column lines, by place; None before the strokes."""
        return None if self.places is None else (self.places.left, self.places.right, self.places.columns)


def rows_faults(evidence: Evidence, namer: Namer) -> list[Fault]:
    """Faults of the rows' proof, from the mat's self-test: with these no row is driven and nothing else is measured."""
    joined = [(f.a, f.b) for f in evidence.findings if f.code == JOINED]
    on_column = [(f.a, f.b) for f in evidence.findings if f.code == ROW_ON_COLUMN]
    low = [f.a for f in evidence.findings if f.code == LOW]
    out = [namer.plain(Kind.ROWS_JOINED, a, b) for a, b in joined]
    out += [namer.plain(Kind.ROW_ON_COLUMN, a, b) for a, b in on_column]
    out += [namer.plain(Kind.ROW_LOW, a) for a in low if a not in {row for row, _ in on_column}]
    out += [
        namer.other(f"Row {f.a} is held high.", "Look for a short from it to the 3.3 V supply.", (f.a,))
        for f in evidence.findings
        if f.code == HIGH
    ]
    return out


JOINED, LOW, HIGH, ROW_ON_COLUMN = 1, 2, 10, 23
"""Codes of the self-test's findings (firmware/WIRE.md) that stop everything else."""


def diagnose(evidence: Evidence, layout: Layout) -> Diagnosis:
    """Name what is wrong.

    The parts first: the board with the fewest wrong values that explains the empty mat and the test resistor. It says
    which reading belongs to which column and which columns float, and with that the strokes are read. What strokes show
    to be open explains touches that were not felt, so the parts are then looked at once more.

    Parameters
    ----------
    layout : Layout
        As built; its own orders are not used.
    """
    namer = Namer(layout.columns_per_panel)
    stopping = rows_faults(evidence, namer)
    if stopping:
        return Diagnosis(stopping, None, ["everything else: rows that are not proven apart are never driven"])
    if evidence.idle is None:
        return Diagnosis([], None, [])
    plan = as_planned(layout)
    observed = Observed(evidence, evidence.idle, layout)
    board, cost = board_of(observed, plan)
    places = _places(evidence, board, namer)
    if places is not None and (felt := _without_open(evidence, places, layout)) is not evidence:
        observed = Observed(felt, evidence.idle, layout)
        board, cost = board_of(observed, plan)
        places = _places(evidence, board, namer)
    if not board.multiplexer:
        return Diagnosis(
            [namer.plain(Kind.MULTIPLEXER)], None, ["everything else: nothing reaches the board's converter"]
        )
    parts = [_named(wrong, layout, namer) for wrong in wrong_parts(observed, board, cost, plan)]
    own = parts + [f for f in (places.faults if places else []) if f.key not in {p.key for p in parts}]
    own = [f for f in own if not _follows(f, board)]
    own += _idle_faults(evidence.idle, board, namer)
    if not own and (odd := observed.unexplained(board)):
        own = [namer.unexplained(odd)]
    own += finding_faults(evidence.findings, own, namer)
    _, usable = column_addresses(board.address, layout.columns)
    return Diagnosis(own, places, [namer.column(int(c)) for c in np.flatnonzero(~usable)])


def _places(evidence: Evidence, board: Soldered, namer: Namer) -> PlaceMap | None:
    """The strokes, read as this board shows them."""
    if not evidence.strokes or not board.multiplexer:
        return None
    at, usable = column_addresses(board.address, len(board.pulldown))
    floating = frozenset(int(c) for c in np.flatnonzero(usable & (board.held_ohm() > HELD_OHM)))
    return place_map([_moved(s, at) for s in evidence.strokes], namer, usable, floating)


def _moved(stroke: Stroke, at: np.ndarray) -> Stroke:
    return replace(
        stroke, rise=stroke.rise[:, at], onset_s=stroke.onset_s[:, at], again_s=stroke.again_s[:, at],
        apart=stroke.apart[np.ix_(at, at)], together=stroke.together[np.ix_(at, at)],
    )  # fmt: skip


def _without_open(evidence: Evidence, places: PlaceMap, layout: Layout) -> Evidence:
    """The evidence without touches that were not felt because their strip is open; the same where there are none."""
    rows = {(f.lines[0], p) for f in places.faults if f.kind is Kind.ROW_OPEN for p in (0, 1) if f.panel in (p, None)}
    columns = {f.lines[0] for f in places.faults if f.kind is Kind.COLUMN_OPEN}
    kept = [
        t for t in evidence.touches
        if t.rise.any() or ((t.row, t.column // layout.columns_per_panel) not in rows and t.column not in columns)
    ]  # fmt: skip
    return evidence if len(kept) == len(evidence.touches) else replace(evidence, touches=kept)


def _named(wrong: Wrong, layout: Layout, namer: Namer) -> Fault:
    """A wrong part as a fault, with what would look the same."""
    found = _part_fault(wrong, layout, namer)
    return namer.or_else(found, tuple(_part_fault(other, layout, namer) for other in wrong.instead))


def _part_fault(wrong: Wrong, layout: Layout, namer: Namer) -> Fault:
    (name, line), ohm = wrong.part, wrong.between
    match name:
        case "series":
            return namer.row_open(line, None) if ohm[0] == math.inf else namer.series(line, ohm, layout.series_ohm)
        case "pulldown":
            return namer.pulldown(line, ohm, layout.pulldown_ohm)
        case "reference":
            return namer.reference(ohm, layout.reference_ohm)
        case "upper" | "lower":
            return namer.divider(name, ohm)
        case "joined":
            return namer.plain(Kind.COLUMNS_JOINED, *divmod(line, 16))
        case "address":
            assert isinstance(wrong.value, tuple)
            return namer.plain(Kind.ADDRESS, *wrong.value)
        case "open_columns":
            return namer.plain(Kind.COLUMN_OPEN, line)
        case _:
            return namer.plain({"tap": Kind.TAP_OPEN, "zero": Kind.ZERO, "multiplexer": Kind.MULTIPLEXER}[name])


def _follows(fault: Fault, board: Soldered) -> bool:
    """Is it but what a wrong part makes of presses?"""
    if fault.kind in (Kind.ROW_OPEN, Kind.CELL_DEAD) and WEAK_ROW_OHM < board.series[fault.lines[0]] < math.inf:
        return True
    column = fault.lines[-1] if fault.kind in (Kind.COLUMN_OPEN, Kind.CELL_DEAD) else None
    return column is not None and board.pulldown[column] < WEAK_COLUMN_OHM


def _idle_faults(idle: Idle, board: Soldered, namer: Namer) -> list[Fault]:
    """Cells that conduct or jump on an empty mat."""
    at, usable = column_addresses(board.address, idle.mean.shape[1])
    look = usable & (board.held_ohm() <= HELD_OHM)
    stuck = (idle.mean[:, at] > STUCK) & look
    noisy = (idle.spread[:, at] > NOISY) & look & ~stuck
    out = [namer.plain(Kind.CELL_STUCK, int(r), int(c)) for r, c in np.argwhere(stuck)]
    return out + [namer.plain(Kind.CELL_NOISY, int(r), int(c)) for r, c in np.argwhere(noisy)]


# What explains a finding: where one of these faults has been named, the finding says nothing new.
EXPLAINED = {
    0: {Kind.DIVIDER, Kind.TAP_OPEN, Kind.ZERO, Kind.ADDRESS},
    3: {Kind.ZERO, Kind.ADDRESS},
    4: {Kind.DIVIDER, Kind.ADDRESS},
    5: {Kind.NO_PULLDOWN, Kind.CELL_STUCK, Kind.ADDRESS, Kind.PULLDOWN, Kind.COLUMNS_JOINED},
    6: {Kind.REFERENCE, Kind.SERIES, Kind.TAP_OPEN, Kind.ADDRESS, Kind.DIVIDER, Kind.CELL_STUCK, Kind.ROW_OPEN},
    7: {Kind.PULLDOWN, Kind.COLUMNS_JOINED, Kind.NO_PULLDOWN, Kind.ZERO, Kind.REFERENCE},
    8: {Kind.NO_PULLDOWN, Kind.PULLDOWN, Kind.ADDRESS, Kind.REFERENCE, Kind.ZERO},
    9: {Kind.PULLDOWN, Kind.ADDRESS, Kind.REFERENCE, Kind.ZERO},
    11: {Kind.SERIES, Kind.TAP_OPEN, Kind.ADDRESS, Kind.DIVIDER, Kind.ZERO, Kind.ROW_OPEN},
    12: {Kind.ADDRESS, Kind.DIVIDER, Kind.TAP_OPEN, Kind.ZERO},
    13: {Kind.DIVIDER, Kind.TAP_OPEN, Kind.ZERO, Kind.SERIES, Kind.REFERENCE, Kind.ROW_OPEN},
    15: {Kind.PULLDOWN, Kind.COLUMNS_JOINED, Kind.NO_PULLDOWN, Kind.ADDRESS, Kind.REFERENCE},
}  # fmt: skip


def finding_faults(findings: Sequence[Finding], known: Sequence[Fault], namer: Namer) -> list[Fault]:
    """Faults of the self-test that are not explained by those known already."""
    kinds = {f.kind for f in known}
    out = []
    for f in findings:
        if f.code < 16 and not kinds & EXPLAINED.get(f.code, set()):
            fault = _fault(f, namer)
            if fault is not None:
                out.append(fault)
    return out


def _fault(f: Finding, namer: Namer) -> Fault | None:
    column = namer.column(f.a)
    sentences: dict[int, tuple[str, str]] = {
        3: ("The 0 V input reads too high.", "Solder the multiplexer's input 8 to ground."),
        4: ("Half the supply reads wrong.", "Measure the divider's two resistors, the 3.3 V and the ADC's reference."),
        5: (f"C{column[1:]} reads high on an empty mat.", "Look along it for a crumb, damp, or a short to a row."),
        6: (
            "Row 0's driver comes out wrong.",
            "Measure row 0's resistor and the 1 kΩ to the pin REF without power.",
        ),
        8: (f"C{column[1:]} has no pull-down.", "Solder its resistor to ground, or its joint again."),
        9: (f"C{column[1:]} is shorted to 0 V.", "Look for a bridge to ground at its resistor and at the multiplexer."),
        11: (
            f"The settle time is too short: {f.value if f.value < 201 else 'more than 200'} µs would do.",
            "Set it: it is the mat's setting row_settle_us (0: what the mat measures); if it needs more than 20 µs, "
            "shorten the cable."
            if f.a == 2
            else "Set it: it is the mat's setting settle_us; if it needs more than 20 µs, shorten the cable.",
        ),
        12: (f"Address lines S{f.a} and S{f.b} seem exchanged.", "Look at the four address wires."),
        13: (f"The multiplexer's address line S{f.a} is stuck.", "Look at its wire, and for a bridge beside it."),
        14: (
            f"The converter's noise is {f.value / 16:.0f} steps.",
            "Try another USB supply and cable, and keep the mat's ADC wires away from the radio.",
        ),
        15: (
            f"The pull-down of {column} is about {f.value} Ω, unlike the others.",
            "Measure it without power; all pull-downs are to be 1 % parts of one value.",
        ),
    }  # fmt: skip
    if f.code == 7:
        return namer.other(
            f"The film of the {PANELS[f.a]} panel conducts sideways, about {f.value / 10:.1f} kΩ between columns.",
            "Cut it into one strip a column: an uncut sheet is refused, for it costs force without being seen.",
            (f.a,), Kind.FILM_UNCUT,
        )  # fmt: skip
    if f.code == NO_MULTIPLEXER:
        return namer.plain(Kind.MULTIPLEXER)
    if f.code not in sentences:
        return None
    sentence, remedy = sentences[f.code]
    return namer.other(sentence, remedy, (f.a,), Kind.SETTLE if f.code == 11 else Kind.OTHER)
