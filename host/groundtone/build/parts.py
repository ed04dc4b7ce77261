"""The bill of materials: what to buy for one mat, quantities computed from its description.

Prices are approximate, in euros, from memory, for small quantities; no shop and no maker is meant by any of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from groundtone.build.board_limits import facts_of
from groundtone.build.eseries import in_words
from groundtone.build.layout_check import check
from groundtone.build.mat_file import Mat
from groundtone.build.panel_drawings import seams
from groundtone.build.scan_budget import budget

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
    name : str
    quantity : float
    unit : str
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
    """Copper tape for both panels with spare, m: rows with their tails across, columns with theirs along."""
    layout, panel = mat.layout, mat.panel
    rows = layout.rows * (layout.width_mm + panel.margin_outer_mm)
    columns = layout.columns_per_panel * (layout.length_mm + panel.margin_heel_mm)
    strips = layout.rows + layout.columns_per_panel
    return 2 * _SPARE * ((rows + columns) * 1e-3 + strips * _TAIL_M)


def film_pieces(mat: Mat) -> tuple[int, float]:
    """Pieces of film for both panels, and the length of the longest, mm."""
    ends = [-2.0, *seams(mat), mat.layout.length_mm + 2.0]
    longest = max(high - low for low, high in pairwise(ends))
    return 2 * mat.layout.columns_per_panel * (len(ends) - 1), longest


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
    layout, panel, stack, e = mat.layout, mat.panel, mat.stack, mat.electrical
    cells, lines = layout.cells, layout.rows + layout.columns
    pieces, longest = film_pieces(mat)
    plate = f"{mat.base_width_mm:.0f} × {mat.base_length_mm:.0f}"
    pad = f"{layout.column_pitch_mm - panel.pad_gap_mm:.0f} × {layout.row_pitch_mm - panel.pad_gap_mm:.0f}"
    button = f"{panel.button_mm:g} × {panel.button_mm:g} × {stack.button_mm:g} mm"
    area_m2 = 2 * mat.base_width_mm * mat.base_length_mm * 1e-6
    tape = _up(copper_m(mat), 1.0)
    ways = _up(layout.rows + layout.columns_per_panel + 2, 2)
    load_ohm = budget(mat).load_ohm
    out = [
        Part("electronics", mat.board, 1, "pc.", facts_of(mat.board).price_eur,
             "another board of firmware/mat/board.py: pins differ, see `groundtone build wiring`"),
        Part("electronics", "74HC4067 16:1 multiplexer on a breakout board", 1, "pc.", 2.0,
             "two 74HC4051 need other wiring: not for this firmware"),
        Part("electronics", f"resistor {in_words(e.series_ohm)} 1 % (rows)", layout.rows, "pc.", 0.05 * layout.rows),
        Part("electronics", f"resistor {in_words(e.pulldown_ohm)} 1 % (columns)", layout.columns, "pc.",
             0.05 * layout.columns, "the value that `groundtone build divider` recommends for your film"),
        Part("electronics", f"resistor {in_words(e.reference_ohm)} 1 % (reference)", 1, "pc.", 0.05),
        Part("electronics", "resistor 10 kΩ 1 % (supply divider)", 2, "pc.", 0.1),
        Part("electronics", "capacitor 100 nF", 2, "pc.", 0.2),
        Part("electronics", "transient suppressor, 3.3 V or 5 V, two ways, low capacitance", lines + 1, "pc.",
             0.2 * (lines + 1), "arrays of four or six lines; without any a discharge may kill the chip"),
        Part("electronics", f"ribbon cable, {ways:.0f} ways, and two plugs with sockets a panel", 2, "m", 6.0,
             "telephone or network cable, soldered"),
        Part("electronics", "perforated board about 70 × 90 mm and pin headers", 1, "pc.", 3.0),
        Part("electronics", "closed box with a lid, about 120 × 80 × 35 mm", 1, "pc.", 4.0, "any"),
        Part("electronics", "USB data cable, 2 to 3 m", 1, "pc.", 5.0),
        Part("electronics", "resettable fuse 0.5 A, in the 5 V line", 1, "pc.", 0.5, "nothing: keep it"),
        Part("electronics", "button, small buzzer", 1, "set", 1.5, "leave them out"),
        Part("strike sensor", "piezo disc 27 mm", 1, "pc.", 0.5, "20 or 35 mm"),
        Part("strike sensor", "shielded lead", 1.2, "m", 1.5, "a twisted pair"),
        Part("strike sensor", "Schottky diode, small signal (clamp)", 2, "pc.", 0.3, "1N4148"),
        Part("strike sensor", "NPN transistor, small signal", 1, "pc.", 0.1),
        Part("strike sensor", "resistors 1 MΩ, 100 kΩ, 10 kΩ", 1, "set", 0.2),
        Part("panels", f"stiff base plate {plate} × {stack.base_mm:g} mm", 2, "pc.", 12 * area_m2 * 10 / 1.6,
             "fibreboard indoors; waterproof plywood or plastic outdoors; it must not bend under your heel on turf"),
        Part("panels", f"clear foil {plate} mm, {stack.foil_mm:g} mm", 4, "pc.", 4.0, "overhead foil, laminating film"),
        Part("panels", f"copper tape {panel.strip_mm:g} mm with conducting glue", tape, "m", 0.35 * tape,
             "copper tape with plain glue: solder every join"),
        Part("panels", f"pressure film, {pieces} strips {mat.film.strip_mm:g} × {longest:.0f} mm", pieces, "strips",
             max(8.0, 0.6 * pieces), "any film that `groundtone build divider` accepts"),
        Part("panels", f"stiff pads {pad} × {stack.pad_mm:g} mm", cells, "pc.", 0.08 * cells,
             "printed, milled or sawn; hard plastic, not foam"),
        Part("panels", f"elastomer buttons {button}", cells, "pc.", 0.03 * cells,
             "cut from a sheet of about 60 Shore A"),
        Part("panels", f"elastomer cover {plate} × {stack.cover_mm:g} mm, rough side up", 2, "pc.", 5 * area_m2 * 10),
        Part("panels", "double-sided tape 10 mm", _up(4 * (mat.base_width_mm + mat.base_length_mm) * 1e-3, 1), "m",
             3.0, "contact glue for rubber"),
        Part("panels", "rubber feet or anti-slip sheet", 2, "set", 3.0, "tent pegs through the corner holes on turf"),
        Part("panels", f"strip for the ball, 300 × 60 mm, {mat.height_mm:.0f} mm high in all", 1, "pc.", 4.0,
             "a tee of the same height"),
        Part("tools", f"puck for calibration: a stiff disc {panel.puck_mm:g} mm with a soft face, and weights of 1 to "
             "10 kg", 1, "set", 0.0, "water bottles, weighed"),
    ]  # fmt: skip
    bank = f"power bank {mat.power.bank_mah:.0f} mAh that stays on at low current"
    out.append(Part("electronics", f"{bank} (for Bluetooth)", 1, "pc.", 15.0, "feed from the computer's USB"))
    if load_ohm is not None:
        ohm = math.floor(load_ohm / 10) * 10
        out.append(
            Part("electronics", f"or, with any power bank: resistor {ohm} Ω, 1 W, across 5 V and ground", 1, "pc.", 0.3,
                 "a lamp of the same current"),
        )  # fmt: skip
    return out


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
    lines += ["", f"StrikeLink about {total_eur(bill):.0f} EUR without power bank and tools."]
    return "\n".join([*lines, ""])
