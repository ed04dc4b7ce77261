"""The lanes of a session's swings: measured once, kept beside the library, read from there afterwards.

Measuring all frames of an hour takes a minute; what is kept is a few seconds around each swing. The file is named after
the session and the number of its frames, so that it is never taken for another's; it can be thrown away.
"""

from __future__ import annotations

import contextlib
import io
import json
import math
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from groundtone.errors import GroundtoneError
from groundtone.files import data_folder
from groundtone.record.reader import Recording, open_recording
from groundtone.review.lane import outside
from groundtone.review.sessions import SessionView, SwingView
from groundtone.whole_file import write_whole

Array = NDArray[np.float64]
FORMAT = 1
_BEFORE_S, _AFTER_S = 3.0, 3.0
_SHOWN_BEFORE_S, _SHOWN_AFTER_S = 1.6, 1.8
_WORDS = {
    "takeaway": "takeaway",
    "turn": "turn of pressure",
    "top": "top (estimate)",
    "impact": "impact",
    "finish": "finish",
}
_ORDER = ("takeaway", "turn", "impact", "finish")
# Frames before a swing that the field's film has to have seen (its creep), s.
_LEAD_IN_S = 2.0


@dataclass(frozen=True)
class LanePicture:
    """One swing as it is drawn: every array has one entry a frame.

    Attributes
    ----------
    number : int
    title : str
    t_s : ndarray
        From impact (else from the turn), s.
    step : ndarray
        Event time: 0 at takeaway, 1 at the turn of pressure, 2 at impact, 3 at the finish, straight in between.
    share, overall : ndarray
    share_out, overall_out : ndarray of bool
        Outside the band.
    events : tuple of (float, float, str)
        Time, event time, word.
    limits : dict of str to tuple of (from s, to s, low, high)
        Bands of "share" and "overall".
    cues : tuple of (float, float, str)
        What sounded, from and to, s.
    device_s : ndarray
    turn_s, impact_s : float
        Device time, s; NaN where not known.
    lead : str
        "left" or "right".
    """

    number: int
    title: str
    t_s: Array
    step: Array
    share: Array
    overall: Array
    share_out: NDArray[np.bool_]
    overall_out: NDArray[np.bool_]
    events: tuple[tuple[float, float, str], ...]
    limits: dict[str, tuple[tuple[float, float, float, float], ...]]
    cues: tuple[tuple[float, float, str], ...]
    device_s: Array
    turn_s: float
    impact_s: float
    lead: str


@dataclass(frozen=True)
class _Kept:
    """What is kept of a session."""

    numbers: list[int]
    starts: NDArray[np.int64]
    t_s: Array
    share: Array
    overall: Array
    about: dict[str, Any]


def kept_path(session: str, frames: int) -> Path:
    """Where the lanes of a session lie."""
    return data_folder() / "lanes" / f"{session}-{frames}.npz"


def lane_pictures(view: SessionView) -> dict[int, LanePicture]:
    """The lanes of all swings of a session, by number.

    Raises
    ------
    GroundtoneError
        The recording cannot be read or measured.
    """
    kept = _read_kept(view) or _make_kept(view)
    return {swing.number: _picture(swing, kept) for swing in view.swings if swing.number in kept.numbers}


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
    from groundtone.review.measured import film_forces

    recording = _opened(path, path.stat().st_mtime_ns)
    film, _ = recording.film()
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


def _read_kept(view: SessionView) -> _Kept | None:
    found = sorted((data_folder() / "lanes").glob(f"{view.session}-*.npz"))
    for path in found:
        # A damaged file is measured anew.
        with contextlib.suppress(OSError, ValueError, KeyError, BadZipFile), np.load(path, allow_pickle=False) as file:
            about = json.loads(str(file["about"]))
            if about["format"] != FORMAT or about["numbers"] != [s.number for s in view.swings]:
                continue
            return _Kept(
                about["numbers"], file["starts"], file["t_s"], file["share"].astype(np.float64),
                file["overall"].astype(np.float64), about,
            )  # fmt: skip
    return None


def _make_kept(view: SessionView) -> _Kept:
    from groundtone.review.measured import measure

    recording = _opened(view.path, view.path.stat().st_mtime_ns)
    series = measure(recording).series
    parts = [slice(*np.searchsorted(series.t_s, [_first(s) - _BEFORE_S, s.when_s + _AFTER_S])) for s in view.swings]
    starts = np.concatenate([[0], np.cumsum([p.stop - p.start for p in parts])]).astype(np.int64)
    index = np.concatenate([np.arange(p.start, p.stop) for p in parts]) if parts else np.array([], int)
    bands = recording.about.settings.bands
    numbers = [swing.number for swing in view.swings]
    about: dict[str, Any] = {
        "format": FORMAT,
        "numbers": numbers,
        "lead": "left" if series.lead == 0 else "right",
        "bands": {name: getattr(bands, name) for name in ("trail", "toes_before", "toes_after", "dwell_trail_s")},
        "heard": _heard(recording),
    }
    kept = _Kept(numbers, starts, series.t_s[index], series.share[index], series.overall[index], about)
    file = io.BytesIO()
    np.savez(
        file, starts=starts, t_s=kept.t_s, share=kept.share.astype(np.float32),
        overall=kept.overall.astype(np.float32), about=np.array(json.dumps(about)),
    )  # fmt: skip
    with contextlib.suppress(OSError):
        # Without room on the disk they are measured again the next time.
        write_whole(kept_path(view.session, len(recording.frames)), file.getvalue())
    return kept


def _heard(recording: Recording) -> list[list[Any]]:
    """Cues that sounded in the recording: name, from and to, s of device time."""
    out: list[list[Any]] = []
    begun: dict[str, float] = {}
    for entry in recording.heard:
        cue, at = str(entry.table.get("sound")), float(entry.table.get("device_us") or 0) * 1e-6
        if entry.table.get("size") is None:
            continue
        if entry.table.get("on"):
            begun.setdefault(cue, at)
        elif cue in begun:
            out.append([cue, begun.pop(cue), at])
    return out


def _first(swing: SwingView) -> float:
    return swing.events["takeaway"][0] if "takeaway" in swing.events else swing.when_s - 1.2


def _picture(swing: SwingView, kept: _Kept) -> LanePicture:
    at = kept.numbers.index(swing.number)
    part = slice(int(kept.starts[at]), int(kept.starts[at + 1]))
    device = kept.t_s[part]
    moments = {name: swing.events[name][0] for name in _WORDS if name in swing.events}
    turn, impact = moments.get("turn", math.nan), moments.get("impact", math.nan)
    zero = impact if not math.isnan(impact) else turn if not math.isnan(turn) else swing.when_s
    before = max(_SHOWN_BEFORE_S, zero - _first(swing) + 0.4)
    shown = (device >= zero - before) & (device <= zero + _SHOWN_AFTER_S)
    t_s, share, overall = device[shown] - zero, kept.share[part][shown], kept.overall[part][shown]
    limits = _limits(kept.about["bands"], turn - zero, before)
    knots = [(moments[name] - zero, float(i)) for i, name in enumerate(_ORDER) if name in moments]
    if "finish" not in moments:
        knots.append(((knots[-1][0] if knots else 0.0) + 0.8, 3.0))
    step = _stretched(t_s, knots)
    events = tuple(
        (when - zero, float(np.interp(when - zero, t_s, step)), _WORDS[name])
        for name, when in sorted(moments.items(), key=lambda item: item[1])
        if -before <= when - zero <= _SHOWN_AFTER_S and not (name == "top" and abs(when - turn) < 0.02)
    )
    cues = tuple(
        (max(begin - zero, -before), min(end - zero, _SHOWN_AFTER_S), str(cue))
        for cue, begin, end in kept.about["heard"]
        if end - zero > -before and begin - zero < _SHOWN_AFTER_S
    )
    return LanePicture(
        swing.number, swing.line, t_s, step, share, overall, outside(t_s, share, limits["share"]),
        outside(t_s, overall, limits["overall"]), events, limits, cues, device[shown], turn, impact,
        str(kept.about["lead"]),
    )  # fmt: skip


def _limits(
    bands: dict[str, float], turn_s: float, before_s: float
) -> dict[str, tuple[tuple[float, float, float, float], ...]]:
    turn = 0.0 if math.isnan(turn_s) else turn_s
    after = _SHOWN_AFTER_S
    return {
        "share": ((min(turn + bands["dwell_trail_s"], after), after, bands["trail"], math.inf),),
        "overall": (
            (-before_s, turn, -math.inf, bands["toes_before"]),
            (turn, after, -math.inf, bands["toes_after"]),
        ),
    }


def _stretched(t_s: Array, knots: list[tuple[float, float]]) -> Array:
    """Event time of each frame: straight between events, with the outer pieces going on as before."""
    if len(knots) < 2:
        return t_s.copy()
    when, what = (np.array(column) for column in zip(*sorted(knots), strict=True))
    out: Array = np.interp(t_s, when, what)
    first, last = (what[1] - what[0]) / (when[1] - when[0]), (what[-1] - what[-2]) / max(when[-1] - when[-2], 1e-6)
    out = np.where(t_s < when[0], what[0] + (t_s - when[0]) * first, out)
    return np.where(t_s > when[-1], what[-1] + (t_s - when[-1]) * last, out)


def prepare(path: Path) -> int:
    """Measures the lanes of a session that has just ended, so that its review opens at once; how many there are."""
    from groundtone.review.sessions import open_session

    with contextlib.suppress(GroundtoneError):
        return len(lane_pictures(open_session(path)))
    return 0


def renamed(picture: LanePicture, title: str) -> LanePicture:
    """The same under another title."""
    return replace(picture, title=title)
