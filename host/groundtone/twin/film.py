"""The piezoresistive film: force on each cell in, conductance out, with its spread, hysteresis, creep and noise."""

import math

import numpy as np
from scipy.signal import lfilter

from groundtone.twin.board import SHORT_S
from groundtone.twin.network import FloatArray
from groundtone.twin.scenario import MatSpec

# Play operators: how far the load must turn back (natural logarithm of force) before each follows, and its part.
PLAY_WIDTHS = (0.1, 0.3, 0.6)
PLAY_PARTS = (0.5, 0.3, 0.2)
# One exponential a decade makes creep nearly a straight line over the logarithm of time.
CREEP_TIMES_S = (0.1, 1.0, 10.0, 100.0, 1000.0)
# Creep of the gain: it needs a load well above this, and is gone this soon after the load (0.1 s after lifting nothing
# was left in 102 presses of real film, reckoned from others' recordings; the two constants are invented within that).
LOADED_N, RELEASE_S = 1.0, 0.03
# Drift levels off: a film that wandered for ever would be another film by noon (invented).
DRIFT_LEVELS_S = 1800.0
LEAST_EXPONENT = 0.3  # the least seen on a sheet was 0.31
NOISY_CELL = 0.2  # invented: rms of a cell with a bad contact, as a fraction


def cell_curves(mat: MatSpec) -> tuple[FloatArray, FloatArray]:
    """Each cell's own conductance at 100 N and its exponent, drawn from the mat's seed.

    Returns
    -------
    gain_s, exponent : (R, C) arrays
        S and 1. Dead and shorted cells are not marked here.
    """
    rng = np.random.default_rng([mat.seed, 12])
    shape = (mat.rows, mat.columns)
    gain = mat.conductance_at_100n_s * np.exp(mat.gain_sigma * rng.standard_normal(shape))
    exponent = np.maximum(mat.exponent + mat.exponent_sigma * rng.standard_normal(shape), LEAST_EXPONENT)
    age = np.random.default_rng([mat.seed, 13])
    gain *= (1.0 + mat.aged_common) * (1.0 + mat.aged_each * age.uniform(-1.0, 1.0, shape))
    return gain, exponent


class Film:
    """The film's memory: where its hysteresis and its creep stand.

    Conductance is gain · (F / 100 N)^p with a mild saturation. Hysteresis works on the logarithm of the force, so a
    loop has the same relative width at every load, and does not depend on rate. Creep is of two kinds, mixed by
    `creep_kept`: a share of low-passed conductance is added, which stays after lifting, or the gain of a loaded cell
    grows, which ends with the load. Either way the curve as given holds one second after loading.

    Parameters
    ----------
    mat : MatSpec
    dt_s : float
        Time step, s.
    """

    def __init__(self, mat: MatSpec, dt_s: float) -> None:
        self._mat = mat
        gain, exponent = cell_curves(mat)
        self._gain = gain.ravel()
        self._exponent = exponent.ravel()
        width = sum(w * p for w, p in zip(PLAY_WIDTHS, PLAY_PARTS, strict=True))
        # Full loop in ln F: 2 · scale · Σ(width · part) = ln(1 + hysteresis) / p; the rest of the path has no play.
        self._scale = math.log1p(mat.hysteresis) / (2.0 * mat.exponent * width)
        if self._scale > 1.0:
            raise ValueError(f"hysteresis {mat.hysteresis:g} is more than this film model can hold")
        cells = self._gain.size
        self._play = np.zeros((len(PLAY_WIDTHS), cells))
        self._decay = [math.exp(-dt_s / tau) for tau in CREEP_TIMES_S]
        at_one_second = sum(1.0 - math.exp(-1.0 / tau) for tau in CREEP_TIMES_S)
        per_decade = sum(math.exp(-1.0 / tau) - math.exp(-10.0 / tau) for tau in CREEP_TIMES_S)
        # (1 + a · ten seconds) / (1 + a · one second) = 1 + creep a decade
        self._creep = mat.creep_per_decade / (per_decade - mat.creep_per_decade * at_one_second)
        self._norm = 1.0 + self._creep * at_one_second
        self._saturation = np.full(cells, mat.saturation_s)
        if mat.saturation_by_gain:
            self._saturation *= self._gain / mat.conductance_at_100n_s
        rest = self._curve(np.zeros((1, cells)))[0]
        self._slow = np.tile(rest, (len(CREEP_TIMES_S), 1))
        self._grown = np.zeros((len(CREEP_TIMES_S), cells))
        self._release = math.exp(-dt_s / RELEASE_S)
        wander = np.random.default_rng([mat.seed, 14]).uniform(0.4, 1.0, cells)
        self._drift = mat.drift_per_minute / 60.0 * wander
        self._dt_s, self._steps_done = dt_s, 0

    def step(self, force_n: FloatArray, noise: FloatArray | None = None) -> FloatArray:
        """Advance over a block of time steps.

        Parameters
        ----------
        force_n : (n, R, C) array
            Force through each cell's film, N, axis 0 is time; below 0 counts as 0.
        noise : (n, R, C) array, optional
            Standard normal numbers for the film's noise; none without them.

        Returns
        -------
        (n, R, C) array
            Conductance, S.
        """
        n = force_n.shape[0]
        flat = np.maximum(force_n.reshape(n, -1), 0.0)
        g = self._curve(self._hysteresis(np.log1p(flat / self._mat.preload_n)))
        out = g.copy()
        kept = self._mat.creep_kept
        if kept > 0.0:
            for j, decay in enumerate(self._decay):
                slow, last = lfilter([1.0 - decay], [1.0, -decay], g, axis=0, zi=(decay * self._slow[j])[None])
                self._slow[j] = last[0] / decay
                out += kept * self._creep * slow
        if kept < 1.0:
            out += (1.0 - kept) * self._creep * g * self._growth(flat)
        out /= self._norm
        if self._mat.drift_per_minute != 0.0:
            t_s = self._dt_s * (self._steps_done + np.arange(n))
            out *= 1.0 + np.outer(DRIFT_LEVELS_S * -np.expm1(-t_s / DRIFT_LEVELS_S), self._drift)
        self._steps_done += n
        shaped = out.reshape(force_n.shape)
        if noise is not None:
            shaped = self._with_noise(shaped, noise)
        return self._with_faults(shaped)

    def _growth(self, force_n: FloatArray) -> FloatArray:
        """How much of the creep of the gain there is, summed over its times; force and result (n, cells)."""
        wanted = force_n / (force_n + LOADED_N)
        climb = np.array(self._decay)[:, None]
        out = np.empty_like(wanted)
        for i, goal in enumerate(wanted):
            gap = self._grown - goal
            self._grown = goal + gap * np.where(gap < 0.0, climb, self._release)
            out[i] = self._grown.sum(axis=0)
        return out

    def noisy(self, conductance_s: FloatArray, rng: np.random.Generator) -> FloatArray:
        """Conductances that `step` gave without noise, with it: (n, R, C), S."""
        return self._with_faults(self._with_noise(conductance_s, rng.standard_normal(conductance_s.shape)))

    def _with_noise(self, conductance_s: FloatArray, noise: FloatArray) -> FloatArray:
        sigma = np.full(conductance_s.shape[1:], self._mat.film_noise)
        for row, column in self._mat.noisy_cells:
            sigma[row, column] = NOISY_CELL
        out: FloatArray = conductance_s * np.maximum(1.0 + sigma * noise, 0.0)
        return out

    def _with_faults(self, conductance_s: FloatArray) -> FloatArray:
        for row, column in self._mat.without_contact:
            conductance_s[:, row, column] = 0.0
        for row, column in self._mat.shorted_cells:
            conductance_s[:, row, column] = SHORT_S
        return conductance_s

    def _curve(self, log_load: FloatArray) -> FloatArray:
        """Conductance for ln(1 + F / preload), S."""
        load = self._mat.preload_n * np.exp(log_load)
        g = self._gain * (load / 100.0) ** self._exponent
        out: FloatArray = g / (1.0 + g / self._saturation)
        return out

    def _hysteresis(self, x: FloatArray) -> FloatArray:
        """Weighted sum of play operators, rate-independent; x and result (n, cells)."""
        if self._mat.hysteresis == 0.0:
            return x
        widths = np.array(PLAY_WIDTHS)[:, None]
        parts = self._scale * np.array(PLAY_PARTS)
        upper = x[:, None, :] + widths
        lower = x[:, None, :] - widths
        held = np.empty_like(upper)
        # Where nothing changes the operators stand still: only the other steps are gone through one by one.
        moves = np.append(True, (x[1:] != x[:-1]).any(axis=1))
        play = self._play
        for i in np.flatnonzero(moves):
            now = np.maximum(play, lower[i], out=held[i])
            play = np.minimum(now, upper[i], out=now)
        self._play = play.copy()
        held = held[np.maximum.accumulate(np.where(moves, np.arange(len(x)), 0))] if not moves.all() else held
        out: FloatArray = x * (1.0 - parts.sum()) + np.einsum("j,njc->nc", parts, held)
        return out
