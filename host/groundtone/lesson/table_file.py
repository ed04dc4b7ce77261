"""Tables as files: CSV for a spreadsheet, Parquet for data work."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from groundtone.errors import GroundtoneError
from groundtone.pressure.series import Series
from groundtone.whole_file import write_whole

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
    try:
        write_whole(path, content)
    except OSError as error:
        raise GroundtoneError(f"{path} cannot be written ({error.strerror}): check the folder and the disk") from error


def _plain(value: Any) -> Any:
    if isinstance(value, np.generic):
        value = value.item()
    return None if isinstance(value, float) and math.isnan(value) else value


def _csv(columns: Columns) -> bytes:
    held = io.StringIO(newline="")
    out = csv.writer(held)
    out.writerow(columns)
    for row in zip(*columns.values(), strict=True):
        out.writerow("" if (value := _plain(cell)) is None else _safe(value) for cell in row)
    return held.getvalue().encode("utf-8")


def _safe(value: Any) -> Any:
    # A spreadsheet takes text that begins so for a formula; a name may contain anything.
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value


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
