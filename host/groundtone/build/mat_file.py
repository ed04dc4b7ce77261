"""The one description of a mat from which everything is built: a TOML file of hardware/mats, read and checked."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from groundtone.build.dangers import Ground, bevel_for, glue_refusals, ground_refusals, power_refusals
from groundtone.build.entries import same_names, section, whole, within, word
from groundtone.build.mechanics import GLUE_MPA, SHEAR_PART, Base, hardest_load_n, plate_check
from groundtone.errors import BuildError, LayoutError
from groundtone.mat.layout import Layout

LEAST_GAP_MM = 3.0
"""Between neighbouring strips, of copper or of film: what a hand cuts and glues, with water kept out (chosen by us)."""
COLUMN_LAYERS = 2
"""Of tape on each other in a column: it crosses every row's edge, and where one cracks the other carries on."""
RIM_FREE_MM = 2.0
"""Between rim and pads."""
LEAST_RIM_MM = 5.0
"""Width of the rim that a hand saws and glues (chosen by us)."""
RIBBON_MM = 1.27
"""From wire to wire of a ribbon cable."""


@dataclass(frozen=True)
class Electrical:
    """Resistors, pins and lines; the layout file of the mat has the first three and the mean of the two pins.

    What has a usual value came later: a description without it is of a mat without these parts. `cell_pf` is the
    capacitance of one crossing where it was measured, 0 where it is to be computed; `input_ohm` stands before each
    input of the multiplexer in use, `output_ohm` behind its output; `clamp_leak_ua` is what the two diodes of the
    strike sensor's clamp let through at most, `strike_series_ohm` what stands before them.
    """

    pulldown_ohm: float = within(10, 1e6, "Ω")
    series_ohm: float = within(1, 10_000, "Ω")
    reference_ohm: float = within(100, 100_000, "Ω")
    pin_high_ohm: float = within(1, 1000, "Ω")
    pin_low_ohm: float = within(1, 1000, "Ω")
    supply_v: float = within(1.8, 5.5, "V")
    adc_noise_lsb: float = within(0.1, 100, "steps")
    line_pf: float = within(1, 100_000, "pF")
    suppressor_pf: float = within(0, 10_000, "pF", usual=0.0)
    cell_pf: float = within(0, 10_000, "pF", usual=0.0)
    input_ohm: float = within(0, 100_000, "Ω", usual=0.0)
    output_ohm: float = within(0, 100_000, "Ω", usual=0.0)
    strike_series_ohm: float = within(100, 1e7, "Ω", usual=10e3)
    clamp_leak_ua: float = within(0, 100, "µA", usual=2.0)


@dataclass(frozen=True)
class FilmSheet:
    """The film that was bought: measured on one crossing under two weights, and the sheets it comes in."""

    weight_kg: tuple[float, float]
    resistance_ohm: tuple[float, float]
    thickness_mm: float = within(0.02, 3, "mm")
    strip_mm: float = within(2, 100, "mm")
    sheet_mm: float = within(50, 5000, "mm")


@dataclass(frozen=True)
class Person:
    """The heaviest person the mat is built for, and how much of it one foot gets at the hardest moment."""

    mass_kg: float = within(20, 200, "kg")
    peak: float = within(1, 4)
    peak_lead: float = within(0.5, 1)


@dataclass(frozen=True)
class Water:
    """A wet mat: what stands between the strips."""

    conductivity_s_m: float = within(0, 10, "S/m")
    depth_mm: float = within(0, 5, "mm")
    joined_ohm: float = within(0.001, 1e6, "Ω")


@dataclass(frozen=True)
class ScanPlan:
    """How the mat is scanned; times from the firmware's bench, µs."""

    rate_hz: float = within(1, 400, "Hz")
    oversample: int = whole(1, 8)
    bits: int = whole(12, 14)
    settle_us: float = within(0, 1000, "µs")
    conversion_us: float = within(0.1, 1000, "µs")
    read_us: float = within(0, 1000, "µs")
    again_us: float = within(0, 1000, "µs")
    row_us: float = within(0, 1000, "µs")
    strike_us: float = within(0, 1000, "µs")
    message_us: float = within(0, 10_000, "µs")
    row_settle_us: float = within(0, 1000, "µs", usual=0.0)


@dataclass(frozen=True)
class RadioPlan:
    """What Bluetooth grants; from memory, no radio has been measured."""

    interval_ms: float = within(7.5, 4000, "ms")
    packets: int = whole(1, 20)
    air_ms: float = within(0.1, 20, "ms")


@dataclass(frozen=True)
class Power:
    """Currents at 5 V and the power bank."""

    usb_ma: float = within(1, 1000, "mA")
    radio_ma: float = within(1, 1000, "mA")
    bank_mah: float = within(100, 100_000, "mAh")
    bank_v: float = within(2, 5, "V")
    bank_efficiency: float = within(0.1, 1)
    bank_stays_on_ma: float = within(0, 1000, "mA")
    feed: str = word("usb")
    fuse_a: float = within(0, 20, "A", usual=0.5)


@dataclass(frozen=True)
class Panel:
    """Lengths of one panel, mm. The outer side is the side away from the other foot."""

    strip_mm: float = within(2, 100, "mm")
    margin_heel_mm: float = within(5, 200, "mm")
    margin_toe_mm: float = within(5, 200, "mm")
    margin_outer_mm: float = within(5, 200, "mm")
    margin_inner_mm: float = within(5, 200, "mm")
    corner_mm: float = within(0, 50, "mm")
    hole_mm: float = within(1, 20, "mm")
    hole_inset_mm: float = within(2, 50, "mm")
    notch_mm: float = within(5, 100, "mm")
    pad_gap_mm: float = within(0, 20, "mm")
    button_mm: float = within(2, 100, "mm")
    weight_mark_mm: float = within(20, 400, "mm")
    puck_mm: float = within(5, 100, "mm")
    widest_stance_mm: float = within(300, 1200, "mm")


@dataclass(frozen=True)
class Stack:
    """Thickness of each layer from below, mm."""

    base_mm: float = within(1, 40, "mm")
    foil_mm: float = within(0.02, 2, "mm")
    copper_mm: float = within(0.01, 1, "mm")
    button_mm: float = within(0.2, 10, "mm")
    pad_mm: float = within(0.5, 10, "mm")
    cover_mm: float = within(0.5, 20, "mm")
    sheet_mm: float = within(0.2, 10, "mm", usual=1.0)
    pads_glued_to: str = word("cover")
    buttons_glued_to: str = word("pads")


@dataclass(frozen=True)
class Mat:
    """Everything a builder decides.

    Attributes
    ----------
    layout : Layout
        The grid, as the program knows it.
    board : str
        A name of firmware/mat/board.py.
    electrical, film, person, water, scan, radio, power, panel, stack, base, ground
        See the classes above.
    """

    layout: Layout
    board: str
    electrical: Electrical
    film: FilmSheet
    person: Person
    water: Water
    scan: ScanPlan
    radio: RadioPlan
    power: Power
    panel: Panel
    stack: Stack
    base: Base
    ground: Ground

    @property
    def height_mm(self) -> float:
        """A panel's height over the ground: what the ball's strip has to make up."""
        s = self.stack
        return s.sheet_mm + s.base_mm + self.void_mm + s.cover_mm

    @property
    def void_mm(self) -> float:
        """From plate to cover: what the rim has to fill where no pad lies."""
        s = self.stack
        return 2 * s.foil_mm + (1 + COLUMN_LAYERS) * s.copper_mm + self.film.thickness_mm + s.button_mm + s.pad_mm

    @property
    def rim_mm(self) -> float:
        """The rim's height, of the buttons' sheet and the pads' plastic; off-cuts of foil and film make up the rest."""
        return self.stack.button_mm + self.stack.pad_mm

    @property
    def bevel_mm(self) -> float:
        """Width of the bevel along every edge."""
        return self.ground.bevel_mm or float(math.ceil(bevel_for(self.height_mm)))

    @property
    def ways(self) -> int:
        """Wires of one panel's ribbon: its rows, its columns, and ground on what is left, an even number."""
        least = self.layout.rows + self.layout.columns_per_panel + 1
        return least + least % 2

    @property
    def rim_widths_mm(self) -> tuple[float, float, float, float]:
        """The rim at the outer, inner, heel and toe side: what pads, and the rows' wires at outer and heel, leave."""
        p, wires = self.panel, self.layout.rows * RIBBON_MM + 2.0
        outer, inner, heel, toe = p.margin_outer_mm, p.margin_inner_mm, p.margin_heel_mm, p.margin_toe_mm
        free = RIM_FREE_MM
        return outer - free - wires, inner - free, heel - free - wires, toe - free

    @property
    def rim_mm2(self) -> float:
        """What of a plate the rim is glued to."""
        outer, inner, heel, toe = self.rim_widths_mm
        width, length = self.base_width_mm, self.base_length_mm
        return width * toe + (width - self.panel.notch_mm) * heel + (length - toe - heel) * (outer + inner)

    @property
    def base_width_mm(self) -> float:
        """A base plate's width across."""
        return self.layout.width_mm + self.panel.margin_outer_mm + self.panel.margin_inner_mm

    @property
    def base_length_mm(self) -> float:
        """A base plate's length along the foot."""
        return self.layout.length_mm + self.panel.margin_heel_mm + self.panel.margin_toe_mm


_SECTIONS: dict[str, type] = {
    "electrical": Electrical, "film": FilmSheet, "person": Person, "water": Water, "scan": ScanPlan,
    "radio": RadioPlan, "power": Power, "panel": Panel, "stack": Stack, "base": Base, "ground": Ground,
}  # fmt: skip
_GRID = ("id", "board", "rows", "columns_per_panel", "row_pitch_mm", "column_pitch_mm")


def mat_from(table: Mapping[str, Any], source: str) -> Mat:
    """A mat from a parsed TOML table.

    Raises
    ------
    BuildError
        Names the entry that is missing, unknown, no number or outside its range.
    """
    table = _brought_up(table)
    same_names(f"mat {source}", set(table), {*_GRID, *_SECTIONS})
    parts = {name: section(kind, name, table[name], source) for name, kind in _SECTIONS.items()}
    electrical, panel, film = parts["electrical"], parts["panel"], parts["film"]
    if not isinstance(table["board"], str):
        raise BuildError(f"mat {source}: board must be a name in quotation marks, as in firmware/mat/board.py")
    try:
        layout = Layout(
            **{name: table[name] for name in _GRID if name != "board"},
            pulldown_ohm=electrical.pulldown_ohm,
            series_ohm=electrical.series_ohm,
            reference_ohm=electrical.reference_ohm,
            driver_ohm=(electrical.pin_high_ohm + electrical.pin_low_ohm) / 2,
        )
    except LayoutError as error:
        raise BuildError(f"mat {source}: {error}") from error
    ending = f"-{layout.rows}x{layout.columns_per_panel}"
    if not layout.id.endswith(ending):
        raise BuildError(f"mat {source}: id = {layout.id!r} must end with {ending}: the firmware scans what it says")
    mat = Mat(layout, table["board"], **parts)
    _fits(panel.strip_mm < layout.row_pitch_mm, source, "panel.strip_mm is wider than the row pitch")
    gap = min(layout.row_pitch_mm, layout.column_pitch_mm) - panel.strip_mm
    _fits(
        gap >= LEAST_GAP_MM,
        source,
        f"strips {gap:.3g} mm apart touch when a hand cuts them; {LEAST_GAP_MM:g} mm is least",
    )
    _fits(panel.button_mm < layout.row_pitch_mm - panel.pad_gap_mm, source, "panel.button_mm is larger than a pad")
    _fits(panel.strip_mm <= film.strip_mm, source, "film.strip_mm is narrower than a copper strip")
    film_gap = layout.column_pitch_mm - film.strip_mm
    _fits(film_gap > 0, source, "film.strip_mm reaches into the next column")
    _fits(film_gap >= LEAST_GAP_MM, source, f"strips of film {film_gap:.3g} mm apart are less than {LEAST_GAP_MM:g} mm")
    _fits(film.sheet_mm >= 2 * layout.row_pitch_mm, source, "film.sheet_mm is shorter than two rows")
    for side, rim in zip(("outer", "inner", "heel", "toe"), mat.rim_widths_mm, strict=True):
        margin = getattr(panel, f"margin_{side}_mm")
        _fits(
            rim >= LEAST_RIM_MM,
            source,
            f"panel.margin_{side}_mm = {margin:g} leaves no room for a firm rim under the cover's edge: "
            f"{math.ceil(margin - rim + LEAST_RIM_MM)} mm is least",
        )
    _fits(
        panel.hole_mm / 2 < panel.hole_inset_mm <= min(mat.rim_widths_mm[2:]) - panel.hole_mm / 2,
        source,
        "the holes do not fit into the rim at heel and toe end",
    )
    _fits(
        panel.notch_mm >= mat.ways * RIBBON_MM + 2.0,
        source,
        f"a ribbon of {mat.ways} wires does not leave by panel.notch_mm = {panel.notch_mm:g}: "
        f"{math.ceil(mat.ways * RIBBON_MM + 2.0)} mm is least",
    )
    if dangers := dangers_of(mat):
        raise BuildError(f"mat {source}: {'; '.join(dangers)}")
    return mat


def dangers_of(mat: Mat) -> list[str]:
    """Sentences: what of a description must not be built, each with the value that mends it."""
    person, stack, power = mat.person, mat.stack, mat.power
    load_n = hardest_load_n(person.mass_kg, person.peak, person.peak_lead)
    out = list(plate_check(mat.base, stack.base_mm, mat.base_width_mm, load_n).refusals)
    out += ground_refusals(mat.ground, mat.height_mm)
    out += power_refusals(power.feed, power.fuse_a)
    out += glue_refusals(stack.pads_glued_to, stack.buttons_glued_to)
    if (shear := SHEAR_PART * load_n / mat.rim_mm2) > GLUE_MPA:
        out.append(
            f"the rim's glue would carry {shear:.2f} N/mm² of a swing's shear and {GLUE_MPA:g} are allowed: make the "
            f"margins wider, so that the rim has {SHEAR_PART * load_n / GLUE_MPA:.0f} mm²"
        )
    return out


def _brought_up(table: Mapping[str, Any]) -> dict[str, Any]:
    """A description as it is written today: what an earlier one does not know is left to its usual value."""
    out = {"base": {}, "ground": {}} | dict(table)
    panel = out.get("panel")
    if isinstance(panel, Mapping) and "slot_mm" in panel:
        out["panel"] = {("notch_mm" if key == "slot_mm" else key): value for key, value in panel.items()}
    return out


def _fits(right: bool, source: str, what: str) -> None:
    if not right:
        raise BuildError(f"mat {source}: {what}: change one of them")


def mats_folder() -> Path:
    """Where the descriptions that come with the program lie."""
    inside = Path(str(files("groundtone"))) / "data" / "mats"
    return inside if inside.is_dir() else Path(__file__).parents[3] / "hardware" / "mats"


def read_mat(name: str) -> Mat:
    """A mat by the name of a description that comes with the program, or by a TOML file's path.

    Parameters
    ----------
    name : str
        Such as "starter", "reference" or "my/mat.toml".

    Raises
    ------
    BuildError
        With one sentence.
    """
    path = Path(name)
    if path.suffix != ".toml":
        known = sorted(entry.stem for entry in mats_folder().glob("*.toml"))
        if name not in known:
            raise BuildError(f"there is no mat {name!r}: name one of {', '.join(known)}, or a TOML file")
        path = mats_folder() / f"{name}.toml"
    try:
        return mat_from(tomllib.loads(path.read_text("utf-8")), path.name)
    except OSError as error:
        raise BuildError(f"the mat's file {path} cannot be read ({error.strerror}): check its name") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BuildError(f"the mat's file {path} is not TOML ({error}): compare it with hardware/mats") from error
