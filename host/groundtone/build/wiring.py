"""Every line of a mat from the board to the panels, with the parts in it: pin table, plugs, what there is to solder.

Whatever is soldered stands here once; the bill of materials counts it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from groundtone.build.board_limits import facts_of
from groundtone.build.eseries import in_words
from groundtone.build.layout_check import check
from groundtone.build.mat_file import Mat
from groundtone.build.scan_budget import budget
from groundtone.mat.layout import PANELS

STRIKE_LEAK_OHM = 1e6
"""Across the piezo: it lets its charge go, and keeps the lead quiet."""
STRIKE_FARAD = 1e-9
"""At the clamped node: it holds what the converter samples, and keeps a radio's field out."""
PIN_OHM = 4700.0
"""Into each of the two pins at the strike sensor: the clamp stands half a volt above the supply at a blow."""
DIVIDER_OHM = 10e3
"""Each of the two equal resistors that halve the supply for the multiplexer."""
SUPPRESSOR = "transient suppressor"
CAPACITOR = "capacitor 100 nF"
SOUND_CAPACITOR = "capacitor 10 µF"
EARPHONES = "earphone socket 3.5 mm"
BUZZER_OHM = 220.0
"""Before the buzzer: a piezo takes its charge at once, and a shorted one draws no more than a pin gives."""
SOUND_OHM = (1e3, 100.0)
"""Before the earphones' socket, and across it: 0.15 V at most, what EN 50332-2 lets a player give (from memory)."""
STRIKE_CAPACITOR = "capacitor 1 nF"
DIODE = "low-leakage diode"
TRANSISTOR = "NPN transistor, small signal"
STRIKE_LEAD_M = 2.0
"""From the disc at the golfer's edge of the ball's strip between the feet to the box behind the heels, with slack."""


@dataclass(frozen=True)
class Wire:
    """One line: where it begins, the parts in it with where they go, where it ends."""

    begin: str
    parts: tuple[tuple[str, str], ...]
    end: str

    @property
    def through(self) -> str:
        """The parts in words."""
        return ", ".join(f"{part} {where}".strip() for part, where in self.parts)


def resistor(ohm: float, kind: str = "1 %") -> str:
    """A resistor as it stands on the bill and in the table."""
    return f"{in_words(ohm)} {kind}"


def fuse(mat: Mat) -> str:
    """The fuse as it stands on the bill and in the table."""
    return f"resettable fuse {mat.power.fuse_a:g} A"


def awake_ohm(mat: Mat) -> tuple[float, float | None] | None:
    """The resistor that keeps a power bank on, and another one where the radio is off; None where none is needed."""
    off, on = budget(mat).awake
    if not facts_of(mat.board).radio or on is None:
        return None if off is None else (off.ohm, None)
    return on.ohm, off.ohm if off else None


def wires(mat: Mat) -> list[Wire]:
    """Every line of a mat, rows first.

    Raises
    ------
    BuildError
        Where the grid does not fit the board.
    """
    pins, layout, e = check(mat).pins, mat.layout, mat.electrical
    # Mats of before had none there.
    before = ((resistor(e.input_ohm), "before it"),) if e.input_ohm else ()
    behind = ((resistor(e.output_ohm), ""),) if e.output_ohm else ()
    guard = (SUPPRESSOR, "to ground")
    out = [
        Wire(pins.where(pins.rows[row]), ((resistor(e.series_ohm), ""), (SUPPRESSOR, "to ground behind it")),
             f"row R{row}, both panels")
        for row in range(layout.rows)
    ]  # fmt: skip
    out.append(Wire(pins.where(pins.ref), ((resistor(e.reference_ohm), ""),), "line of row R0, behind its resistor"))
    for column in range(layout.columns):
        panel, within = divmod(column, layout.columns_per_panel)
        at = (resistor(e.pulldown_ohm), "from the column to ground")
        end = f"column C{column}: {PANELS[panel]} panel, strip {within + 1} from its left edge"
        out.append(Wire(f"multiplexer I{column}", (*before, at, guard), end))
    half = (resistor(DIVIDER_OHM), "")
    power = [(pins.power["5V"], ((fuse(mat), "in the cut red wire of the USB lead"),), "USB plug, 5 V")]
    if (ohm := awake_ohm(mat)) is not None:
        where = "fitted last, with a power bank that switches off only"
        where += f" ({in_words(ohm[1])} where the radio is off)" if ohm[1] else ""
        power.append(("5 V, behind the fuse", ((resistor(ohm[0], "1 W"), where),), "ground"))
    strike = (
        (resistor(PIN_OHM), "at the pin"), (DIODE, "to 3V3"), (DIODE, "to ground"), (STRIKE_CAPACITOR, "to ground"),
        (resistor(e.strike_series_ohm), "before them"), (resistor(STRIKE_LEAK_OHM), "to ground at the lead"),
        (SUPPRESSOR, "to ground at the lead"),
    )  # fmt: skip
    rest: list[tuple[str, tuple[tuple[str, str], ...], str]] = [
        (f"multiplexer I{pins.zero}", before, "ground"),
        (f"multiplexer I{pins.supply}", (half,), "3V3"),
        (f"multiplexer I{pins.supply} too", (half,), "ground"),
        (f"multiplexer I{pins.tap}", before, "line of row R0, behind its resistor"),
        *((pins.where(gpio), (), f"multiplexer S{k}") for k, gpio in enumerate(pins.address)),
        (pins.where(pins.adc), behind, "multiplexer output (Z, SIG or COM)"),
        (pins.power["3V3"], ((CAPACITOR, "to ground at the multiplexer"), (CAPACITOR, "to ground at the board")),
         "multiplexer VCC"),
        (pins.power["GND"], (), "multiplexer GND and enable (E or EN)"),
        (pins.power["AGND"], (), "ground of the pull-downs"),
        *power,
        (pins.where(pins.strike), strike, f"core of the piezo's lead of {STRIKE_LEAD_M:g} m, to the disc's silver"),
        (f"{pins.power['AGND']} too", (), "shield of the piezo's lead, to the disc's brass and no other ground"),
        (pins.where(pins.edge), ((resistor(PIN_OHM), "at the pin"), (TRANSISTOR, "by its collector"),
         (resistor(100e3), "before its base")),
         "the piezo's clamped node"),
        (pins.where(pins.button), (("button", "(optional)"),), "ground"),
        *_sound(pins.where(pins.buzzer)),
    ]  # fmt: skip
    return out + [Wire(*line) for line in rest]


def _sound(pin: str) -> list[tuple[str, tuple[tuple[str, str], ...], str]]:
    """The buzzer, and a socket for earphones that cuts it off while a plug is in: its tip's switch opens then.

    A square wave of 3.3 V is at most 0.15 V at the open socket behind these two resistors, and in the other way they
    keep a shorted buzzer within what a pin gives.
    """
    contacts = f"{EARPHONES}, tip and ring"
    return [
        (pin, ((resistor(BUZZER_OHM), ""), ("small piezo buzzer", "(optional)")), f"{EARPHONES}, switch of the tip"),
        (f"{pin} too", ((resistor(SOUND_OHM[0]), ""), (SOUND_CAPACITOR, "plus to the resistor")), contacts),
        (contacts, ((resistor(SOUND_OHM[1]), ""),), "ground"),
        (f"{EARPHONES}, sleeve", ((EARPHONES, "with a switch at its tip"),), "ground"),
    ]


def soldered(mat: Mat) -> Counter[str]:
    """How many of each part the wiring has."""
    return Counter(part for wire in wires(mat) for part, _ in wire.parts)


def plug(mat: Mat) -> list[tuple[int, str, str]]:
    """Contacts of the two panels' plugs: number, and the lines of the left and of the right one."""
    layout = mat.layout
    lines = [[f"R{row}" for row in range(layout.rows)] for _ in PANELS]
    for panel, names in enumerate(lines):
        names += [f"C{panel * layout.columns_per_panel + c}" for c in range(layout.columns_per_panel)]
        names += ["ground"] * (mat.ways - len(names))
    return [(i + 1, left, right) for i, (left, right) in enumerate(zip(*lines, strict=True))]


def table(mat: Mat) -> str:
    """The pin table and the plugs as Markdown."""
    lines = [f"Wiring of {mat.layout.id} with board {mat.board}.", "", "| from | through | to |", "|---|---|---|"]
    lines += [f"| {wire.begin} | {wire.through or 'wire'} | {wire.end} |" for wire in wires(mat)]
    printed = "Multiplexer boards print C0 to C15 for I0 to I15, SIG for the output, EN for enable: an input's number."
    spare = "Spare ways of a ribbon go to ground at the box and end free, cut short, at the panel."
    lines += ["", printed, spare, "", "| contact of the plug | left panel | right panel |", "|---|---|---|"]
    lines += [f"| {number} | {left} | {right} |" for number, left, right in plug(mat)]
    return "\n".join([*lines, ""])
