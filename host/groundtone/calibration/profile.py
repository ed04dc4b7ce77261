"""The profile: a mat's calibration in one readable file that belongs to that mat alone."""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film
from groundtone.calibration.fitting.fit_notes import FitNotes, notes_from, notes_table
from groundtone.calibration.force_curve import Curves
from groundtone.errors import CalibrationError, ProfileError, Telling
from groundtone.files import write_whole
from groundtone.mat.layout import Layout
from groundtone.wire.messages import Hello

SCHEMA = 5
_OLDEST = 1


def program_version() -> str:
    """Version of this program; "?" where it is not installed."""
    try:
        return importlib.metadata.version("groundtone")
    except importlib.metadata.PackageNotFoundError:
        return "?"


@dataclass(frozen=True)
class Profile:
    """A calibration and whose it is.

    Attributes
    ----------
    uid : str
        The mat's unique id, hex.
    layout, layout_digest : str
        Id and digest of the layout.
    date : str
        Day and time of the calibration, ISO 8601.
    scatter : float
        Relative standard deviation of one placement.
    weights : tuple of str
        The same in a person's words.
    temperature_c : float, optional
        Of the mat, where it is known.
    notes : FitNotes, optional
        What is kept of the fit; None in a profile of schema 1 or of another procedure.
    program : str
        Version of the program that wrote it.
    """

    uid: str
    layout: str
    layout_digest: str
    date: str
    weights_n: tuple[float, ...]
    scatter: float
    film: Film
    note: str = ""
    weights: tuple[str, ...] = ()
    temperature_c: float | None = None
    notes: FitNotes | None = None
    program: str = ""

    def check_mat(self, hello: Hello, layout: Layout) -> None:
        """ProfileError where this profile is not this mat's."""
        if hello.uid != self.uid:
            raise ProfileError(
                f"the profile belongs to mat {self.uid} and this is mat {hello.uid}: calibrate this one, "
                "or check it with --new-board where that mat has got another board"
            )
        if layout.id != self.layout or layout.as_in(self.layout_digest) is None:
            raise ProfileError(
                f"the profile was made for layout {self.layout} and the mat now has {layout.id} "
                "(or its file was changed): calibrate again"
            )


def _content(profile: Profile) -> dict[str, Any]:
    film, curves = profile.film, profile.film.curves
    return {
        "groundtone profile": SCHEMA,
        "program": profile.program or program_version(),
        "mat": profile.uid,
        "layout": profile.layout,
        "layout digest": profile.layout_digest,
        "date": profile.date,
        "note": profile.note,
        "temperature C": None if profile.temperature_c is None else _or_null(profile.temperature_c),
        "weights": list(profile.weights),
        "weights N": list(profile.weights_n),
        "highest N": _or_null(film.highest_n),
        "weights' common uncertainty": film.mass_u,
        "scatter": profile.scatter,
        "curve": "ln F = level + exponent x + bend x^2 + lean (x - lean from x), x = ln(u / 100 uS), "
        "u = (G - offset) / (1 - (G - offset) / saturation of the cell), F in N",
        "exponent": curves.exponent,
        "bend": curves.bend,
        "saturation S": _or_null(curves.saturation_s),
        "saturation of cells over it": None
        if curves.gain is None
        else [[round(v, 6) for v in row] for row in curves.gain.tolist()],
        "offset S": curves.offset_s,
        "x range": [curves.x_low, curves.x_high],
        "x centre": film.x_centre,
        "covariance of exponent and bend": np.asarray(film.shape_cov).tolist(),
        "exponent spread": film.exponent_spread,
        "creep per decade": film.creep,
        "part of creep that stays after lifting": _or_null(film.kept),
        "how straight its gain grows": film.straight,
        "hysteresis arch": film.arch,
        "dead": [list(cell) for cell in film.dead],
        "level": [[_or_null(v, 6) for v in row] for row in curves.level.tolist()],
        "lean": None if curves.lean is None else [[_or_null(v, 6) for v in row] for row in curves.lean.tolist()],
        "lean from x": curves.lean_from,
        "level uncertainty": None
        if film.level_u is None
        else [[_or_null(v, 6) for v in row] for row in film.level_u.tolist()],
        "fit": None if profile.notes is None else notes_table(profile.notes),
    }


def _or_null(value: float, digits: int = 12) -> float | None:
    """A number for JSON, which knows neither NaN nor infinity."""
    return round(value, digits) if math.isfinite(value) else None


def _checksum(content: dict[str, Any]) -> str:
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()[:16]


def _finite(film: Film) -> bool:
    """All numbers that hold for the whole film are numbers; a cell's level may be NaN (no curve)."""
    curves = film.curves
    whole = (
        curves.exponent, curves.bend, curves.x_low, curves.x_high, curves.offset_s, film.creep, film.arch,
        film.x_centre, film.exponent_spread, film.mass_u, film.straight, *np.ravel(film.shape_cov),
    )  # fmt: skip
    return all(map(math.isfinite, whole))


def profile_text(profile: Profile) -> str:
    """The profile as text, a row of cells a line.

    Raises
    ------
    ProfileError
        A number of the film is none.
    """
    if not _finite(profile.film):
        raise ProfileError("a number of the profile is not a number at all: calibrate again")
    content = _content(profile)
    content["checksum"] = _checksum(content)
    return _readable(content) + "\n"


def _readable(value: Any, depth: int = 0) -> str:
    """JSON in which a list without lists is one line: a person can read a row of cells."""
    pad = " " * (depth + 1)
    if isinstance(value, dict):
        rows = [f"{pad}{json.dumps(key)}: {_readable(each, depth + 1)}" for key, each in value.items()]
        return "{\n" + ",\n".join(rows) + "\n" + " " * depth + "}"
    if isinstance(value, list) and any(isinstance(each, list | str) for each in value):
        return "[\n" + ",\n".join(pad + _readable(each, depth + 1) for each in value) + "\n" + " " * depth + "]"
    return json.dumps(value)


def write_profile(path: Path, profile: Profile) -> None:
    """Writes a profile so that the file is either the old one or the whole new one.

    Raises
    ------
    ProfileError
        The file cannot be written, or a number of the film is none.
    """
    text = profile_text(profile)
    with Telling(ProfileError, f"the profile {path} cannot be written", "check the folder and the disk"):
        write_whole(path, text)


def read_profile(path: Path) -> Profile:
    """A profile from its file.

    Raises
    ------
    ProfileError
        Missing, damaged, or of a newer program.
    """
    try:
        text = path.read_text("utf-8")
    except OSError as error:
        raise ProfileError(f"the profile {path} cannot be read ({error.strerror}): check its name") from error
    except ValueError as error:
        raise ProfileError(f"the profile {path} is damaged: take a copy of it or calibrate again") from error
    return profile_from_text(text, str(path))


def profile_from_text(text: str, source: str) -> Profile:
    """A profile from its text; `source` names it in what is said.

    Raises
    ------
    ProfileError
        Damaged, or of a newer program.
    """
    try:
        content = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise ProfileError(f"the profile {source} is damaged: take a copy of it or calibrate again") from error
    if not isinstance(content, dict) or "groundtone profile" not in content:
        raise ProfileError(f"{source} is not a groundtone profile: choose another file")
    schema = content["groundtone profile"]
    if type(schema) is not int or schema < _OLDEST:
        raise ProfileError(f"the profile {source} has a format this program never wrote ({schema!r}): calibrate again")
    if schema > SCHEMA:
        raise ProfileError(f"the profile {source} was written by a newer program: bring this one up to date")
    checksum = content.pop("checksum", None)
    if checksum != _checksum(content):
        raise ProfileError(f"the profile {source} is damaged or was edited: take a copy of it or calibrate again")
    if schema == 1:
        content = _from_first(content)
    if schema < 3:
        # All creep was a memory that stays, and all cells had one exponent.
        content = {"part of creep that stays after lifting": 1.0, "lean": None, "lean from x": 0.0, **content}
    if schema < 4:
        # All cells saturated alike.
        content = {"saturation of cells over it": None, **content}
    if schema < 5:
        # All gains grew straight.
        content = {"how straight its gain grows": 1.0, **content}
    try:
        return _profile(content)
    except (KeyError, TypeError, ValueError, IndexError, CalibrationError) as error:
        raise ProfileError(f"the profile {source} lacks what it needs: calibrate again") from error


def _from_first(content: dict[str, Any]) -> dict[str, Any]:
    """Schema 1 as schema 2: no uncertainties, no saturation, no notes."""
    weights = content.get("weights N")
    highest = max(weights) if isinstance(weights, list) and weights else None
    return {
        "program": "0.1.0", "temperature C": None, "weights": [], "highest N": highest,
        "weights' common uncertainty": 0.0, "saturation S": None, "offset S": 0.0, "x centre": 0.0,
        "covariance of exponent and bend": [[0.0, 0.0], [0.0, 0.0]], "exponent spread": 0.0, "dead": [],
        "level uncertainty": None, "fit": None, **content,
    }  # fmt: skip


def _profile(content: dict[str, Any]) -> Profile:
    level = np.array(content["level"], np.float64)
    low, high = (float(v) for v in content["x range"])
    saturation, highest = content["saturation S"], content["highest N"]
    kept, gain = content["part of creep that stays after lifting"], content["saturation of cells over it"]
    curves = Curves(
        level,
        float(content["exponent"]),
        float(content["bend"]),
        low,
        high,
        math.inf if saturation is None else float(saturation),
        float(content["offset S"]),
        None if content["lean"] is None else np.array(content["lean"], np.float64),
        float(content["lean from x"]),
        None if gain is None else np.array(gain, np.float64),
    )
    known = content["level uncertainty"]
    level_u: NDArray[np.float64] | None = None if known is None else np.array(known, np.float64)
    shape_cov = np.array(content["covariance of exponent and bend"], np.float64)
    film = Film(
        curves,
        float(content["creep per decade"]),
        float(content["hysteresis arch"]),
        level_u,
        shape_cov,
        math.nan if highest is None else float(highest),
        tuple((int(row), int(column)) for row, column in content["dead"]),
        float(content["x centre"]),
        float(content["exponent spread"]),
        float(content["weights' common uncertainty"]),
        math.nan if kept is None else float(kept),
        float(content["how straight its gain grows"]),
    )
    same = all(each is None or each.shape == level.shape for each in (level_u, curves.lean, curves.gain))
    inside = all(0 <= r < level.shape[0] and 0 <= c < level.shape[1] for r, c in film.dead) if level.ndim == 2 else True
    if level.ndim != 2 or shape_cov.shape != (2, 2) or not same or not inside or not _finite(film):
        raise ValueError
    temperature, fit = content["temperature C"], content["fit"]
    return Profile(
        str(content["mat"]),
        str(content["layout"]),
        str(content["layout digest"]),
        str(content["date"]),
        tuple(float(v) for v in content["weights N"]),
        float(content["scatter"]),
        film,
        str(content["note"]),
        tuple(str(words) for words in content["weights"]),
        None if temperature is None else float(temperature),
        None if fit is None else notes_from(fit),
        str(content["program"]),
    )
