"""The checks of a mat, one line of JSON each, the newest last: they show its ageing and hold its correction."""

from __future__ import annotations

import contextlib
import datetime
import json
import math
import os
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.checking.check_result import CheckResult, Kind, Verdict
from groundtone.calibration.film import Film
from groundtone.calibration.guided.tare import Cell
from groundtone.calibration.profile import Profile
from groundtone.errors import GroundtoneError, ProfileError, Telling, sentence_of

FORMAT = 1


@dataclass(frozen=True)
class KeptCheck:
    """One check as it is kept, so that ageing is seen.

    Attributes
    ----------
    date : str
        ISO 8601.
    uid : str
        The mat's.
    common : float
        See `groundtone.calibration.checking.check_result.CheckResult`; so are the four that follow it.
    dead, drifted, unseen : tuple of (row, column)
        What this check found.
    profile_date : str
        Date of the profile that it was made with.
    findings : tuple of str
        One sentence each.
    mass_kg : float
        Of the body, as found; NaN: not known.
    hand : str
        "right", "left", or empty.
    filled : tuple of (row, column)
        All cells that are filled from their neighbours from now on.
    factor : ndarray, shape (rows, columns), or None
        What each cell's force is multiplied by; None without a correction.
    level_u : ndarray, shape (rows, columns), or None
        Relative standard uncertainty of each cell afterwards.
    """

    date: str
    uid: str
    verdict: str
    common: float
    dead: tuple[Cell, ...]
    drifted: tuple[Cell, ...]
    unseen: tuple[Cell, ...]
    share_u: float
    foot_u: float
    along_u_mm: float
    profile_date: str
    findings: tuple[str, ...]
    mass_kg: float = math.nan
    hand: str = ""
    filled: tuple[Cell, ...] = ()
    factor: NDArray[np.float64] | None = field(default=None, compare=False)
    level_u: NDArray[np.float64] | None = field(default=None, compare=False)

    @property
    def not_fit(self) -> bool:
        """The mat was not to be used."""
        return self.verdict == Verdict.NOT_FIT.words


def kept_from(result: CheckResult, film: Film, date: str, profile: Profile, hand: str) -> KeptCheck:
    """What is kept of a check.

    Parameters
    ----------
    film : Film
        Of the profile, before the check.
    date : str
        ISO 8601.
    """

    def cells(kind: Kind) -> tuple[Cell, ...]:
        return tuple(cell for f in result.findings if f.kind is kind for cell in f.cells)

    corrected_too = result.verdict is Verdict.CORRECTED
    return KeptCheck(
        date,
        profile.uid,
        result.verdict.words,
        result.common,
        cells(Kind.DEAD),
        cells(Kind.DRIFTED),
        result.unseen,
        result.share_u,
        result.foot_u,
        result.along_u_mm,
        profile.date,
        tuple(finding.text for finding in result.findings),
        result.mass_kg,
        hand,
        result.film.dead if corrected_too else (),
        np.exp(result.film.curves.level - film.curves.level) if corrected_too else None,
        result.film.level_u if corrected_too else None,
    )


def append_check(path: Path, kept: KeptCheck) -> None:
    """Adds a check; what is there stays, and a half line of a crash is closed first.

    Raises
    ------
    ProfileError
        The file cannot be written; it is as it was before.
    """
    line = json.dumps(_table(kept), allow_nan=False, separators=(",", ":")).encode() + b"\n"
    with Telling(ProfileError, f"the check cannot be kept in {path}", "check the folder and the disk"):
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o644)
        try:
            size = os.lseek(handle, 0, os.SEEK_END)
            if size:
                os.lseek(handle, size - 1, os.SEEK_SET)
                line = line if os.read(handle, 1) == b"\n" else b"\n" + line
            try:
                rest = line
                while rest:
                    rest = rest[os.write(handle, rest) :]
                os.fsync(handle)
            except OSError:
                with contextlib.suppress(OSError):
                    os.ftruncate(handle, size)
                raise
        finally:
            os.close(handle)


def read_checks(path: Path) -> list[KeptCheck]:
    """All checks of a file, the oldest first; lines that cannot be read are left out. No file, no checks.

    Raises
    ------
    ProfileError
        The file is there and cannot be read.
    """
    try:
        lines = path.read_bytes().split(b"\n")
    except FileNotFoundError:
        return []
    except OSError as error:
        raise ProfileError(f"the checks in {path} cannot be read ({error.strerror}): check the folder") from error
    out = []
    for line in filter(None, lines):
        with contextlib.suppress(ValueError, KeyError, TypeError):
            out.append(_kept(json.loads(line)))
    return out


def newest_for(checks: Sequence[KeptCheck], profile: Profile) -> KeptCheck | None:
    """The newest check that was made with this very profile on this very mat."""
    fits = [c for c in checks if c.uid == profile.uid and c.profile_date == profile.date]
    return fits[-1] if fits else None


@dataclass(frozen=True)
class StripTrend:
    """How one copper or film strip has changed against all others, from check to check.

    Attributes
    ----------
    panel, number : int
        0 is the left panel; row, or column of that panel.
    changes : tuple of float
        What its cells read more (less: below 0) than the mat's other cells, ln, the oldest check first.
    beyond : int
        The place, counted as rows or columns are, from which on the newest check reads least against what lies
        between it and the strip's tail.
    step : float
        That difference, ln.
    """

    is_row: bool
    panel: int
    number: int
    changes: tuple[float, ...]
    beyond: int
    step: float


def strip_trends(checks: Sequence[KeptCheck]) -> list[StripTrend]:
    """Every strip of a mat over the checks of its newest profile; empty where none of them corrected anything.

    A crack shows beyond a place: rows' tails are at the outer sides, columns' at the heel end.
    """
    shapes = [c.factor.shape for c in checks if c.factor is not None]
    if not shapes:
        return []
    rows, columns = shapes[-1]
    mine = [c for c in checks if c.profile_date == checks[-1].profile_date and not c.not_fit]
    fits = [c for c in mine if c.factor is None or c.factor.shape == (rows, columns)]
    reads = []
    for kept in fits:
        now = np.zeros((rows, columns)) if kept.factor is None else -np.log(kept.factor)
        for cell in kept.filled:
            now[cell] = np.nan
        reads.append(now - np.nanmedian(now))
    half, out = columns // 2, []
    for panel in (0, 1):
        cells = slice(panel * half, (panel + 1) * half)
        inward = slice(None) if panel == 0 else slice(None, None, -1)
        lines = [(True, row, [now[row, cells][inward] for now in reads]) for row in range(rows)]
        lines += [(False, c, [now[:, panel * half + c] for now in reads]) for c in range(half)]
        for is_row, number, each in lines:
            means = tuple(0.0 if np.isnan(line).all() else float(np.nanmean(line)) for line in each)
            at, step = _step(each[-1])
            if is_row and panel == 1:
                at = half - 1 - at
            out.append(StripTrend(is_row, panel, number, means, at, step))
    return out


def _step(line: NDArray[np.float64]) -> tuple[int, float]:
    """From which cell on the rest of a strip reads least against the cells before it, and by how much, ln."""
    best = (0, 0.0)
    for k in range(1, len(line)):
        if np.isfinite(line[:k]).any() and np.isfinite(line[k:]).any():
            step = float(np.nanmean(line[k:]) - np.nanmean(line[:k]))
            best = (k, step) if step < best[1] else best
    return best


def corrected(film: Film, kept: KeptCheck) -> Film:
    """The film with a check's correction; as it is where there is none.

    Raises
    ------
    ProfileError
        The check belongs to a mat of another size.
    """
    if kept.factor is None:
        return film
    if kept.factor.shape != film.curves.level.shape:
        raise ProfileError("the check belongs to a mat of another size: run groundtone check again")
    curves = replace(film.curves, level=film.curves.level + np.log(kept.factor))
    level_u = film.level_u if kept.level_u is None else kept.level_u
    return replace(film, curves=curves, level_u=level_u, dead=tuple(sorted({*film.dead, *kept.filled})))


_FIGURES = ("common", "share_u", "foot_u", "along_u_mm")
_CELLS = ("dead", "drifted", "unseen")


def _table(kept: KeptCheck) -> dict[str, Any]:
    return {
        "groundtone check": FORMAT,
        "date": kept.date,
        "mat": kept.uid,
        "profile": kept.profile_date,
        "verdict": kept.verdict,
        "findings": list(kept.findings),
        **{name: _number(getattr(kept, name)) for name in _FIGURES},
        **{name: [list(cell) for cell in getattr(kept, name)] for name in _CELLS},
        "mass kg": _number(kept.mass_kg),
        "hand": kept.hand,
        "filled": [list(cell) for cell in kept.filled],
        "factor": _grid(kept.factor),
        "level u": _grid(kept.level_u),
    }


def _kept(table: dict[str, Any]) -> KeptCheck:
    if table["groundtone check"] != FORMAT or table["verdict"] not in [verdict.words for verdict in Verdict]:
        raise ValueError
    common, share_u, foot_u, along_u_mm = (_float(table[name]) for name in _FIGURES)
    dead, drifted, unseen = (_some(table[name]) for name in _CELLS)
    date, uid, verdict, profile, hand = (str(table[n]) for n in ("date", "mat", "verdict", "profile", "hand"))
    return KeptCheck(
        date, uid, verdict, common, dead, drifted, unseen, share_u, foot_u, along_u_mm, profile,
        tuple(str(each) for each in table["findings"]), _float(table["mass kg"]), hand, _some(table["filled"]),
        _array(table["factor"], positive=True), _array(table["level u"], positive=False),
    )  # fmt: skip


def _some(cells: Any) -> tuple[Cell, ...]:
    return tuple((int(row), int(column)) for row, column in cells)


def _float(value: Any) -> float:
    return math.nan if value is None else float(value)


def _number(value: float) -> float | None:
    return round(value, 5) if math.isfinite(value) else None


def _grid(values: NDArray[np.float64] | None) -> list[list[float | None]] | None:
    return None if values is None else [[_number(v) for v in row] for row in values.tolist()]


def _array(values: Any, *, positive: bool) -> NDArray[np.float64] | None:
    if values is None:
        return None
    out = np.array(values, np.float64)
    if out.ndim != 2 or (positive and not (np.isfinite(out) & (out > 0)).all()):
        raise ValueError
    return out


# A check says something of the mat today; an older one is still better than none, and is remarked on.
_OLD_H = 24.0


def newest_correction(profile: Profile, checks: Path) -> tuple[Profile, list[str]]:
    """The profile with the correction of the newest check of it, and sentences about that check.

    What cannot be read is told and changes nothing.

    Parameters
    ----------
    checks : Path
        The file of its checks.
    """
    try:
        kept = newest_for(read_checks(checks), profile)
        if kept is None:
            return profile, ["This profile was not checked since it was made: groundtone check does that in a minute."]
        film = corrected(profile.film, kept)
    except GroundtoneError as error:
        return profile, [sentence_of(f"the profile is used without a correction: {error}")]
    when = _when(kept.date)
    if kept.not_fit:
        why = "; ".join(kept.findings) or "no reason kept"
        return profile, [f"The check of {when} found this mat not fit: {why}."]
    what = "its correction is in force" if kept.factor is not None else "nothing had to be corrected"
    told = [f"Checked {when}: {kept.verdict}, {what}."]
    if kept.factor is None:
        return profile, told
    note = f"{profile.note}; corrected by the check of {kept.date}".strip("; ")
    return replace(profile, film=film, note=note), told


def _when(date: str) -> str:
    """A date as a person says it, and how long ago that was where it matters."""
    try:
        then = datetime.datetime.fromisoformat(date)
        hours = (datetime.datetime.now().astimezone() - then).total_seconds() / 3600
    except (ValueError, TypeError):
        return date
    words = f"{then:%d.%m.%Y %H:%M}"
    return words if hours <= _OLD_H else f"{words} ({hours / 24:.0f} days ago: check it again)"
