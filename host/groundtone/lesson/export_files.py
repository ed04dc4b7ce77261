"""Sessions as files of other programs: CSV for a spreadsheet, Parquet for data work, C3D for motion analysis.

C3D holds two force platforms and their centres of pressure in a laboratory frame: right-handed, X to the golfer's
right, Y from heels to toes, Z up, mm, origin midway between the panels. The stance frame of the program (+x from trail
to lead foot) is turned into it: for a right-handed golfer, whose lead foot is the left one, X is -x. Forces are those
of the ground on the golfer, Z up, N; moments N mm. A platform is of type 2 (three forces, three moments about the
middle of its surface); what a mat of vertical force cannot see (FX, FY, MZ) is 0.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from groundtone.errors import GroundtoneError, Telling
from groundtone.files import cell, write_whole
from groundtone.mat.layout import LEFT, RIGHT, Layout
from groundtone.pressure.feet import Stance
from groundtone.pressure.series import Series

if TYPE_CHECKING:
    import c3d

Columns = Mapping[str, Sequence[Any]]


def series_columns(series: Series) -> dict[str, Sequence[Any]]:
    """Every frame as columns; NaN where a value has no meaning.

    Device time in s, forces in N, centres in mm (feet in their panels: u along from the heel end, v across from the
    left edge; both together in the stance frame), shares and positions 0-1.
    """
    out: dict[str, Sequence[Any]] = {"t_s": series.t_s.tolist()}
    for foot, name in enumerate(("left", "right")):
        out[f"force_{name}_n"] = series.force_n[:, foot].tolist()
        out[f"cop_{name}_u_mm"] = series.u_mm[:, foot].tolist()
        out[f"cop_{name}_v_mm"] = series.v_mm[:, foot].tolist()
        out[f"heel_toe_{name}"] = series.position[:, foot].tolist()
    out["lead_share"] = series.share.tolist()
    out["heel_toe"] = series.overall.tolist()
    out["cop_x_mm"] = series.centre_mm[:, 0].tolist()
    out["cop_y_mm"] = series.centre_mm[:, 1].tolist()
    return out


def write_table(path: Path, columns: Columns) -> None:
    """Writes columns of equal length; the file's ending, .csv or .parquet, says how.

    CSV: a point for decimals, commas between, empty where a value is missing; numbers in their shortest exact form.

    Raises
    ------
    GroundtoneError
        Another ending, columns of unequal length, a missing library, or the file cannot be written.
    """
    lengths = {len(values) for values in columns.values()}
    if len(lengths) > 1:
        raise GroundtoneError(f"the columns of {path.name} have different lengths: nothing was written")
    match path.suffix.lower():
        case ".csv":
            content = _csv(columns)
        case ".parquet":
            content = _parquet(columns)
        case other:
            raise GroundtoneError(f"a table cannot be written as {other or 'a file without ending'}: .csv or .parquet")
    with Telling(GroundtoneError, f"{path} cannot be written", "check the folder and the disk"):
        write_whole(path, content)


def _plain(value: Any) -> Any:
    if isinstance(value, np.generic):
        value = value.item()
    return None if isinstance(value, float) and math.isnan(value) else value


def _csv(columns: Columns) -> bytes:
    held = io.StringIO(newline="")
    out = csv.writer(held)
    out.writerow(columns)
    for row in zip(*columns.values(), strict=True):
        out.writerow("" if (value := _plain(one)) is None else cell(value) for one in row)
    return held.getvalue().encode("utf-8")


def _parquet(columns: Columns) -> bytes:
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError as error:
        raise GroundtoneError("Parquet needs pyarrow: pip install 'groundtone[export]', or export as CSV") from error
    table = pa.table({name: pa.array([_plain(v) for v in values]) for name, values in columns.items()})
    held = io.BytesIO()
    pq.write_table(table, held)
    return held.getvalue()


MOST_FRAMES = 65_000
"""What one file holds: the format counts frames in 16 bits."""

_CHANNELS = ("FX", "FY", "FZ", "MX", "MY", "MZ")
_POINTS = ("CoP", "CoP left", "CoP right")


def to_laboratory(x_mm: NDArray[np.float64], stance: Stance) -> NDArray[np.float64]:
    """The stance frame's x as the laboratory's X (the golfer's right), mm."""
    return x_mm if stance.lead == RIGHT else -x_mm


def write_c3d(
    path: Path,
    series: Series,
    layout: Layout,
    stance: Stance,
    rate_hz: float,
    events: Sequence[tuple[float, str]] = (),
) -> None:
    """Writes a stretch of a session.

    Parameters
    ----------
    series : Series
        At least one frame, `MOST_FRAMES` at most; frames are taken as evenly spaced at `rate_hz`. Where a foot carries
        too little for a centre of pressure its point is marked as missing and its moments are 0.
    events : sequence of (float, str)
        Device time in s and word of each event.

    Raises
    ------
    GroundtoneError
        Nothing to write, too much for one file, or the file cannot be written.
    """
    n = series.t_s.size
    if not 1 <= n <= MOST_FRAMES:
        raise GroundtoneError(f"{n} frames do not fit one C3D file (1 to {MOST_FRAMES}): export swing by swing")
    try:
        import c3d
    except ImportError as error:
        raise GroundtoneError("C3D needs the package c3d: pip install 'groundtone[export]'") from error
    writer = c3d.Writer(point_rate=rate_hz, analog_rate=rate_hz, point_units="mm")
    analog, local = _channels(series, layout)
    points = _points(series, layout, stance, local)
    writer.add_frames([(points[i], analog[i][:, None]) for i in range(n)])
    writer.set_point_labels(list(_POINTS))
    writer.set_analog_labels([f"{name}{plate}" for plate in (1, 2) for name in _CHANNELS])
    writer.set_analog_general_scale(1.0)
    writer.set_analog_scales(np.ones(12))
    writer.set_analog_offsets(np.zeros(12))
    group = writer.analog_group
    _strings(group, "UNITS", ["N", "N", "N", "Nmm", "Nmm", "Nmm"] * 2)
    _platforms(writer.add_group(4, "FORCE_PLATFORM", "two foot panels"), layout, stance)
    if events:
        _events(writer.add_group(5, "EVENT", "events of the swing"), series, events)
    held = io.BytesIO()
    writer.write(held)
    with Telling(GroundtoneError, f"{path} cannot be written", "check the folder and the disk"):
        write_whole(path, held.getvalue())


def _channels(series: Series, layout: Layout) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Twelve channels (n, 12), and the centres from the panels' middles (n, 2, 2): right and forward, mm."""
    out = np.zeros((series.t_s.size, 12))
    local = np.stack([series.v_mm - layout.width_mm / 2, series.u_mm - layout.length_mm / 2], axis=-1)
    for panel in (LEFT, RIGHT):
        force = np.nan_to_num(series.force_n[:, panel])
        at = np.nan_to_num(local[:, panel])
        out[:, 6 * panel + 2] = force
        out[:, 6 * panel + 3] = force * at[:, 1]
        out[:, 6 * panel + 4] = -force * at[:, 0]
    return out, local


def _points(series: Series, layout: Layout, stance: Stance, local: NDArray[np.float64]) -> NDArray[np.float32]:
    """Points (n, 3, 5): x, y, z, residual (-1 missing), cameras."""
    out = np.zeros((series.t_s.size, 3, 5), np.float32)
    places = [np.stack([to_laboratory(series.centre_mm[:, 0], stance), series.centre_mm[:, 1]], axis=1)]
    places += [_placed(panel, local[:, panel], layout, stance) for panel in (LEFT, RIGHT)]
    for i, place in enumerate(places):
        missing = np.isnan(place).any(axis=1)
        out[:, i, :2] = np.nan_to_num(place)
        out[missing, i, 3] = -1.0
    return out


def _placed(panel: int, local: NDArray[np.float64], layout: Layout, stance: Stance) -> NDArray[np.float64]:
    """Points of a panel (n, 2), from its middle, in the laboratory, mm; three points tell its pose."""
    middle, right, ahead = (_corner(panel, *at, layout, stance) for at in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0)))
    out: NDArray[np.float64] = middle + local @ np.stack([right - middle, ahead - middle])
    return out


def _corner(panel: int, right_mm: float, ahead_mm: float, layout: Layout, stance: Stance) -> NDArray[np.float64]:
    x, y = stance.to_stance(panel, ahead_mm + layout.length_mm / 2, right_mm + layout.width_mm / 2, layout)
    return np.array([x if stance.lead == RIGHT else -x, y])


def _strings(group: c3d.Group, name: str, words: Sequence[str]) -> None:
    size = max(map(len, words))
    group.add_str(name, "", "".join(word.ljust(size) for word in words), size, len(words))


def _array(group: c3d.Group, name: str, values: NDArray[Any]) -> None:
    """An array parameter: the format's first dimension runs fastest, numpy's last."""
    group.add(name, "", values.itemsize, "", values.tobytes(), *reversed(values.shape))


def _platforms(group: c3d.Group, layout: Layout, stance: Stance) -> None:
    group.add("USED", "number of platforms", 2, "<H", 2)
    _array(group, "TYPE", np.array([2, 2], "<i2"))
    _array(group, "ZERO", np.array([0, 0], "<i2"))
    half = layout.width_mm / 2, layout.length_mm / 2
    corners = [
        [[*_corner(panel, sx * half[0], sy * half[1], layout, stance), 0.0] for sx, sy in _QUADRANTS]
        for panel in (LEFT, RIGHT)
    ]
    _array(group, "CORNERS", np.array(corners, "<f4"))
    _array(group, "ORIGIN", np.zeros((2, 3), "<f4"))
    _array(group, "CHANNEL", np.arange(1, 13, dtype="<i2").reshape(2, 6))


# Corners in the format's order: the platform's quadrants +x+y, -x+y, -x-y, +x-y.
_QUADRANTS = ((1, 1), (-1, 1), (-1, -1), (1, -1))


def _events(group: c3d.Group, series: Series, events: Sequence[tuple[float, str]]) -> None:
    group.add("USED", "number of events", 2, "<H", len(events))
    _strings(group, "LABELS", [word for _, word in events])
    _strings(group, "CONTEXTS", ["General"] * len(events))
    # Minutes and seconds.
    since = np.array([t - series.t_s[0] for t, _ in events])
    times = np.stack([since // 60, since % 60], axis=1)
    _array(group, "TIMES", times.astype("<f4"))
