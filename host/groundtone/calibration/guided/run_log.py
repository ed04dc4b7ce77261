"""The file of a bench run: one line of JSON for each placement, on the disk before the next one is asked for."""

from __future__ import annotations

import contextlib
import json
import math
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.guided.worklist import Step
from groundtone.errors import CalibrationError, Telling

FORMAT = 1
_MICRO = 1e6


@dataclass(frozen=True)
class RunHead:
    """Whose run it is and what it sets out to do: the first line.

    Attributes
    ----------
    uid, layout, layout_digest : str
        The mat's unique id, its layout's id and digest.
    date : str
        Begin, ISO 8601.
    shape : (rows, columns)
    weights : tuple of (words, force N, relative standard uncertainty)
    """

    uid: str
    layout: str
    layout_digest: str
    date: str
    shape: tuple[int, int]
    weights: tuple[tuple[str, float, float], ...]
    plan: tuple[Step, ...]
    note: str = ""


@dataclass(frozen=True)
class Run:
    """A run as it was read back.

    Attributes
    ----------
    placements : tuple of Placement
        Without those that were taken back.
    damaged : int
        Lines that could not be read and were left out.
    finished : bool
        The plan had been done to its end.
    """

    head: RunHead
    placements: tuple[Placement, ...]
    remarks: tuple[str, ...]
    damaged: int
    finished: bool


class RunLog:
    """Appends to a run's file. A full disk loses nothing that is there: what waits is written when it can be.

    Parameters
    ----------
    head : RunHead or None
        Begins a new file with it; None goes on with the file that is there.

    Raises
    ------
    CalibrationError
        A new file cannot be begun, or there is none to go on with.
    """

    def __init__(self, path: Path, head: RunHead | None = None) -> None:
        self.path = path
        self._waiting: list[bytes] = []
        self.trouble = ""
        # A new run never takes the place of something that is there, and only what was made here is taken away again.
        begin = os.O_CREAT | os.O_EXCL if head is not None else 0
        if head is not None and path.exists():
            raise CalibrationError(f"{path} is there already: choose another file for the run")
        try:
            if head is not None:
                path.parent.mkdir(parents=True, exist_ok=True)
            self._good = _whole_lines(path) if head is None else 0
            self._fd = os.open(path, os.O_RDWR | getattr(os, "O_BINARY", 0) | begin, 0o644)
            self._cut()
        except FileNotFoundError as error:
            raise CalibrationError(f"there is no run {path} to go on with: begin one without --resume") from error
        except OSError as error:
            raise CalibrationError(
                f"the run's file {path} cannot be written ({error.strerror}): check the folder and the disk"
            ) from error
        if head is not None and not self._append(_of_head(head)):
            self.close()
            path.unlink(missing_ok=True)
            raise CalibrationError(self.trouble)

    @property
    def waiting(self) -> int:
        """Lines that the disk has not taken yet."""
        return len(self._waiting)

    def placement(self, placement: Placement) -> bool:
        """Writes a placement; False where the disk does not take it now (`trouble` says why)."""
        return self._append({"placement": _of_placement(placement)})

    def lifted(self, t_s: float, grew: Sequence[tuple[float, float]] = ()) -> bool:
        """The newest placement was lifted at that time, s, and its reading had grown so: that is the film's memory."""
        more = {"grew": [[round(at_s, 4), round(value, 6)] for at_s, value in grew]} if grew else {}
        return self._append({"lifted": round(t_s, 4), **more})

    def remark(self, words: str) -> bool:
        """Writes a remark."""
        return self._append({"remark": words})

    def take_back(self) -> bool:
        """The newest placement that still counts is taken back."""
        return self._append({"taken back": 1})

    def finish(self) -> bool:
        """The plan has been done to its end."""
        return self._append({"finished": True})

    def close(self) -> None:
        """Tries once more what waits, and closes the file."""
        if self._fd >= 0:
            self._flush()
            os.close(self._fd)
            self._fd = -1

    def _append(self, record: Mapping[str, Any]) -> bool:
        self._waiting.append(json.dumps(record, allow_nan=False, separators=(",", ":")).encode() + b"\n")
        return self._flush()

    def _flush(self) -> bool:
        while self._waiting:
            line = self._waiting[0]
            try:
                # The system's own calls: no half line may wait in a buffer and come later.
                rest = line
                while rest:
                    rest = rest[os.write(self._fd, rest) :]
                os.fsync(self._fd)
            except OSError as error:
                self.trouble = (
                    f"the run's file {self.path} takes no more ({error.strerror}): make room on the disk; "
                    f"what it holds is safe, and {len(self._waiting)} more will be written then"
                )
                self._cut()
                return False
            self._good += len(line)
            self._waiting.pop(0)
        self.trouble = ""
        return True

    def _cut(self) -> None:
        """The file ends with its last whole line, and that is where writing goes on."""
        with contextlib.suppress(OSError):
            os.ftruncate(self._fd, self._good)
        os.lseek(self._fd, self._good, os.SEEK_SET)


def _whole_lines(path: Path) -> int:
    """Length of the file up to its last whole line."""
    return path.read_bytes().rfind(b"\n") + 1


def read_run(path: Path) -> Run:
    """A run from its file; lines that cannot be read are left out and counted.

    Raises
    ------
    CalibrationError
        There is no such file, it is no run, or a newer program wrote it.
    """
    with Telling(CalibrationError, f"the run {path} cannot be read", "check its name"):
        lines = path.read_bytes().split(b"\n")
    records: list[dict[str, Any]] = []
    damaged = 0
    for line in lines:
        if not line:
            continue
        try:
            record = json.loads(line)
        except ValueError:
            record = None
        if isinstance(record, dict):
            records.append(record)
        else:
            damaged += 1
    if not records or "groundtone bench run" not in records[0]:
        raise CalibrationError(f"{path} is not a bench run: choose another file, or begin a run")
    if records[0]["groundtone bench run"] != FORMAT:
        raise CalibrationError(f"the run {path} was written by another version: bring this program up to date")
    try:
        head = _to_head(records[0])
    except (KeyError, TypeError, ValueError, IndexError) as error:
        raise CalibrationError(f"the run {path} lacks its beginning: begin a new one") from error
    placements: list[Placement] = []
    remarks: list[str] = []
    finished = False
    for record in records[1:]:
        try:
            if "placement" in record:
                placements.append(_to_placement(record["placement"], head.shape))
            elif "taken back" in record:
                placements.pop()
            elif "lifted" in record:
                grew = tuple((float(at_s), float(value)) for at_s, value in record.get("grew", []))
                placements[-1] = replace(placements[-1], lifted_s=float(record["lifted"]), grew=grew)
            elif "remark" in record:
                remarks.append(str(record["remark"]))
            finished = finished or "finished" in record
        except (KeyError, TypeError, ValueError, IndexError):
            damaged += 1
    return Run(head, tuple(placements), tuple(remarks), damaged, finished)


def _of_head(head: RunHead) -> dict[str, Any]:
    steps = [[*s.cell, round(s.force_n, 5), s.words, int(s.falling), s.mass_u, s.hold_s] for s in head.plan]
    return {
        "groundtone bench run": FORMAT,
        "mat": head.uid,
        "layout": head.layout,
        "layout digest": head.layout_digest,
        "date": head.date,
        "note": head.note,
        "shape": list(head.shape),
        "weights": [list(weight) for weight in head.weights],
        "plan": steps,
    }


def _to_head(record: Mapping[str, Any]) -> RunHead:
    return RunHead(
        str(record["mat"]),
        str(record["layout"]),
        str(record["layout digest"]),
        str(record["date"]),
        (int(record["shape"][0]), int(record["shape"][1])),
        tuple((str(words), float(force), float(u)) for words, force, u in record["weights"]),
        tuple(
            Step((int(row), int(column)), float(force), str(words), bool(falling), float(u), *map(float, hold))
            for row, column, force, words, falling, u, *hold in record["plan"]
        ),
        str(record["note"]),
    )


def _of_placement(placement: Placement) -> dict[str, Any]:
    out: dict[str, Any] = {
        "cell": [placement.row, placement.column],
        "N": placement.force_n,
        "uS": _grid(placement.conductance_s),
        "falling": bool(placement.falling),
    }
    if placement.before_s is not None:
        out["before uS"] = _grid(placement.before_s)
    for name in ("drift", "mass_u", "peak_n", "peak_s", "t_s", "after_s", "reading_u"):
        value = float(getattr(placement, name))
        out[name] = None if math.isnan(value) else round(value, 7)
    return out


def _to_placement(record: Mapping[str, Any], shape: Sequence[int]) -> Placement:
    row, column = (int(n) for n in record["cell"])
    numbers: dict[str, Any] = {
        name: math.nan if record[name] is None else float(record[name])
        for name in ("drift", "mass_u", "peak_n", "peak_s", "t_s", "after_s", "reading_u")
    }
    drift = numbers.pop("drift")
    before = _to_grid(record["before uS"], shape) if "before uS" in record else None
    force_n = float(record["N"])
    if not (force_n > 0 and math.isfinite(force_n)):
        raise ValueError
    return Placement(
        row,
        column,
        force_n,
        _to_grid(record["uS"], shape),
        slice(0, 0),
        bool(record["falling"]),
        drift,
        before_s=before,
        **numbers,
    )


def _grid(conductance_s: NDArray[np.float64]) -> list[float]:
    return [round(value * _MICRO, 3) for value in conductance_s.ravel().tolist()]


def _to_grid(values: Sequence[float], shape: Sequence[int]) -> NDArray[np.float64]:
    grid = np.array(values, np.float64).reshape(tuple(shape)) / _MICRO
    if not np.isfinite(grid).all():
        raise ValueError
    return grid
