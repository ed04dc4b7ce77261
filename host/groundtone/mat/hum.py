"""Mains hum and the converter's lower end: what they do to readings, seen in frames and taken off. Causal.

Hum lies on the converter's input, so every cell of a scan has the same of it, up to the little by which it turns from
the first row to the last. A converter ends at zero: of a cell that carries nothing only the upper half of noise and hum
is read, of a loaded one all, so neither may be judged by the other. With s a cell's level, h the hum at its time and c
a width that goes with the noise, a reading is expected to be

    E(s + h),   E(x) = x for x > c,   (x + c)² / 4c between,   0 for x < -c

(a parabola in the place of the mean of a normal deviate that ends at zero, and within a fiftieth of its standard
deviation of it), and what a reading differs by from that tells hum and level, each as far as E rises there. The hum is
a sum of 50 and 60 Hz and their second and third multiples, each of one size and phase that change slowly, so that what
moves on the mat is not taken for it; what stands still at this rate of frames cannot be told from a load, and is left.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_MAINS_HZ, _MULTIPLES = np.array([50.0, 60.0]), np.array([1, 2, 3])
# How quickly size and phase are followed, s (all together at most by this part a frame); nearer to standing still than
# this, Hz, a multiple is none to be told.
_FOLLOW_S, _NEAREST_HZ, _LONGEST_S, _MOST = 0.25, 3.0, 0.1, 0.5
# Steps of more are loads and no hum; what moves by so many deviations of the noise tells half as much of it.
_FAR, _MOVES, _LEAST_RISE = 0.004, 6.0, 6.0
# A loaded cell's level goes on as it went (an alpha-beta tracker). One near zero follows what it reads by
# the least part where that is noise, and whole where it is many deviations (half at the root of eight).
_ALPHA, _BETA, _LEAST, _HALF = 0.3, 0.05, 0.08, 8.0
# E's width over the deviation of a frame's noise (two conversions); noise before it is known, its least, its weight.
_WIDTH, _NOISE, _LEAST_NOISE, _LEARN = 2.3, 3e-4, 3e-5, 0.004
# What cells read that carry nothing, seen while as many as ever lie near zero: so many frames are kept, at least, for
# each look. A converter rounds down, which is worth so many frames of saying where zero is.
_KEPT, _ENOUGH, _EVERY, _AS_MANY = 256, 8, 8, 0.97
_STEP = 1 / 4096
_ZERO, _ZERO_FRAMES = -0.5 * _STEP, 2.0
# Where the references are read, in half heights of the mat from its middle.
_BELOW = 1.13
# Below this, four fifths of a converter's step of 12 bits, it may be a load that wanders and nothing is taken off.
_HUM = 2e-4
# Told from this on, after so many frames; what jumps by more from frame to frame is too much to be taken out.
_TOLD, _ROUGH, _JUDGED, _COUNTS = 2.5e-4, 3e-3, 200, 4096
_WHAT_TO_DO = "keep the mat's lead and its computer away from mains cables and power supplies."


class Hum:
    """Takes hum, and what the converter's lower end makes of noise, off readings, frame after frame.

    A loaded cell is read without delay. A cell within the noise of zero is followed over some frames, the quicker the
    further it moves.

    Parameters
    ----------
    ignored : list of int
        Columns that are not wired.
    """

    def __init__(self, ignored: list[int] | None = None) -> None:
        self._ignored = ignored or []
        self._level: Array | None = None
        self._slope = self._place = self._place_2 = np.zeros(0)
        self._unwired = np.zeros(0, bool)
        self._last_us, self._period_s, self._frames = 0, math.nan, 0
        self._phase = np.zeros(len(_MAINS_HZ))
        # Of each multiple: size and phase in the middle row, and what is added to them per half height.
        self._size = np.zeros((2, len(_MAINS_HZ) * len(_MULTIPLES)), complex)
        self._apart = np.zeros(self._size.shape[1])
        self._noise, self._supply = _NOISE, (math.nan, math.nan)
        self._zero = _ZERO
        self._near, self._seen, self._most = np.zeros(_KEPT), 0, 0
        self._turns = np.zeros((self._size.shape[1], _KEPT), complex)
        self._before: Array | None = None
        self._jumps, self._looks = 0.0, 0
        self._said = False

    @property
    def size(self) -> float:
        """Standard deviation of the hum, part of the supply."""
        first = self._size[0]
        return math.sqrt(float((first.real @ first.real + first.imag @ first.imag) / 2))

    def sentence(self) -> str | None:
        """What a person must know of the hum, once; None where there is none, or it has been said.

        Hum that is taken out is told so that its cause is taken away; more than can be taken out is told as what it is.
        """
        if self._said or self._frames < _JUDGED:
            return None
        if (self._jumps / 2) ** 0.5 > _ROUGH:
            self._said = True
            return "The mains hum so strongly in the readings that it cannot be taken out: " + _WHAT_TO_DO
        if self.size > _TOLD:
            self._said = True
            return f"The mains hum in the readings ({self.size * _COUNTS:.0f} counts) and are taken out: " + _WHAT_TO_DO
        return None

    def without(self, reading: Array, t_us: int, zero: float, supply: float = math.nan) -> Array:
        """One frame's readings above zero, without hum.

        Parameters
        ----------
        reading : ndarray, shape (rows, columns)
            Parts of the supply above the converter's lower end. NaN gives NaN, and nothing is learnt of it.
        t_us : int
            The mat's time, µs; it may wrap at 2^32.
        zero : float
            What the zero reads in the mean: where zero is until cells have told it.
        supply : float, optional
            The supply's own reading, where the frame brought it: it tells the noise.
        """
        flat = reading.ravel()
        if self._level is None or self._level.shape != flat.shape:
            if not math.isfinite(float(flat[0])):
                return reading
            self._begin(reading, t_us)
        elif not math.isfinite(float(flat[0])):
            return reading
        since_s = ((t_us - self._last_us) & 0xFFFFFFFF) * 1e-6
        self._last_us = t_us
        self._frames += 1
        turned, middle, along = self._turn(since_s)
        out = self._follow(flat, turned, middle, along, since_s, zero)
        self._listen(flat, supply - middle - _BELOW * along)
        return out.reshape(reading.shape)

    def _begin(self, reading: Array, t_us: int) -> None:
        rows, columns = reading.shape
        self._level, self._slope, self._last_us = reading.ravel().copy(), np.zeros(reading.size), t_us
        self._place = np.repeat(np.linspace(-1.0, 1.0, rows), columns)
        self._place_2 = self._place**2
        unwired = np.zeros(reading.shape, bool)
        unwired[:, self._ignored] = True
        self._unwired = unwired.ravel()

    def _turn(self, since_s: float) -> tuple[NDArray[np.complex128], float, float]:
        """Turns the phases on: each multiple's, as a complex number, and the hum in the middle and per half height."""
        if since_s < _LONGEST_S:
            known = math.isfinite(self._period_s)
            self._period_s += 0.02 * (since_s - self._period_s) if known else 0.0
            if not known and since_s > 0.0:
                self._period_s = since_s
                self._apart = _told_apart(1 / since_s)
            elif self._frames % 64 == 0:
                self._apart = _told_apart(1 / max(self._period_s, 1e-4))
        self._phase = (self._phase + 2 * math.pi * since_s * _MAINS_HZ) % (2 * math.pi)
        turned = np.exp(1j * np.multiply.outer(self._phase, _MULTIPLES).ravel())
        middle, along = (self._size @ turned).real.tolist()
        return turned, middle, along

    def _follow(
        self, reading: Array, turned: NDArray[np.complex128], middle: float, along: float, since_s: float, zero: float
    ) -> Array:
        """Levels, hum and zero after one more frame; what the cells read above zero without hum."""
        level, noise, size = self._level, self._noise, self.size
        assert level is not None
        width = _WIDTH * noise
        hum = middle + along * self._place
        guess = level + self._slope
        at = guess + hum
        rises = np.minimum(np.maximum((at + width) * (0.5 / width), 0.0), 1.0)
        off = reading - np.maximum(at - width, 0.0) - width * rises * rises
        square = off * off
        far = square > _FAR**2
        self._learn(off, rises / (1.0 + square * (_MOVES * noise) ** -2), far, turned, since_s)
        clean = reading - hum if size > _HUM else reading
        full = rises >= 1.0
        gain = np.where(full, _ALPHA, rises * (_LEAST + (1 - _LEAST) * square / (square + _HALF * noise**2)))
        level = guess + gain * off
        # A load that has come or gone is no hum, and its cell's level is what it reads now.
        self._level = level = np.maximum(np.where(far, clean, level), self._zero - width / 2)
        self._slope = np.where(full & ~far, self._slope + _BETA * off, 0.0)
        self._look(reading, level, turned, zero)
        # Above this all of the noise and the hum is read.
        least = self._zero + math.sqrt(2.0) * size + 2 * noise
        loaded = np.minimum(np.maximum((level - least) * (0.5 / noise), 0.0), 1.0)
        out: Array = level + loaded * (clean - level) - self._zero
        return out

    def _learn(
        self, off: Array, tells: Array, far: NDArray[np.bool_], turned: NDArray[np.complex128], since_s: float
    ) -> None:
        """Sizes and phases after one more frame, from what each cell that rises reads beyond what was expected."""
        tells[far | self._unwired] = 0.0
        power = tells * tells
        total = float(power.sum())
        if total < _LEAST_RISE or not since_s < _LONGEST_S:
            return
        pull = off * tells
        middle = float(pull.sum()) / total
        along = float(pull @ self._place) / max(float(power @ self._place_2), 1.0)
        gain = min(2 * since_s / _FOLLOW_S, _MOST / max(float(self._apart.sum()), 1.0))
        heard = gain * self._apart * turned.conj()
        self._size = (self._size + np.multiply.outer((middle, along), heard)) * self._apart

    def _look(self, reading: Array, level: Array, turned: NDArray[np.complex128], zero: float) -> None:
        """Where zero is: the level at which the cells would have read what they did while nobody stood there.

        Judged by what is known of noise and hum now, so that what is learnt later of them moves cells and zero alike.
        """
        low = (level < self._zero + _STEP + 1.5 * self._noise + self.size) & ~self._unwired
        count = int(np.count_nonzero(low))
        self._most = max(self._most, count)
        if count >= _AS_MANY * self._most and count >= _AS_MANY * low.size / 2:
            at = self._seen % _KEPT
            self._near[at], self._turns[:, at] = float(reading[low].mean()), turned
            self._seen += 1
        kept = min(self._seen, _KEPT)
        if kept < _ENOUGH:
            self._zero = zero if self._seen == 0 else min(zero, float(self._near[:kept].mean()))
            return
        if self._frames % _EVERY:
            return
        # What is read whole needs no guess, and the reference knows it better.
        hum = (self._size[0] @ self._turns[:, :kept]).real if self.size > _HUM else np.zeros(kept)
        width, found, seen = _WIDTH * self._noise, self._zero, 0.0
        for _ in range(2):
            at_hum = found + hum
            rises = np.minimum(np.maximum((at_hum + width) * (0.5 / width), 0.0), 1.0)
            off = self._near[:kept] - np.maximum(at_hum - width, 0.0) - width * rises * rises
            seen = float(rises.sum())
            guess = _ZERO_FRAMES * (1 - seen / kept)
            found += (float(off.sum()) + guess * (_ZERO - found)) / max(seen + guess, 1e-3)
        whole = min(max(10 * seen / kept - 9, 0.0), 1.0)
        self._zero = max(found + whole * (zero - found), -2 * width)

    def _listen(self, reading: Array, supply: float) -> None:
        """Learns the size of the noise from the supply's second differences, and how far the middle cell jumps."""
        if math.isfinite(supply):
            before, first = self._supply
            self._supply = supply, before
            change = supply - 2 * before + first
            if math.isfinite(change):
                self._looks += 1
                now = min(change * change / 6, 9 * self._noise**2)
                weight = max(_LEARN, min(3 / (self._looks + 2), 0.5))
                self._noise = math.sqrt(max(self._noise**2 + weight * (now - self._noise**2), _LEAST_NOISE**2))
        # Most cells carry nothing, so a foot moves the middle one little.
        if self._frames % 4 == 0:
            self._before = reading
        elif self._frames % 4 == 1 and self._before is not None:
            jump = float(np.median((reading - self._before)[~self._unwired]))
            self._jumps += 0.08 * (min(jump * jump, (4 * _ROUGH) ** 2) - self._jumps)


def _told_apart(rate_hz: float) -> Array:
    """1 for the multiples that can be told at so many frames a second: not standing still, and one of those alike.

    A multiple of f is seen as the nearest whole number of turns a frame leaves of it, whichever way round.
    """
    hz = np.multiply.outer(_MAINS_HZ, _MULTIPLES).ravel()
    seen_hz = np.abs((hz + rate_hz / 2) % rate_hz - rate_hz / 2)
    alike = np.abs(seen_hz[:, None] - seen_hz) < _NEAREST_HZ
    before = np.tril(alike, -1).any(1)
    return np.where((seen_hz > _NEAREST_HZ) & ~before, 1.0, 0.0)
