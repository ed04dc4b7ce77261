"""Another grid: does it fit the board's pins, one frame message, a person's feet, and what goes into its files."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

from groundtone.build.mat_file import Mat, mat_from
from groundtone.build.pins import Pins, pins_of
from groundtone.errors import BuildError
from groundtone.wire.messages import MAX_MESSAGE
from groundtone.wire.packing import frame_bytes

_GRID = ("id", "rows", "columns_per_panel", "row_pitch_mm", "column_pitch_mm")
# Cells this large no longer tell heel from toes; the foot's centre is off by more than a twelfth of the pitch.
_COARSE_MM = 45.0
_LONGEST_SHOE_MM = 300.0


@dataclass(frozen=True)
class LayoutCheck:
    """What `check` found: pins in use, the frame, and what is to know.

    Attributes
    ----------
    bits : int
        Of a value: 14 where they fit, else 12.
    active_mm : (float, float)
        Active length and width of a panel.
    """

    pins: Pins
    frame_bytes: int
    bits: int
    active_mm: tuple[float, float]
    notes: list[str]


def check(mat: Mat) -> LayoutCheck:
    """Check a mat's grid against its board and the wire.

    Raises
    ------
    BuildError
        Where it needs more pins than the board has, or a frame does not fit one notification.
    """
    layout, pins = mat.layout, pins_of(mat.board)
    _must_fit(layout.rows, layout.columns, mat.scan.bits, pins)
    notes = []
    if layout.row_pitch_mm > _COARSE_MM:
        notes.append(f"rows {layout.row_pitch_mm:g} mm apart are coarse for heel and toes: 20 to 35 mm is better")
    if layout.length_mm < _LONGEST_SHOE_MM:
        notes.append(
            f"the panel's active length of {layout.length_mm:g} mm is shorter than a large shoe: toes or heels stand "
            "outside"
        )
    return LayoutCheck(
        pins, frame_bytes(layout.cells, mat.scan.bits), mat.scan.bits, (layout.length_mm, layout.width_mm), notes
    )


def _must_fit(rows: int, columns: int, bits: int, pins: Pins) -> None:
    """Refuse a grid for want of pins or room in a frame, all reasons in one sentence."""
    reasons = []
    if rows > len(pins.rows):
        reasons.append(f"{rows} rows need as many pins and the {pins.board} has {len(pins.rows)} for them")
    if columns > pins.columns:
        reasons.append(f"{columns} columns need as many inputs and the multiplexer has {pins.columns} free")
    length = frame_bytes(rows * columns, bits)
    if length > MAX_MESSAGE:
        reasons.append(
            f"a frame of {rows * columns} cells would be {length} bytes and one notification has {MAX_MESSAGE}"
        )
    if reasons:
        raise BuildError(f"{'; '.join(reasons)}: use fewer rows or columns at a larger pitch")


def another_grid(
    base: Mat,
    *,
    name: str,
    rows: int | None = None,
    columns_per_panel: int | None = None,
    row_pitch_mm: float | None = None,
    column_pitch_mm: float | None = None,
    board: str | None = None,
    pulldown_ohm: float | None = None,
    series_ohm: float | None = None,
    bits: int | None = None,
) -> Mat:
    """A mat like another with a grid, a board or resistors of its own; what is not given stays.

    Parameters
    ----------
    name : str
        First part of its id, which ends with rows x columns.

    Raises
    ------
    BuildError
        With one sentence.
    """
    old = base.layout
    rows = old.rows if rows is None else rows
    columns = old.columns_per_panel if columns_per_panel is None else columns_per_panel
    pins = pins_of(base.board if board is None else board)
    _must_fit(rows, 2 * columns, base.scan.bits if bits is None else bits, pins)
    if not (name and name.replace("-", "").isalnum() and name.isascii()):
        raise BuildError(f"the name {name!r} will not do: use letters, digits and hyphens")
    table = as_table(base)
    given = {
        "rows": rows,
        "columns_per_panel": columns,
        "row_pitch_mm": row_pitch_mm,
        "column_pitch_mm": column_pitch_mm,
    }
    table.update({key: value for key, value in given.items() if value is not None})
    table["id"], table["board"] = f"{name}-{rows}x{columns}", pins.board
    for key, value in (("pulldown_ohm", pulldown_ohm), ("series_ohm", series_ohm)):
        if value is not None:
            table["electrical"][key] = value
    if bits is not None:
        table["scan"]["bits"] = bits
    return mat_from(table, table["id"])


def as_table(mat: Mat) -> dict[str, Any]:
    """A mat as the table that its TOML file holds."""
    table: dict[str, Any] = {key: getattr(mat.layout, key) for key in _GRID}
    table["board"] = mat.board
    for section in fields(mat):
        part = getattr(mat, section.name)
        if section.name not in ("layout", "board"):
            values = {entry.name: getattr(part, entry.name) for entry in fields(part)}
            table[section.name] = {
                key: list(value) if isinstance(value, tuple) else value for key, value in values.items()
            }
    return table


def mat_toml(mat: Mat) -> str:
    """The description of a mat, as hardware/mats holds them, without the comments."""
    table = as_table(mat)
    lines = [f"# {table['id']}, written by groundtone build layout; the entries are explained in hardware/mats."]
    lines += [_line(key, value) for key, value in table.items() if not isinstance(value, dict)]
    for name, section in table.items():
        if isinstance(section, dict):
            lines += ["", f"[{name}]", *(_line(key, value) for key, value in section.items())]
    return "\n".join([*lines, ""])


def _line(key: str, value: object) -> str:
    return f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value}"


def with_film(mat: Mat, weight_kg: tuple[float, float], resistance_ohm: tuple[float, float]) -> Mat:
    """The same mat with another film measured."""
    return replace(mat, film=replace(mat.film, weight_kg=weight_kg, resistance_ohm=resistance_ohm))
