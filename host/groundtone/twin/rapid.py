"""Many scans at once: what the firmware would send of a whole act, for studies over many mats."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.twin.adc import BITS, convert, hum
from groundtone.twin.board import SUPPLY, TAP, ZERO, build_board, table_voltages
from groundtone.twin.film import Film
from groundtone.twin.inprocess import FRAME_BITS, OVERSAMPLE
from groundtone.twin.loads import make_loads
from groundtone.twin.network import FloatArray
from groundtone.twin.scenario import MatSpec, Scenario

_BLOCK = 4096
ROW_S, READING_S = 60e-6, 6e-6  # about what a scan takes for a row and for a cell of it, two readings each


@dataclass(frozen=True)
class Scans:
    """A run of scans at a steady rate.

    Attributes
    ----------
    t_us : (n,) array of int
        Film time of each scan, µs.
    cells : (n, R, C) array
        Values of 14 bits, as the frames hold them.
    zero, supply, tap_high, tap_low : (n,) array
        The reference readings, on the cells' scale. (The firmware sends two a frame in turn.)
    """

    t_us: NDArray[np.int64]
    cells: FloatArray
    zero: FloatArray
    supply: FloatArray
    tap_high: FloatArray
    tap_low: FloatArray


def scans(scenario: Scenario, rate_hz: float) -> Scans:
    """Scan a whole act.

    The film runs on the act's grid as in `groundtone.twin.world`; the converter's noise is another draw.

    Parameters
    ----------
    scenario : Scenario
    rate_hz : float
        Scans a second.
    """
    mat, grid_us = scenario.mat, scenario.act.grid_us
    loads = make_loads(scenario)
    film = Film(mat, grid_us * 1e-6)
    count = int((loads.steps - 1) * grid_us * 1e-6 * rate_hz) + 1
    t_us = np.round(np.arange(count) * 1e6 / rate_hz).astype(np.int64)
    wanted = t_us // grid_us
    rng = np.random.default_rng([mat.seed, 51])
    parts = []
    for start in range(0, loads.steps, _BLOCK):
        stop = min(start + _BLOCK, loads.steps)
        here = wanted[(wanted >= start) & (wanted < stop)] - start
        # Cells that nothing loads in this block stay where they are: most of a bench run is empty mat.
        parts.append(film.step(loads.film_forces(start, stop), None)[here])
    conductance = film.noisy(np.concatenate(parts), rng)
    return read(mat, t_us, conductance)


def read(mat: MatSpec, t_us: NDArray[np.int64], conductance_s: FloatArray) -> Scans:
    """What the board reads of given conductances.

    Parameters
    ----------
    mat : MatSpec
    t_us : (n,) array of int
    conductance_s : (n, R, C) array
        S.
    """
    board = build_board(mat)
    rng = np.random.default_rng([mat.seed, 50])
    rows, columns = mat.rows, mat.columns
    cells, refs = [], []
    for start in range(0, len(t_us), _BLOCK):
        volts = table_voltages(conductance_s[start : start + _BLOCK], board) * board.level
        at_s = t_us[start : start + _BLOCK, None, None] * 1e-6
        when_s = at_s + ROW_S * np.arange(rows)[:, None] + READING_S * np.arange(columns)
        cells.append(_codes(volts[:, :rows, :columns], mat, rng, when_s))
        four = [volts[:, 0, ZERO], volts[:, 0, SUPPLY], volts[:, rows, TAP], volts[:, rows + 1, TAP]]
        refs.append(_codes(np.stack(four, axis=1), mat, rng, at_s[:, 0] + ROW_S * rows))
    zero, supply, high, low = np.concatenate(refs).T
    return Scans(t_us, np.concatenate(cells), zero, supply, high, low)


def _codes(level: FloatArray, mat: MatSpec, rng: np.random.Generator, t_s: NDArray[np.floating[Any]]) -> FloatArray:
    """Mean of the conversions of each input (taken at `t_s`) on the frame's scale, rounded down."""
    mains = hum(t_s, mat.hum_lsb, mat.hum_hz, mat.seed) if mat.hum_lsb > 0.0 else 0.0
    total = np.zeros(level.shape, dtype=np.int64)
    for _ in range(OVERSAMPLE):
        noise = mat.adc_noise_lsb * rng.standard_normal(level.shape) + mains
        total += convert(level, noise, mat.adc_spikes).astype(np.int64) << (FRAME_BITS - BITS)
    return (total // OVERSAMPLE).astype(np.float64)
