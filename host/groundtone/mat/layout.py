"""Where each cell lies: the layout of a mat, read from hardware/layouts."""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.errors import LayoutError
from groundtone.mat.network import Drivers

LEFT, RIGHT = 0, 1
PANELS = ("left", "right")
# No length in mm and no resistance of a board comes near this.
_LARGEST = 1e9


@dataclass(frozen=True)
class Layout:
    """Two panels of equal cells that share their row lines.

    Attributes
    ----------
    id : str
    rows : int
        Along the foot, row 0 at the heel end.
    columns_per_panel : int
        Across, counted from a panel's left edge seen from above; left panel first.
    row_pitch_mm, column_pitch_mm : float
    pulldown_ohm, series_ohm, reference_ohm, driver_ohm : float
        Parts of the board; `driver_ohm` is a pin's own resistance until it has been measured.
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

    def __post_init__(self) -> None:
        if not (isinstance(self.id, str) and 1 <= len(self.id) <= 32):
            raise LayoutError(f"id = {self.id!r} in a layout: it must be a text of 1 to 32 characters")
        for name in ("rows", "columns_per_panel"):
            if type(getattr(self, name)) is not int:
                raise LayoutError(f"{name} = {getattr(self, name)!r} in layout {self.id}: it must be a whole number")
        for name in self.__dataclass_fields__:
            value = getattr(self, name)
            if name != "id" and not (type(value) in (int, float) and 0 < value < _LARGEST):
                raise LayoutError(f"{name} = {value!r} in layout {self.id}: it must be a plain number above zero")
        if self.rows < 2:
            raise LayoutError(f"layout {self.id} has one row: the mat measures its drivers with two, give at least 2")
        if self.rows > 16 or self.columns_per_panel > 4:
            raise LayoutError(
                f"layout {self.id} asks for more rows or columns than the board has: at most 16, and 4 a panel"
            )

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

    def nominal_drivers(self) -> Drivers:
        """Driver resistances before anything has been measured."""
        ohm = self.series_ohm + self.driver_ohm
        return Drivers.equal(self.rows, self.columns, ohm, ohm, self.pulldown_ohm)

    @cached_property
    def digest(self) -> str:
        """Eight hex digits that change with any number of the layout."""
        fields = {name: value for name, value in vars(self).items() if name in self.__dataclass_fields__}
        return hashlib.sha256(json.dumps(fields, sort_keys=True).encode()).hexdigest()[:8]


def layout_from(table: Mapping[str, Any], source: str) -> Layout:
    """A layout from a parsed TOML table; LayoutError says which entry is wrong."""
    electrical = table.get("electrical", {})
    if not isinstance(electrical, Mapping):
        raise LayoutError(f"layout {source}: electrical must be a table of its own: see hardware/layouts")
    flat = {**{k: v for k, v in table.items() if k != "electrical"}, **electrical}
    names = set(Layout.__dataclass_fields__)
    missing, unknown = names - set(flat), set(flat) - names
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
    """The layouts that come with the program, by id."""
    inside = Path(str(files("groundtone"))) / "data" / "layouts"
    folder = inside if inside.is_dir() else Path(__file__).parents[3] / "hardware" / "layouts"
    return {layout.id: layout for layout in map(read_layout, sorted(folder.glob("*.toml")))}


def layout_of(layout_id: str) -> Layout:
    """The layout a mat names in its hello; LayoutError where it is not known here."""
    known = known_layouts()
    if layout_id not in known:
        raise LayoutError(
            f"the mat's layout {layout_id!r} is not known here (known: {', '.join(known)}): "
            "set its layout, or put its file into hardware/layouts"
        )
    return known[layout_id]
