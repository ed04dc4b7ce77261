"""Films pooled: what mats say of their film, as files, and what they make one expect of the next mat."""

from __future__ import annotations

import datetime
import hashlib
import json
import math
from collections.abc import Sequence
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

import numpy as np

from groundtone.calibration.checking.check_log import KeptCheck
from groundtone.calibration.film import Film, typical_film
from groundtone.calibration.fitting.expected import LEAST_MATS, TYPICAL, Expected, FilmFacts, expected_of
from groundtone.calibration.fitting.forms import EXPONENT, EXPONENT_U, SATURATION_S, SATURATION_U
from groundtone.calibration.force_curve import Curves
from groundtone.calibration.profile import Profile
from groundtone.calibration.shoes.unknown_film import UNKNOWN_LEVEL_U
from groundtone.errors import CalibrationError, GroundtoneError, Telling
from groundtone.files import data_folder, write_whole

_FORMAT, _KEY, _MOST_BYTES = 1, "groundtone films", 5_000_000
# Checks that lie nearer together than this say nothing of ageing, days; so many days are a month.
_APART_DAYS, _MONTH_DAYS = 14.0, 30.4
# What no film is: beyond these a file is no film's.
_RANGES = {
    "level": (-5.0, 12.0), "spread": (0.0, 3.0), "exponent": (0.2, 3.0), "exponent_u": (0.0, 2.0),
    "exponent_spread": (0.0, 2.0), "inverse": (0.0, 1e5), "creep": (0.0, 1.0), "kept": (0.0, 1.0),
    "straight": (-1.0, 3.0), "arch": (0.0, 1.0), "ageing": (-3.0, 3.0),
}  # fmt: skip
_MAY_MISS = ("inverse", "creep", "kept", "straight", "arch", "ageing")


def films_path() -> Path:
    """Where the pooled films of this computer lie."""
    return data_folder() / "films.json"


def digest_of(uid: str) -> str:
    """What stands for a mat in a pool: it tells mats apart and names none."""
    return hashlib.sha256(f"groundtone film {uid}".encode()).hexdigest()[:16]


def facts_of(profile: Profile, checks: Sequence[KeptCheck] = ()) -> FilmFacts:
    """What a mat's calibration says of its film.

    Raises
    ------
    CalibrationError
        It says nothing: it began from pooled films or the typical one, and no cell was seen.
    """
    film, curves = profile.film, profile.film.curves
    alive = np.isfinite(curves.level)
    for cell in film.dead:
        alive[cell] = False
    if film.level_u is None or not alive.any():
        raise CalibrationError("this profile says nothing of its film: calibrate the mat first")
    bench = bool(profile.weights_n)
    # Without four loads a saturation was not fitted; what standing chose of a few, without notes, is none either.
    saturation_told = profile.notes is not None and "saturation was not fitted" not in " ".join(profile.notes.said)
    inverse = (0.0 if math.isinf(curves.saturation_s) else 1 / curves.saturation_s) if saturation_told else math.nan
    return FilmFacts(
        digest_of(profile.uid), float(curves.level[alive].mean()), float(curves.level[alive].std()), curves.exponent,
        math.sqrt(float(film.shape_cov[0, 0])), film.exponent_spread, inverse, film.creep, film.kept, film.straight,
        film.arch if bench else math.nan, _ageing(checks), "bench" if bench else "standing",
    )  # fmt: skip


def _ageing(checks: Sequence[KeptCheck]) -> float:
    """Change of ln of the force in a month: a straight line through what checks found of all cells in common."""
    told = [(datetime.datetime.fromisoformat(check.date).timestamp() / 86400, check.common) for check in checks]
    days, common = np.array([each for each in told if math.isfinite(each[1])]).reshape(-1, 2).T
    if days.size < 2 or np.ptp(days) < _APART_DAYS:
        return math.nan
    return float(np.polyfit(days, np.log1p(common), 1)[0] * _MONTH_DAYS)


def write_films(path: Path, films: Sequence[FilmFacts]) -> None:
    """Writes films; CalibrationError where that fails."""
    rows = [{name: _or_null(value) for name, value in asdict(film).items()} for film in films]
    with Telling(CalibrationError, f"{path} cannot be written", "check the folder and the disk"):
        write_whole(path, json.dumps({_KEY: _FORMAT, "films": rows}, indent=1) + "\n")


def _or_null(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def read_films(path: Path) -> list[FilmFacts]:
    """Films of a file.

    Raises
    ------
    CalibrationError
        It cannot be read, or is none.
    """
    with Telling(CalibrationError, f"{path} cannot be read", "look at its name"):
        if path.stat().st_size > _MOST_BYTES:
            raise CalibrationError(f"{path} is too large to be one of films: look at its name")
        text = path.read_text("utf-8", "replace")
    try:
        table = json.loads(text)
        if table[_KEY] != _FORMAT:
            raise CalibrationError(f"{path} was written by another program version: bring this one up to date")
        return [_film(row) for row in table["films"]]
    except (ValueError, KeyError, TypeError, OverflowError, RecursionError) as error:
        raise CalibrationError(f"{path} holds no films: write it with 'groundtone calibrate film-out'") from error


def _film(row: dict[str, Any]) -> FilmFacts:
    values = {each.name: row[each.name] for each in fields(FilmFacts)}
    for name, (low, high) in _RANGES.items():
        value = math.nan if values[name] is None and name in _MAY_MISS else float(values[name])
        if not (low <= value <= high or (math.isnan(value) and name in _MAY_MISS)):
            raise ValueError(name)
        values[name] = value
    if not all(isinstance(values[name], str) and len(values[name]) <= 32 for name in ("about", "by")):
        raise ValueError("about")
    return FilmFacts(**values)


def taken_in(paths: Sequence[Path]) -> tuple[list[FilmFacts], int]:
    """All films known with those of files, the newer of a mat in place of the older; and how many are new."""
    known = {film.about: film for film in pooled()}
    before = len(known)
    for path in paths:
        known |= {film.about: film for film in read_films(path)}
    films = list(known.values())
    write_films(films_path(), films)
    return films, len(films) - before


def pooled() -> list[FilmFacts]:
    """The films that were taken in on this computer; none where there are none."""
    return read_films(films_path()) if films_path().exists() else []


def expected_here(uid: str) -> Expected:
    """What is expected of this mat's film by the pool, what it said of itself left out; the typical one's without.

    A pool that cannot be read expects nothing: that hinders nobody from calibrating.
    """
    try:
        films = [film for film in pooled() if film.about != digest_of(uid)]
    except GroundtoneError:
        return TYPICAL
    return expect(films)


def expect(films: Sequence[FilmFacts]) -> Expected:
    """The expectation that films make."""
    if len(films) < LEAST_MATS:
        return TYPICAL
    level = float(typical_film(1, 1).curves.level[0, 0])
    return expected_of(
        films,
        {
            "exponent": (EXPONENT, EXPONENT_U),
            "inverse": (1 / SATURATION_S, SATURATION_U / SATURATION_S),
            "level": (level, UNKNOWN_LEVEL_U),
        },
    )


def expected_film(rows: int, columns: int, expected: Expected) -> Film:
    """The film of a mat on which nothing was measured yet: the pool's, or the typical one."""
    film = typical_film(rows, columns)
    if not expected.mats:
        return film
    curves = film.curves
    exponent = expected.values["exponent"]
    level = np.full((rows, columns), expected.level)
    made = Curves(level, exponent, 0.0, curves.x_low, curves.x_high)
    creep = film.creep if math.isnan(expected.creep) else expected.creep
    return Film(made, creep, film.arch, kept=film.kept if math.isnan(expected.kept) else expected.kept)
