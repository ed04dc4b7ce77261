"""Where each cell lies: the layout of a mat, read from hardware/layouts."""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.errors import LayoutError, Telling
from groundtone.files import data_folder, write_whole
from groundtone.mat.network import Drivers
from groundtone.wire.messages import Hello

LEFT, RIGHT = 0, 1
PANELS = ("left", "right")
_ORDERS = ("rows_left", "rows_right", "columns_order")
# No length in mm and no resistance of a board comes near this.
_LARGEST = 1e9


EARLIER_SERIES_OHM = 100.0
"""The rows' resistors of mats that were built before they had 220 Ω; profiles made then still belong to their mats."""


@dataclass(frozen=True)
class Layout:
    """Two panels of equal cells that share their row lines.

    Attributes
    ----------
    rows : int
        Along the foot, row 0 at the heel end.
    columns_per_panel : int
        Across, counted from a panel's left edge seen from above; left panel first.
    pulldown_ohm, series_ohm, reference_ohm, driver_ohm : float
        Parts of the board; `driver_ohm` is a pin's own resistance until it has been measured.
    rows_left, rows_right, columns_order : tuple of int
        Board lines in the order of the places on the mat, for a mat whose wires ended up in another order (as
        `groundtone build commission` finds it): place k of the left panel hangs on row line rows_left[k]. Empty: in
        order.
    """

    id: str
    rows: int
    columns_per_panel: int
    row_pitch_mm: float
    column_pitch_mm: float
    pulldown_ohm: float
    series_ohm: float
    reference_ohm: float
    driver_ohm: float
    rows_left: tuple[int, ...] = ()
    rows_right: tuple[int, ...] = ()
    columns_order: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if not (isinstance(self.id, str) and 1 <= len(self.id) <= 32):
            raise LayoutError(f"id = {self.id!r} in a layout: it must be a text of 1 to 32 characters")
        for name in ("rows", "columns_per_panel"):
            if type(getattr(self, name)) is not int:
                raise LayoutError(f"{name} = {getattr(self, name)!r} in layout {self.id}: it must be a whole number")
        for name in self.__dataclass_fields__:
            value = getattr(self, name)
            if name not in ("id", *_ORDERS) and not (type(value) in (int, float) and 0 < value < _LARGEST):
                raise LayoutError(f"{name} = {value!r} in layout {self.id}: it must be a plain number above zero")
        if self.rows < 2:
            raise LayoutError(f"layout {self.id} has one row: the mat measures its drivers with two, give at least 2")
        if self.rows > 16 or self.columns_per_panel > 4:
            raise LayoutError(
                f"layout {self.id} asks for more rows or columns than the board has: at most 16, and 4 a panel"
            )
        for name, count in zip(_ORDERS, (self.rows, self.rows, self.columns), strict=True):
            order = getattr(self, name)
            if order and (any(type(i) is not int for i in order) or sorted(order) != list(range(count))):
                raise LayoutError(f"{name} in layout {self.id} must hold each of 0 to {count - 1} once, in some order")

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Of the rows and of the columns."""
        return self.row_pitch_mm, self.column_pitch_mm

    @property
    def columns(self) -> int:
        """Columns of both panels."""
        return 2 * self.columns_per_panel

    @property
    def cells(self) -> int:
        """Cells of both panels."""
        return self.rows * self.columns

    @property
    def length_mm(self) -> float:
        """Active length of a panel along the foot."""
        return self.rows * self.row_pitch_mm

    @property
    def width_mm(self) -> float:
        """Active width of a panel across."""
        return self.columns_per_panel * self.column_pitch_mm

    @cached_property
    def u_mm(self) -> NDArray[np.float64]:
        """Centre of each row along the foot from the heel end, mm, shape (rows,)."""
        return (np.arange(self.rows, dtype=np.float64) + 0.5) * self.row_pitch_mm

    @cached_property
    def v_mm(self) -> NDArray[np.float64]:
        """Centre of each column across from the panel's left edge, mm, shape (columns_per_panel,)."""
        return (np.arange(self.columns_per_panel, dtype=np.float64) + 0.5) * self.column_pitch_mm

    def by_panel(self, cells: NDArray[np.float64]) -> NDArray[np.float64]:
        """Cells split into panels.

        Parameters
        ----------
        cells : ndarray, shape (..., rows, columns)

        Returns
        -------
        ndarray, shape (..., 2, rows, columns_per_panel)
            A view where numpy allows one; left panel first.
        """
        split = cells.reshape(*cells.shape[:-1], 2, self.columns_per_panel)
        return split.swapaxes(-3, -2)

    def column_lines(self, panel: int) -> list[int]:
        """The board's column lines that a panel hangs on, left to right."""
        lines = self.columns_order or tuple(range(self.columns))
        return list(lines[panel * self.columns_per_panel : (panel + 1) * self.columns_per_panel])

    def to_places(self, cells: NDArray[np.float64]) -> NDArray[np.float64]:
        """Cells in the order of the board's lines put where they lie on the mat.

        Parameters
        ----------
        cells : ndarray, shape (..., rows, columns)

        Returns
        -------
        ndarray, same shape
            The same array where the wires are in order.
        """
        if not (self.rows_left or self.rows_right or self.columns_order):
            return cells
        in_order = tuple(range(self.rows))
        column = np.array(self.columns_order or range(self.columns))
        left, right = np.array(self.rows_left or in_order), np.array(self.rows_right or in_order)
        row = np.stack([left if j < self.columns_per_panel else right for j in range(self.columns)], axis=1)
        placed: NDArray[np.float64] = cells[..., row, column]
        return placed

    def nominal_drivers(self) -> Drivers:
        """Driver resistances before anything has been measured."""
        ohm = self.series_ohm + self.driver_ohm
        return Drivers.equal(self.rows, self.columns, ohm, ohm, self.pulldown_ohm)

    @cached_property
    def digest(self) -> str:
        """Eight hex digits that change with any number of the layout."""
        # An order that is not given leaves the digest what it was before there were orders.
        fields = {
            name: value
            for name, value in vars(self).items()
            if name in self.__dataclass_fields__ and not (name in _ORDERS and not value)
        }
        return hashlib.sha256(json.dumps(fields, sort_keys=True).encode()).hexdigest()[:8]

    def as_in(self, digest: str) -> Layout | None:
        """The layout that a digest names: this one, or this one with the row resistors of earlier mats; else None."""
        earlier = replace(self, series_ohm=EARLIER_SERIES_OHM)
        return next((layout for layout in (self, earlier) if layout.digest == digest), None)


def layout_from(table: Mapping[str, Any], source: str) -> Layout:
    """A layout from a parsed TOML table; LayoutError says which entry is wrong."""
    electrical, order = table.get("electrical", {}), table.get("order", {})
    for name, part in (("electrical", electrical), ("order", order)):
        if not isinstance(part, Mapping):
            raise LayoutError(f"layout {source}: {name} must be a table of its own: see hardware/layouts")
    flat = {**{k: v for k, v in table.items() if k not in ("electrical", "order")}, **electrical}
    flat.update({k: tuple(v) if isinstance(v, list) else v for k, v in order.items()})
    names = set(Layout.__dataclass_fields__)
    missing, unknown = names - set(flat) - set(_ORDERS), set(flat) - names
    unknown |= {k for k in order if k not in _ORDERS} | {k for k in _ORDERS if not isinstance(flat.get(k, ()), tuple)}
    if missing or unknown:
        wrong = ", ".join(sorted(missing)) + (" missing" if missing else "")
        odd = ", ".join(sorted(unknown)) + (" unknown" if unknown else "")
        raise LayoutError(f"layout {source}: {'; '.join(part for part in (wrong, odd) if part)}: see hardware/layouts")
    return Layout(**flat)


def read_layout(path: Path) -> Layout:
    """A layout from a TOML file."""
    try:
        return layout_from(tomllib.loads(path.read_text("utf-8")), path.name)
    except OSError as error:
        raise LayoutError(f"layout file {path} cannot be read ({error.strerror}): check its name") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise LayoutError(f"layout file {path} is not TOML ({error}): compare it with hardware/layouts") from error


def known_layouts() -> dict[str, Layout]:
    """The layouts that come with the program, and the user's own, by id."""
    inside = Path(str(files("groundtone"))) / "data" / "layouts"
    folder = inside if inside.is_dir() else Path(__file__).parents[3] / "hardware" / "layouts"
    found = [*sorted(folder.glob("*.toml")), *sorted(user_layouts().glob("*.toml"))]
    return {layout.id: layout for layout in map(read_layout, found)}


def user_layouts() -> Path:
    """The folder of the layouts that belong to this user's mats."""
    return data_folder() / "layouts"


def keep_layout(layout: Layout) -> Path | None:
    """Put a layout where the program finds it, the one place for layouts of the user's own; None where it is there."""
    if known_layouts().get(layout.id) == layout:
        return None
    path = user_layouts() / f"{layout.id}.toml"
    with Telling(LayoutError, f"{path} cannot be written", "make room, or mend the folder"):
        write_whole(path, layout_text(layout))
    return path


def layout_text(layout: Layout) -> str:
    """A layout as the TOML file that `read_layout` reads."""
    order = [f"{name} = {list(getattr(layout, name))}" for name in _ORDERS if getattr(layout, name)]
    lines = [
        f'id = "{layout.id}"', f"rows = {layout.rows}", f"columns_per_panel = {layout.columns_per_panel}",
        f"row_pitch_mm = {layout.row_pitch_mm}", f"column_pitch_mm = {layout.column_pitch_mm}", "", "[electrical]",
        f"pulldown_ohm = {layout.pulldown_ohm}", f"series_ohm = {layout.series_ohm}",
        f"reference_ohm = {layout.reference_ohm}", f"driver_ohm = {layout.driver_ohm}",
    ]  # fmt: skip
    if order:
        lines += ["", "[order]", "# Board lines in the order of the places on the mat.", *order]
    return "\n".join(lines) + "\n"


def layout_for(hello: Hello) -> Layout:
    """The layout of the mat that said hello.

    Raises
    ------
    LayoutError
        It is not known, or does not fit what the mat scans.
    """
    layout = layout_of(hello.layout)
    if (layout.rows, layout.columns) != (hello.rows, hello.columns):
        raise LayoutError(
            f"the mat scans {hello.rows} x {hello.columns} cells and its layout {layout.id} has "
            f"{layout.rows} x {layout.columns}: set the mat's layout"
        )
    return layout


def layout_of(layout_id: str) -> Layout:
    """The layout a mat names in its hello; LayoutError where it is not known here."""
    known = known_layouts()
    if layout_id not in known:
        raise LayoutError(
            f"the mat's layout {layout_id!r} is not known here (known: {', '.join(known)}): "
            "give it one with 'groundtone build install --mat', or put yours there with 'groundtone build layout --mat'"
        )
    return known[layout_id]
