"""The lanes of a session's swings: measured once, kept beside the library, read from there afterwards.

Measuring all frames of an hour takes a minute; what is kept is a few seconds around each swing. The file is named after
the session and the number of its frames, so that it is never taken for another's; it can be thrown away.
"""

from __future__ import annotations

import contextlib
import io
import json
import math
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from groundtone.errors import GroundtoneError
from groundtone.files import data_folder, write_whole
from groundtone.record.reader import Recording, open_recording
from groundtone.review.lane import Array, Lane, heard_in, lane_of
from groundtone.review.settings import bands_from, bands_in
from groundtone.review.swings import RecordedSession, SwingRow
from groundtone.swing.tempo import slowness

FORMAT = 1
_LIMITS = ("trail", "toes_setup", "toes_before", "toes_after", "dwell_trail_s")
_BEFORE_S, _AFTER_S = 3.0, 3.0
_SHOWN_BEFORE_S, _SHOWN_AFTER_S = 1.6, 1.8
_ORDER = ("takeaway", "turn", "impact", "finish")
# Frames before a swing that the field's film has to have seen (its creep), s.
_LEAD_IN_S = 2.0


@dataclass(frozen=True)
class SwingLane(Lane):
    """The lane of a recorded swing, for looking at frame by frame.

    Attributes
    ----------
    step : ndarray
        Event time: 0 at takeaway, 1 at the turn of pressure, 2 at impact, 3 at the finish, straight in between.
    device_s : ndarray
        Device time of each frame, s.
    turn_s, impact_s : float
        Device time, s; NaN where not known.
    lead : str
        "left" or "right".
    """

    number: int = 0
    step: Array = field(default_factory=lambda: np.empty(0))
    device_s: Array = field(default_factory=lambda: np.empty(0))
    turn_s: float = math.nan
    impact_s: float = math.nan
    lead: str = ""

    def step_at(self, t_s: float) -> float:
        """Event time of a time of the lane."""
        return float(np.interp(t_s, self.t_s, self.step))


@dataclass(frozen=True)
class _Kept:
    """What is kept of a session."""

    starts: NDArray[np.int64]
    t_s: Array
    share: Array
    overall: Array
    about: dict[str, Any]


@dataclass(frozen=True)
class _Piece:
    """The frames around one swing."""

    t_s: Array
    share: Array
    overall: Array


def kept_path(session: str, frames: int) -> Path:
    """Where the lanes of a session lie."""
    return data_folder() / "lanes" / f"{session}-{frames}.npz"


def swing_lanes(view: RecordedSession) -> dict[int, SwingLane]:
    """The lanes of all swings of a session, by number.

    Raises
    ------
    GroundtoneError
        The recording cannot be read or measured.
    """
    kept = _read_kept(view) or _make_kept(view)
    return {swing.number: _lane(swing, kept) for swing in view.swings if swing.number in kept.about["numbers"]}


def prepare(path: Path) -> int:
    """Measures the lanes of a session that has just ended, so that its review opens at once; how many there are."""
    from groundtone.review.library_reader import open_session

    with contextlib.suppress(GroundtoneError):
        return len(swing_lanes(open_session(path)))
    return 0


def swing_field(path: Path, begin_s: float, end_s: float) -> tuple[Array, NDArray[np.float32], Array]:
    """Force of each cell around a swing, by the film alone.

    Returns
    -------
    t_s : ndarray, shape (n,)
        Device time, s.
    force_n : ndarray, shape (n, rows, columns)
    centre : ndarray, shape (n, 2)
        Centre of pressure as fractions of rows and columns over both panels; NaN where nobody stands.
    """
    from groundtone.record.frames import Frames
    from groundtone.review.measured import film_forces, film_of

    recording = _opened(path, path.stat().st_mtime_ns)
    film, _ = film_of(recording)
    times = recording.frames.t_s
    first, last = np.searchsorted(times, [begin_s - _LEAD_IN_S, end_s])
    begin = int(np.searchsorted(times, begin_s))
    part = Frames(
        recording.frames.raw[first:last], recording.frames.host_ns[first:last], recording.frames.cells,
        recording.frames.bits,
    )  # fmt: skip
    force = np.nan_to_num(film_forces(part, recording.layout, film)[begin - int(first) :])
    total = force.sum((1, 2))
    with np.errstate(divide="ignore", invalid="ignore"):
        rows = np.where(total > 60, (force.sum(2) @ np.arange(force.shape[1])) / total, math.nan)
        columns = np.where(total > 60, (force.sum(1) @ np.arange(force.shape[2])) / total, math.nan)
    return times[begin:last], force.astype(np.float32), np.stack([rows, columns], axis=1)


@lru_cache(1)
def _opened(path: Path, _changed_ns: int) -> Recording:
    return open_recording(path)


def _read_kept(view: RecordedSession) -> _Kept | None:
    found = sorted((data_folder() / "lanes").glob(f"{view.session}-*.npz"))
    for path in found:
        # A damaged file is measured anew.
        with contextlib.suppress(OSError, ValueError, KeyError, BadZipFile), np.load(path, allow_pickle=False) as file:
            about = json.loads(str(file["about"]))
            if about["format"] != FORMAT or about["numbers"] != [s.number for s in view.swings]:
                continue
            return _Kept(
                file["starts"], file["t_s"], file["share"].astype(np.float64), file["overall"].astype(np.float64), about
            )
    return None


def _make_kept(view: RecordedSession) -> _Kept:
    from groundtone.review.measured import measure

    recording = _opened(view.path, view.path.stat().st_mtime_ns)
    series = measure(recording).series
    parts = [slice(*np.searchsorted(series.t_s, [_first(s) - _BEFORE_S, s.when_s + _AFTER_S])) for s in view.swings]
    starts = np.concatenate([[0], np.cumsum([p.stop - p.start for p in parts])]).astype(np.int64)
    index = np.concatenate([np.arange(p.start, p.stop) for p in parts]) if parts else np.array([], int)
    bands = bands_in(recording.about.settings)
    about: dict[str, Any] = {
        "format": FORMAT,
        "numbers": [swing.number for swing in view.swings],
        "lead": "left" if series.lead == 0 else "right",
        "bands": {name: getattr(bands, name) for name in _LIMITS},
        "heard": heard_in(recording),
    }
    kept = _Kept(starts, series.t_s[index], series.share[index], series.overall[index], about)
    file = io.BytesIO()
    np.savez(
        file, starts=starts, t_s=kept.t_s, share=kept.share.astype(np.float32),
        overall=kept.overall.astype(np.float32), about=np.array(json.dumps(about)),
    )  # fmt: skip
    with contextlib.suppress(OSError):
        # Without room on the disk they are measured again the next time.
        write_whole(kept_path(view.session, len(recording.frames)), file.getvalue())
    return kept


def _first(swing: SwingRow) -> float:
    return swing.events["takeaway"][0] if "takeaway" in swing.events else swing.when_s - 1.2


def _lane(swing: SwingRow, kept: _Kept) -> SwingLane:
    at = kept.about["numbers"].index(swing.number)
    part = slice(int(kept.starts[at]), int(kept.starts[at + 1]))
    piece = _Piece(kept.t_s[part], kept.share[part], kept.overall[part])
    moments = {name: when for name, (when, _, _) in swing.events.items()}
    turn, impact = moments.get("turn", math.nan), moments.get("impact", math.nan)
    zero = next((when for when in (impact, turn) if not math.isnan(when)), swing.when_s)
    before = max(_SHOWN_BEFORE_S, zero - _first(swing) + 0.4)
    slow = slowness(turn - moments["takeaway"]) if "takeaway" in moments and not math.isnan(turn) else 1.0
    lane = lane_of(
        moments, piece, bands_from(kept.about["bands"]), kept.about["heard"], zero_s=zero,
        span_s=(before, _SHOWN_AFTER_S), slow=slow, title=swing.line,
    )  # fmt: skip
    knots = [(moments[name] - zero, float(i)) for i, name in enumerate(_ORDER) if name in moments]
    if "finish" not in moments:
        knots.append(((knots[-1][0] if knots else 0.0) + 0.8, 3.0))
    return SwingLane(
        **vars(lane), number=swing.number, step=_stretched(lane.t_s, knots), device_s=lane.t_s + zero, turn_s=turn,
        impact_s=impact, lead=str(kept.about["lead"]),
    )  # fmt: skip


def _stretched(t_s: Array, knots: list[tuple[float, float]]) -> Array:
    """Event time of each frame: straight between events, with the outer pieces going on as before."""
    if len(knots) < 2:
        return t_s.copy()
    when, what = (np.array(column) for column in zip(*sorted(knots), strict=True))
    out: Array = np.interp(t_s, when, what)
    first, last = (what[1] - what[0]) / (when[1] - when[0]), (what[-1] - what[-2]) / max(when[-1] - when[-2], 1e-6)
    out = np.where(t_s < when[0], what[0] + (t_s - when[0]) * first, out)
    return np.where(t_s > when[-1], what[-1] + (t_s - when[-1]) * last, out)
