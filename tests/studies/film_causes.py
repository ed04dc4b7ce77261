"""What of the error on a wide film is from where: the true curve, with one part of the found one's error at a time.

The floor is what stays when every cell's curve is known as the twin has it: memory, noise, shoes, the cells' size. Each
part of what the fit got wrong is then laid on it alone: levels of cells, their shape below 15 N and above 80 N, what
all have in common. What is told is the median over mats, after a round rock.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film
from groundtone.calibration.fitting.film_memory import step_response
from groundtone.calibration.fitting.fit import film_from_placements
from groundtone.twin.film import cell_curves
from groundtone.twin.population import draw_mat
from groundtone.twin.scenario import MatSpec
from studies.as_they_come import EVERY_N, TWO, bench_of, played_of, rocked
from studies.mats import bench_placements
from studies.study import study

Array = NDArray[np.float64]
FIRST_SEED, MATS = 70_000, 24
_LOADS_N = np.geomspace(0.5, 600.0, 40)
_LIGHT_N, _HEAVY_N, _MIDDLE_N = 15.0, 80.0, 50.0
_STRAIGHT_S, _NEAR = 2e-6, 0.98


class TrueCurves:
    """The twin's own curve of each cell in the place of `groundtone.calibration.force_curve.Curves`.

    Parameters
    ----------
    mat : MatSpec
    grown : float
        What creep has added at one second, where the twin's curve holds.
    off : callable, optional
        ln of a wrong force over the true one, from the true force, (n, rows, columns).
    """

    def __init__(self, mat: MatSpec, grown: float, off: Callable[[Array], Array] | None = None) -> None:
        gain, self._power = cell_curves(mat)
        limit = np.full(gain.shape, mat.saturation_s)
        if mat.saturation_by_gain:
            limit *= gain / mat.conductance_at_100n_s
        self._gain, self._limit = gain / grown, limit / grown
        self._leak_s, self._off = mat.leak_s, off
        self.level, self.exponent = np.zeros(gain.shape), 1 / mat.exponent

    def force_n(self, conductance_s: Array) -> Array:
        """Forces, N."""
        above = conductance_s - self._leak_s
        size = np.minimum(np.maximum(np.abs(above), _STRAIGHT_S), _NEAR * self._limit)
        force = 100.0 * (size / (1 - size / self._limit) / self._gain) ** (1 / self._power)
        if self._off is not None:
            force = force * np.exp(self._off(force))
        out: Array = np.copysign(force * np.minimum(np.abs(above) / _STRAIGHT_S, 1.0), above)
        return out

    def conductance_of(self, force_n: float) -> Array:
        """Conductances under a force, S."""
        free = self._gain * (force_n / 100.0) ** self._power
        out: Array = free / (1 + free / self._limit)
        return out


def _true_film(mat: MatSpec, found: Film, off: Callable[[Array], Array] | None = None) -> Film:
    """The found film with the true curve and the true creep; the loop stays as found, for the two differ in form."""
    one, ten = (step_response(1.0, at_s) - 1.0 for at_s in (1.0, 10.0))
    share = mat.creep_per_decade / (ten - (1 + mat.creep_per_decade) * one)
    curves: Any = TrueCurves(mat, step_response(share, 1.0), off)
    return replace(found, curves=curves, creep=share * curves.exponent, kept=mat.creep_kept, straight=1.0)


def _along(error: Array) -> Callable[[Array], Array]:
    """Errors at `_LOADS_N`, (loads, rows, columns), as a function of the force."""
    row, column = np.indices(error.shape[1:])

    def off(force_n: Array) -> Array:
        at = np.interp(np.log(np.maximum(force_n, 1e-3)), np.log(_LOADS_N), np.arange(len(_LOADS_N)))
        low = np.minimum(at.astype(int), len(_LOADS_N) - 2)
        out: Array = error[low, row, column] * (low + 1 - at) + error[low + 1, row, column] * (at - low)
        return out

    return off


def on_mat(seed: int) -> dict[str, list[float]]:
    """Errors of share and centre along the foot on one wide mat, by part."""
    mat = draw_mat("wide", seed)
    run = played_of(mat, "wide", seed)
    act = bench_of(mat, "wide", seed, EVERY_N[TWO])
    film = film_from_placements(bench_placements(mat, seed, act), mat.rows, mat.columns).film
    true: Any = _true_film(mat, film).curves
    error = np.stack([np.log(film.curves.force_n(true.conductance_of(n)) / n) for n in _LOADS_N])
    common = error.mean((1, 2), keepdims=True) + 0 * error
    own = error - common
    level = own[int(np.abs(_LOADS_N - _MIDDLE_N).argmin())] + 0 * own
    shape, load = own - level, _LOADS_N[:, None, None]
    parts = {
        "nothing: the floor": 0 * own,
        "levels of cells": level,
        "shape of cells below 15 N": np.where(load < _LIGHT_N, shape, 0.0),
        "shape of cells above 80 N": np.where(load > _HEAVY_N, shape, 0.0),
        "what all cells share": common,
        "all of these": error,
    }
    out = {name: rocked(run, _true_film(run.mat, film, _along(part))) for name, part in parts.items()}
    return out | {"the fit itself": rocked(run, film)}


def study_film_causes(seeds: int | None = None) -> dict[str, Any]:
    """Medians over `seeds` (24) wide mats, bench of two loads a cell and a round rock."""
    run = study("film causes", on_mat, range(FIRST_SEED, FIRST_SEED + (seeds or MATS)))
    out: dict[str, Any] = {"mats": f"{len(run.seeds)} of {run.asked}, seeds from {FIRST_SEED}"}
    for name in run.results[0] if run.results else ():
        share, along = np.median([result[name] for result in run.results], axis=0)
        out[name] = f"share {share:.4f}, along {along:.1f} mm"
    return out | {"ok": run.whole}
