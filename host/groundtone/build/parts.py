"""The bill of materials: what to buy for one mat, quantities computed from its description.

Prices are approximate, in euros, from memory, for small quantities; no shop and no maker is meant by any of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from groundtone.build.board_limits import facts_of
from groundtone.build.layout_check import check
from groundtone.build.mat_file import COLUMN_LAYERS, Mat
from groundtone.build.panel_drawings import seams
from groundtone.build.soldered import TEST_OHM
from groundtone.build.wiring import (
    CAPACITOR,
    DIODE,
    EARPHONES,
    SOUND_CAPACITOR,
    STRIKE_CAPACITOR,
    STRIKE_LEAD_M,
    SUPPRESSOR,
    TRANSISTOR,
    fuse,
    resistor,
    soldered,
)  # fmt: skip

_SPARE = 1.15  # a piece is spoilt now and then
_GROUPS = ("panels", "electronics", "strike sensor", "tools")
_TAIL_M = 0.03  # copper that is folded over a strip's end


@dataclass(frozen=True)
class Part:
    """One line of the bill.

    Attributes
    ----------
    group : str
        Panels, electronics, strike sensor or tools.
    price_eur : float
        Approximate, for the whole quantity.
    instead : str
        What does as well.
    """

    group: str
    name: str
    quantity: float
    unit: str
    price_eur: float
    instead: str = ""


def copper_m(mat: Mat) -> float:
    """Copper tape for both panels with spare, m: rows with their tails across, columns with theirs along, doubled."""
    layout, panel = mat.layout, mat.panel
    rows = layout.rows * (layout.width_mm + panel.margin_outer_mm)
    columns = COLUMN_LAYERS * layout.columns_per_panel * (layout.length_mm + panel.margin_heel_mm)
    strips = layout.rows + COLUMN_LAYERS * layout.columns_per_panel
    return 2 * _SPARE * ((rows + columns) * 1e-3 + strips * _TAIL_M)


def film_pieces(mat: Mat) -> tuple[int, float]:
    """Pieces of film for both panels, and the length of the longest, mm."""
    ends = [-2.0, *seams(mat), mat.layout.length_mm + 2.0]
    longest = max(high - low for low, high in pairwise(ends))
    return 2 * mat.layout.columns_per_panel * (len(ends) - 1), longest


def ribbon_m(mat: Mat) -> float:
    """Ribbon for both panels, m: along a panel, to the box behind the heels at the widest stance, with a tenth more."""
    one = mat.base_length_mm + mat.ground.box_behind_mm + mat.panel.widest_stance_mm / 2
    return _up(2 * 1.1 * one * 1e-3, 0.5)


def _up(value: float, step: float) -> float:
    return math.ceil(value / step - 1e-9) * step


def parts(mat: Mat) -> list[Part]:
    """Everything for one mat of two panels.

    Raises
    ------
    BuildError
        Where the grid does not fit the board.
    """
    check(mat)
    layout, panel, stack = mat.layout, mat.panel, mat.stack
    cells = layout.cells
    pieces, longest = film_pieces(mat)
    plate = f"{mat.base_width_mm:.0f} × {mat.base_length_mm:.0f}"
    pad = f"{layout.column_pitch_mm - panel.pad_gap_mm:.0f} × {layout.row_pitch_mm - panel.pad_gap_mm:.0f}"
    button = f"{panel.button_mm:g} × {panel.button_mm:g} × {stack.button_mm:g} mm"
    area_m2 = 2 * mat.base_width_mm * mat.base_length_mm * 1e-6
    tape = _up(copper_m(mat), 1.0)
    around = _up(4 * (mat.base_width_mm + mat.base_length_mm) * 1e-3, 1)
    g, high = mat.ground, f"{mat.height_mm:.1f}"
    return [
        *_electronics(mat),
        Part("panels", f"stiff base plate {plate} × {stack.base_mm:g} mm of {mat.base.material}", 2, "pc.",
             12 * area_m2 * 10 / 1.6, "what `groundtone build plate` does not refuse; waterproof outdoors"),
        Part("panels", f"clear foil {plate} mm, {stack.foil_mm:g} mm, cut by sheets 2 and 4", 4, "pc.", 4.0,
             "overhead foil, laminating film"),
        Part("panels", f"copper tape {panel.strip_mm:g} mm with conducting glue, tinned", tape, "m", 0.35 * tape,
             "bare copper, which cracks sooner; with plain glue: solder every join"),
        Part("panels", f"pressure film, {pieces} strips {mat.film.strip_mm:g} × {longest:.0f} mm", pieces, "strips",
             max(8.0, 0.6 * pieces), "piezoresistive film: carbon-filled polyethylene sheet, about 0.1 mm; any that "
             "`groundtone build divider` accepts"),
        Part("panels", f"stiff pads {pad} × {stack.pad_mm:g} mm", cells, "pc.", 0.08 * cells,
             "printed, milled or sawn; hard plastic, not foam"),
        Part("panels", f"elastomer buttons {button}", cells, "pc.", 0.03 * cells,
             "cut from a sheet of about 60 Shore A"),
        Part("panels", f"elastomer cover {plate} × {stack.cover_mm:g} mm, rough side up", 2, "pc.", 5 * area_m2 * 10),
        Part("panels", f"rim of firm strip {mat.rim_mm:g} mm high, by sheet 1-rim", 2, "set", 2.0,
             "the pads' plastic and the buttons' sheet on each other"),
        Part("panels", f"lids over the ribbon, of the pads' plastic, {stack.pad_mm:g} mm, by sheet 1-rim", 2, "set",
             1.0),
        Part("panels", f"wedge {mat.bevel_mm:g} × {high} mm, for bevelled edges", around, "m", 1.5 * around,
             "wood planed to that slope, or flatter"),
        Part("panels", "double-sided tape 10 mm (lower foil to plate, ends of film)", 2 * around, "m", 3.0),
        Part("panels", "contact glue for rubber and plastic, 50 ml (pads and rim to cover, buttons to pads, rim to "
             "plate)", 1, "tube", 4.0),
        Part("panels", "cloth tape 50 mm, for seams of the edges and for leads on the floor", around + 4, "m", 3.0),
        Part("panels", f"anti-slip rubber sheet {plate} × {stack.sheet_mm:g} mm, under the whole plate", 2, "pc.", 4.0,
             "never feet"),
        Part("panels", f"turf-faced board for the ball, {g.strip_length_mm:.0f} × {g.strip_depth_mm:.0f} mm, {high} mm "
             "high in all, edges bevelled", 1, "pc.", 6.0, "a tee of the same height, on turf, without strike sensor"),
        Part("panels", f"pegs with flat heads, {panel.hole_mm:g} mm (on turf)", 12, "pc.", 2.0,
             "on a hard floor anti-slip rubber under the ball's board as well"),
        Part("tools", f"puck for calibration: a stiff disc {panel.puck_mm:g} mm with a soft face, and weights of 1 to "
             "10 kg", 1, "set", 0.0, "water bottles, weighed"),
    ]  # fmt: skip


def _electronics(mat: Mat) -> list[Part]:
    """The board and what is soldered to it, counted from the wiring, and what it takes to solder it."""
    e, count = mat.electrical, soldered(mat)
    hints = {
        resistor(e.pulldown_ohm): "the pull-downs alone: the value that `groundtone build divider` recommends for your "
        "film",
        fuse(mat): "nothing: keep it",
        SUPPRESSOR: "arrays of four or six lines; without any a discharge may kill the chip",
        DIODE: "1N4148; no Schottky diode: its leakage hides strikes",
        "button": "leave it out",
        "small piezo buzzer": "leave it out",
        EARPHONES: "leave it out with its two resistors and its capacitor, and join the buzzer's other lead to ground",
    }
    # In a bag of parts, the test resistor lies beside those that are soldered.
    count[resistor(TEST_OHM)] += 1
    prices = {fuse(mat): 0.5, SUPPRESSOR: 0.2, CAPACITOR: 0.1, DIODE: 0.15, TRANSISTOR: 0.1, "button": 0.5,
              "small piezo buzzer": 1.0, EARPHONES: 0.8, SOUND_CAPACITOR: 0.1, STRIKE_CAPACITOR: 0.1}  # fmt: skip
    extra = {
        SUPPRESSOR: ", one-way, 5 V working voltage at most, 50 pF at most", DIODE: " BAV199 (clamp; two in one case)",
        resistor(TEST_OHM): ", one of them on two short bare leads for commissioning",
    }  # fmt: skip
    return [
        Part("electronics", mat.board, 1, "pc.", facts_of(mat.board).price_eur,
             "another board of firmware/mat/board.py: pins differ, see `groundtone build wiring`"),
        Part("electronics", "74HC4067 16:1 multiplexer on a breakout board", 1, "pc.", 2.0,
             "two 74HC4051 need other wiring: not for this firmware"),
        *(Part("electronics", f"{'resistor ' * name[0].isdigit()}{name}{extra.get(name, '')}", number, "pc.",
             prices.get(name, 0.05) * number, hints.get(name, "")) for name, number in count.items()),
        Part("electronics", f"ribbon cable, {mat.ways} ways", ribbon_m(mat), "m", 2.0 * ribbon_m(mat),
             "telephone or network cable, soldered"),
        Part("electronics", f"plug and socket for it, {mat.ways} contacts", 2, "pair", 2.0),
        Part("electronics", "perforated board about 70 × 90 mm", 1, "pc.", 2.0),
        Part("electronics", "pin header and sockets for board and multiplexer, 40 contacts", 2, "pc.", 1.5),
        Part("electronics", "breadboard and jumper wires (first hour)", 1, "set", 4.0, "solder at once"),
        Part("electronics", "hook-up wire, three colours", 5, "m", 2.0),
        Part("electronics", "solder, 1 mm, with flux", 10, "m", 3.0),
        Part("electronics", "closed box with a lid, about 120 × 80 × 35 mm", 1, "pc.", 4.0, "any"),
        Part("electronics", "USB data cable, 2 to 3 m; its red wire is cut for the fuse", 1, "pc.", 5.0),
        Part("electronics", "heat-shrink sleeve for the fuse, cable ties for strain relief", 1, "set", 1.0),
        Part("electronics", f"power bank {mat.power.bank_mah:.0f} mAh that stays on at low current (for Bluetooth)", 1,
             "pc.", 15.0, "feed from the computer's USB; any power bank with the resistor of 1 W"),
        Part("strike sensor", "piezo disc 27 mm", 1, "pc.", 0.5, "20 or 35 mm"),
        Part("strike sensor", "shielded lead", STRIKE_LEAD_M, "m", 2.0, "a twisted pair, more easily disturbed"),
    ]  # fmt: skip


def total_eur(bill: list[Part], *, without: tuple[str, ...] = ("tools",)) -> float:
    """Approximate price of everything, a power bank left out of it, €."""
    return sum(part.price_eur for part in bill if part.group not in without and "power bank" not in part.name)


def table(mat: Mat) -> str:
    """The bill as Markdown."""
    bill = parts(mat)
    lines = [
        f"Parts of {mat.layout.id}. Prices are approximate, from memory.",
        "",
        "| group | part | quantity | about, EUR | instead |",
        "|---|---|---|---|---|",
    ]
    for part in sorted(bill, key=lambda part: _GROUPS.index(part.group)):
        quantity = f"{part.quantity:g} {part.unit}"
        lines.append(f"| {part.group} | {part.name} | {quantity} | {part.price_eur:.2f} | {part.instead or '-'} |")
    lines += ["", f"Together about {total_eur(bill):.0f} EUR without power bank and tools."]
    return "\n".join([*lines, ""])
