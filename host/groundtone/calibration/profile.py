"""The profile: a mat's calibration in one readable file that belongs to that mat alone."""

from __future__ import annotations

import hashlib
import json
import math
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from groundtone.calibration.curve import Curves
from groundtone.calibration.film import Film
from groundtone.errors import ProfileError
from groundtone.mat.layout import Layout
from groundtone.wire.messages import Hello

SCHEMA = 1


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
    weights_n : tuple of float
    scatter : float
        Relative standard deviation of one placement.
    film : Film
    note : str
    """

    uid: str
    layout: str
    layout_digest: str
    date: str
    weights_n: tuple[float, ...]
    scatter: float
    film: Film
    note: str = ""

    def check_mat(self, hello: Hello, layout: Layout) -> None:
        """ProfileError where this profile is not this mat's."""
        if hello.uid != self.uid:
            raise ProfileError(f"the profile belongs to mat {self.uid} and this is mat {hello.uid}: calibrate this one")
        if layout.id != self.layout or layout.digest != self.layout_digest:
            raise ProfileError(
                f"the profile was made for layout {self.layout} and the mat now has {layout.id} "
                "(or its file was changed): calibrate again"
            )


def _content(profile: Profile) -> dict[str, Any]:
    film, curves = profile.film, profile.film.curves
    return {
        "groundtone profile": SCHEMA,
        "mat": profile.uid,
        "layout": profile.layout,
        "layout digest": profile.layout_digest,
        "date": profile.date,
        "note": profile.note,
        "weights N": list(profile.weights_n),
        "scatter": profile.scatter,
        "curve": "ln F = level + exponent x + bend x^2, x = ln(G / 100 uS), F in N",
        "exponent": curves.exponent,
        "bend": curves.bend,
        "creep per decade": film.creep,
        "hysteresis arch": film.arch,
        "x range": [curves.x_low, curves.x_high],
        "level": [[round(v, 6) for v in row] for row in curves.level.tolist()],
    }


def _checksum(content: dict[str, Any]) -> str:
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()[:16]


def _finite(film: Film) -> bool:
    """All numbers that hold for the whole film are numbers; a cell's level may be NaN (no curve)."""
    curves = film.curves
    return all(map(math.isfinite, (curves.exponent, curves.bend, curves.x_low, curves.x_high, film.creep, film.arch)))


def write_profile(path: Path, profile: Profile) -> None:
    """Writes a profile so that the file is either the old one or the whole new one.

    Raises
    ------
    ProfileError
        The file cannot be written, or a number of the film is none.
    """
    if not _finite(profile.film):
        raise ProfileError("a number of the profile is not a number at all: calibrate again")
    content = _content(profile)
    content["checksum"] = _checksum(content)
    text = json.dumps(content, indent=1)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=path.name)
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(text + "\n")
                file.flush()
                os.fsync(file.fileno())
            Path(temporary).replace(path)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise ProfileError(
            f"the profile {path} cannot be written ({error.strerror}): check the folder and the disk"
        ) from error


def read_profile(path: Path) -> Profile:
    """A profile from its file.

    Raises
    ------
    ProfileError
        Missing, damaged, or of a newer program.
    """
    try:
        content = json.loads(path.read_text("utf-8"))
    except OSError as error:
        raise ProfileError(f"the profile {path} cannot be read ({error.strerror}): check its name") from error
    except (ValueError, RecursionError) as error:
        raise ProfileError(f"the profile {path} is damaged: take a copy of it or calibrate again") from error
    if not isinstance(content, dict) or "groundtone profile" not in content:
        raise ProfileError(f"{path} is not a groundtone profile: choose another file")
    schema = content["groundtone profile"]
    if type(schema) is not int or schema < SCHEMA:
        raise ProfileError(f"the profile {path} has a format this program never wrote ({schema!r}): calibrate again")
    if schema > SCHEMA:
        raise ProfileError(f"the profile {path} was written by a newer program: bring this one up to date")
    checksum = content.pop("checksum", None)
    if checksum != _checksum(content):
        raise ProfileError(f"the profile {path} is damaged or was edited: take a copy of it or calibrate again")
    try:
        level = np.array(content["level"], np.float64)
        low, high = (float(v) for v in content["x range"])
        curves = Curves(level, float(content["exponent"]), float(content["bend"]), low, high)
        film = Film(curves, float(content["creep per decade"]), float(content["hysteresis arch"]))
        if level.ndim != 2 or not _finite(film):
            raise ValueError
        return Profile(
            str(content["mat"]),
            str(content["layout"]),
            str(content["layout digest"]),
            str(content["date"]),
            tuple(float(v) for v in content["weights N"]),
            float(content["scatter"]),
            film,
            str(content["note"]),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise ProfileError(f"the profile {path} lacks what it needs: calibrate again") from error
