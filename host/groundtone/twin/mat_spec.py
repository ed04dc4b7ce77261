"""A mat as it was built, as plain data: its size, its parts, its film and what is wrong with it."""

from dataclasses import dataclass, replace
from typing import Any

from groundtone.twin.wiring import make_wiring

Cell = tuple[int, int]
GRID = ("layout", "rows", "columns_per_panel", "row_pitch_mm", "column_pitch_mm")
GRIDS: dict[str, tuple[Any, ...]] = {
    "starter-10x3": ("starter-10x3", 10, 3, 32.0, 46.0),
    "reference-16x4": ("reference-16x4", 16, 4, 20.0, 35.0),
}
"""Of the known layouts what `GRID` names: rows, columns of a panel, their pitches, mm."""


def within(name: str, value: float, low: float, high: float) -> None:
    """Refuse what is no number, is not finite or lies outside its range."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"{name} must be a number, not {value!r}")
    if not low <= value <= high:
        raise ValueError(f"{name} must lie between {low:g} and {high:g}, not {value!r}")


def whole(name: str, value: int, low: int, high: int) -> None:
    """Refuse what is not a whole number in its range."""
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise ValueError(f"{name} must be a whole number between {low} and {high}, not {value!r}")


def one_of(name: str, value: str, allowed: tuple[str, ...]) -> None:
    """Refuse a word that is not on the list."""
    if value not in allowed:
        raise ValueError(f"{name} must be one of {', '.join(allowed)}, not {value!r}")


def yes_or_no(name: str, value: bool) -> None:
    """Refuse what is neither true nor false."""
    if not isinstance(value, bool):
        raise ValueError(f"{name} must be true or false, not {value!r}")


@dataclass(frozen=True)
class MatSpec:
    """A mat as it was built: what film, resistors, pins and ADC it has and what is wrong with it.

    Lengths in mm, resistances in Ω, conductances in S, forces in N. Cells are named (row, column) in electrical
    order. `gain_sigma` and `exponent_sigma` are spreads from cell to cell (the gain's is of its logarithm).
    `hysteresis` is how much higher the conductance is while unloading than while loading at the same force, as a
    fraction. `film_noise` is a fraction of the conductance (rms). `shoe_ratio_span` is how far what a shoe hands
    to the film may lie from 1, zone by zone. `bending_base` (0 stiff to 1) and `damp` (0 dry to 1 wet) are
    invented scales. `creep_kept` is the part of the creep that is a memory of conductance and stays after lifting; the
    rest acts on the gain of a loaded cell and ends with the load. `saturation_by_gain`: a cell of twice the gain
    saturates at twice the conductance. `drift_per_minute` is how fast the film's gain wanders off, `leak_s` what every
    cell conducts without load, `hum_lsb` and `hum_hz` the mains in the converter's readings (amplitude in steps of 12
    bits). `side_ohm` is the film's resistance between neighbouring columns of one panel where it was
    not cut. `wiring` are faults in the words of `groundtone.twin.wiring.parse_fault`. The defaults are the starter
    build, as on a board that was never set; the figures of the film are invented within published ranges.
    """

    seed: int = 1
    uid: str = "67742d7477696e21"
    layout: str = "starter-10x3"
    rows: int = 10
    columns_per_panel: int = 3
    row_pitch_mm: float = 32.0
    column_pitch_mm: float = 46.0
    rs_ohm: float = 1000.0
    series_ohm: float = 220.0
    reference_ohm: float = 1000.0
    pin_high_ohm: float = 55.0
    pin_low_ohm: float = 30.0
    pin_spread: float = 0.02
    resistor_tolerance: float = 0.01
    supply_v: float = 3.3
    adc_reference_v: float = 3.27
    adc_noise_lsb: float = 2.5
    adc_spikes: bool = True
    conductance_at_100n_s: float = 0.25e-3
    gain_sigma: float = 0.25
    exponent: float = 0.90
    exponent_sigma: float = 0.02
    saturation_s: float = 5e-3
    hysteresis: float = 0.05
    creep_per_decade: float = 0.03
    creep_kept: float = 1.0
    saturation_by_gain: bool = False
    drift_per_minute: float = 0.0
    leak_s: float = 0.0
    hum_lsb: float = 0.0
    hum_hz: float = 50.0
    film_noise: float = 0.002
    preload_n: float = 0.05
    pads: bool = True
    cover_blur_mm: float = 2.0
    bending_base: float = 0.0
    side_ohm: float | None = None
    shoe_ratio_span: float = 0.05
    joined_rows: tuple[tuple[int, int], ...] = ()
    joined_ohm: float = 50.0
    dead_cells: tuple[Cell, ...] = ()
    shorted_cells: tuple[Cell, ...] = ()
    noisy_cells: tuple[Cell, ...] = ()
    aged_each: float = 0.0
    aged_common: float = 0.0
    damp: float = 0.0
    wiring: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        whole("seed", self.seed, 0, 2**63 - 1)
        whole("rows", self.rows, 2, 16)
        whole("columns_per_panel", self.columns_per_panel, 1, 4)
        if len(self.uid) != 16 or any(c not in "0123456789abcdef" for c in self.uid):
            raise ValueError(f"uid must be 16 small hexadecimal digits, not {self.uid!r}")
        if not 1 <= len(self.layout) <= 32:
            raise ValueError(f"layout must have 1 to 32 characters, not {self.layout!r}")
        for name, low, high in (
            ("row_pitch_mm", 5, 100), ("column_pitch_mm", 5, 100), ("rs_ohm", 10, 1e5), ("series_ohm", 0, 1e4),
            ("reference_ohm", 100, 1e5), ("pin_high_ohm", 0.1, 1000), ("pin_low_ohm", 0.1, 1000),
            ("pin_spread", 0, 0.2), ("resistor_tolerance", 0, 0.1), ("supply_v", 1, 5.5), ("adc_reference_v", 1, 5.5),
            ("adc_noise_lsb", 0, 100), ("conductance_at_100n_s", 1e-6, 0.1), ("gain_sigma", 0, 1), ("exponent", 0.3, 2),
            ("exponent_sigma", 0, 0.2), ("saturation_s", 1e-4, 1e3), ("hysteresis", 0, 0.5),
            ("creep_per_decade", 0, 0.35), ("creep_kept", 0, 1), ("drift_per_minute", -0.02, 0.02), ("leak_s", 0, 1e-4),
            ("hum_lsb", 0, 100), ("hum_hz", 40, 70), ("film_noise", 0, 0.5), ("preload_n", 1e-3, 20),
            ("cover_blur_mm", 0, 20), ("bending_base", 0, 1), ("shoe_ratio_span", 0, 0.5),
            ("joined_ohm", 0.01, 1e6), ("damp", 0, 1),
            ("aged_each", 0, 0.95), ("aged_common", -0.9, 2),
        ):  # fmt: skip
            within(name, getattr(self, name), low, high)
        yes_or_no("pads", self.pads)
        yes_or_no("adc_spikes", self.adc_spikes)
        yes_or_no("saturation_by_gain", self.saturation_by_gain)
        if self.side_ohm is not None:
            within("side_ohm", self.side_ohm, 1, 1e9)
        for a, b in self.joined_rows:
            whole("joined row", a, 0, self.rows - 1)
            whole("joined row", b, 0, self.rows - 1)
            if a == b:
                raise ValueError(f"a row cannot be joined to itself: {a}")
        for name in ("dead_cells", "shorted_cells", "noisy_cells"):
            check_cells(name, getattr(self, name), self)
        make_wiring(self.wiring, self.rows, self.columns_per_panel)

    @classmethod
    def reference(cls, **others: Any) -> "MatSpec":
        """The reference build instead of the starter, and what else is given."""
        return replace(cls(**dict(zip(GRID, GRIDS["reference-16x4"], strict=True))), **others)

    @property
    def without_contact(self) -> tuple[Cell, ...]:
        """Cells that never conduct: dead ones, and those that the wiring's faults name."""
        if not self.wiring:
            return self.dead_cells
        return self.dead_cells + make_wiring(self.wiring, self.rows, self.columns_per_panel).dead

    @property
    def columns(self) -> int:
        """Columns of both panels together."""
        return 2 * self.columns_per_panel

    @property
    def panel_length_mm(self) -> float:
        """Length of one panel's active area along the foot, mm."""
        return self.rows * self.row_pitch_mm

    @property
    def panel_width_mm(self) -> float:
        """Width of one panel's active area, mm."""
        return self.columns_per_panel * self.column_pitch_mm


def check_cells(name: str, cells: tuple[Cell, ...], mat: MatSpec) -> None:
    """Refuse cells (row, column) that the mat does not have."""
    for row, column in cells:
        whole(f"row in {name}", row, 0, mat.rows - 1)
        whole(f"column in {name}", column, 0, mat.columns - 1)
