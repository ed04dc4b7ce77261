"""The pin table: every line from the board to the panels, the multiplexer and the strike sensor."""

from __future__ import annotations

from dataclasses import dataclass

from groundtone.build.eseries import in_words
from groundtone.build.layout_check import check
from groundtone.build.mat_file import Mat
from groundtone.mat.layout import PANELS

STRIKE_LEAK_OHM = 1e6
"""Across the piezo: it lets its charge go, and keeps the lead quiet."""
STRIKE_SERIES_OHM = 10e3
"""In the lead: it limits what the clamp diodes take."""
DIVIDER_OHM = 10e3
"""Each of the two equal resistors that halve the supply for the multiplexer."""


@dataclass(frozen=True)
class Wire:
    """One line: where it begins, what is in it, where it ends."""

    begin: str
    through: str
    end: str


def wires(mat: Mat) -> list[Wire]:
    """Every line of a mat, rows first.

    Raises
    ------
    BuildError
        Where the grid does not fit the board.
    """
    pins, layout, parts = check(mat).pins, mat.layout, mat.electrical
    series, pulldown = in_words(parts.series_ohm), in_words(parts.pulldown_ohm)
    out = [
        Wire(pins.where(pins.rows[row]), f"{series} 1 %, suppressor to ground behind it", f"row R{row}, both panels")
        for row in range(layout.rows)
    ]
    out.append(
        Wire(pins.where(pins.ref), f"{in_words(parts.reference_ohm)} 1 %", "line of row R0, behind its resistor")
    )
    for column in range(layout.columns):
        panel, within = divmod(column, layout.columns_per_panel)
        out.append(
            Wire(
                f"multiplexer I{column}",
                f"{pulldown} 1 % to ground, suppressor to ground",
                f"column C{column}: {PANELS[panel]} panel, strip {within + 1} from its left edge",
            )
        )
    out += [
        Wire(f"multiplexer I{pins.zero}", "", "ground"),
        Wire(f"multiplexer I{pins.supply}", "", f"middle of two equal {in_words(DIVIDER_OHM)} 1 % from 3V3 to ground"),
        Wire(f"multiplexer I{pins.tap}", "", "line of row R0, behind its resistor"),
        *(Wire(pins.where(gpio), "", f"multiplexer S{k}") for k, gpio in enumerate(pins.address)),
        Wire(pins.where(pins.adc), "", "multiplexer Z (common)"),
        Wire(pins.power["3V3"], "100 nF to ground at the multiplexer", "multiplexer VCC"),
        Wire(pins.power["GND"], "", "multiplexer GND and E (enable)"),
        Wire(pins.power["AGND"], "", "ground of the pull-downs"),
        Wire(
            pins.where(pins.strike),
            f"{in_words(STRIKE_SERIES_OHM)}, two clamp diodes to 3V3 and ground, {in_words(STRIKE_LEAK_OHM)} to ground",
            "piezo disc on its lead",
        ),
        Wire(pins.where(pins.edge), "collector of an NPN transistor, base over 100 kΩ", "the piezo's clamped node"),
        Wire(pins.where(pins.button), "", "button to ground (optional)"),
        Wire(pins.where(pins.buzzer), "", "small piezo buzzer to ground (optional)"),
    ]
    return out


def table(mat: Mat) -> str:
    """The pin table as Markdown."""
    lines = [f"Wiring of {mat.layout.id} with board {mat.board}.", "", "| from | through | to |", "|---|---|---|"]
    lines += [f"| {wire.begin} | {wire.through or 'wire'} | {wire.end} |" for wire in wires(mat)]
    return "\n".join([*lines, ""])
