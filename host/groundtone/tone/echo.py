"""The slow echo: the path of a swing's pressure as sound, several times slower than it went.

The lead share is the pitch (low on the trail side, two octaves higher on the lead side; in stereo it wanders from side
to side as well), the heel-toe position is the brightness (dark at the heels, bright at the toes). Nothing beats and
nothing ticks, for it is no pace to swing to: where pressure turned and where the ball was hit the timbre changes, from
full (backswing) to hollow (downswing) to the octave (after impact). What is not known is silent.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groundtone.errors import ToneError
from groundtone.tone.cuevoice import RELEASE_S
from groundtone.tone.ear import a_weight_db
from groundtone.tone.voices import CEILING, CUE_SHARE, Samples, cue_loudness, raised_cosine

SLOWER = (3.0, 5.0)  # how many times slower an echo may be
USUAL_SLOWER = 4.0
LONGEST_S = 8.0  # what would sound after this long is left out
_BELOW_DB = -8.0  # A level of the echo against a cue of size 1
_LOW_HZ, _HIGH_HZ = 196.0, 784.0
_SHARES = (0.1, 0.9)  # lead shares that have the lowest and the highest pitch
_ROLL_OFF = (3.0, 0.8)  # a harmonic k has k to the minus this, at the heels and at the toes
# Amplitudes of six harmonics before the turn of pressure, from there to impact, and after it.
_PARTS = np.array([[1, 1, 1, 1, 1, 1], [1, 0, 1, 0, 1, 0], [0.4, 1, 0.2, 1, 0.2, 1]], dtype=np.float64)
_CHANGE_S = 0.060  # a change of timbre takes this long, as heard
_FADE_S = 0.030  # what is known begins and ends so softly, as heard
_GRID_S = 0.005
_SMOOTH_S = 0.040  # zero-phase, in the swing's own time; quicker wiggles are the film's noise
_GAP_S = 0.100  # frames farther apart than this: nothing is known between them


@dataclass(frozen=True)
class EchoPath:
    """The path of one swing.

    Attributes
    ----------
    t_s : array_like, shape (n,)
        Device time, s, increasing.
    share, position : array_like, shape (n,)
        Lead share and overall heel-toe position, 0 to 1; NaN where not known.
    turn_s, impact_s : float
        Device time of the turn of pressure and of impact, s; NaN where not known.
    lead : {"left", "right"}
        Side of the lead foot, for stereo.
    """

    t_s: ArrayLike
    share: ArrayLike
    position: ArrayLike
    turn_s: float
    impact_s: float
    lead: str = "left"


def echo_wave(path: EchoPath, rate_hz: int, slower: float = USUAL_SLOWER, stereo: bool = False) -> Samples:
    """Makes the samples of a slow echo.

    Parameters
    ----------
    slower : float
        How many times slower than the swing, 3 to 5.
    stereo : bool
        Two channels, left and right.

    Returns
    -------
    ndarray, shape (m,) or (m, 2)
        As long as the path times `slower`, at most `LONGEST_S`; it starts and ends at nothing and stays within the part
        of `groundtone.tone.voices.CEILING` that cues have. Empty where nothing of the path is known.

    Raises
    ------
    ToneError
        If the arrays do not fit each other, time does not increase, or `slower` is out of range.
    """
    if not SLOWER[0] <= slower <= SLOWER[1]:
        raise ToneError(f"A slow echo is {SLOWER[0]:g} to {SLOWER[1]:g} times slower than the swing, not {slower:g}.")
    t, share, position = (np.asarray(a, dtype=np.float64) for a in (path.t_s, path.share, path.position))
    if t.ndim != 1 or len(t) < 2 or share.shape != t.shape or position.shape != t.shape:
        raise ToneError("The path of a slow echo needs as many times as shares and positions, two at least.")
    if not np.all(np.isfinite(t)) or np.any(np.diff(t) <= 0.0):
        raise ToneError("The times of a slow echo must increase from frame to frame.")
    if path.lead not in ("left", "right"):
        raise ToneError(f"The lead foot of a slow echo is 'left' or 'right', not {path.lead!r}.")
    known = np.isfinite(share) & np.isfinite(position)
    n = round(min((t[-1] - t[0]) * slower, LONGEST_S) * rate_hz)
    heard = _heard(t, known, t[0] + np.arange(n) / (slower * rate_hz))
    envelope = _envelope(heard, round(_FADE_S * rate_hz))
    if not envelope.any():
        return np.zeros((0, 2) if stereo else 0)
    grid = np.arange(t[0], t[-1] + _GRID_S, _GRID_S)
    share, position = (_smoothed(np.interp(grid, t[known], a[known])) for a in (share, position))
    pitch = np.clip((share - _SHARES[0]) / (_SHARES[1] - _SHARES[0]), 0.0, 1.0)
    hz = _LOW_HZ * (_HIGH_HZ / _LOW_HZ) ** pitch
    amplitudes = _amplitudes(grid, hz, np.clip(position, 0.0, 1.0), path, slower, rate_hz)

    at = np.arange(n) / (slower * rate_hz * _GRID_S)  # where each sample lies on the grid
    places = np.arange(len(grid), dtype=np.float64)
    turns = np.cumsum(np.interp(at, places, hz)) / rate_hz
    wave = np.zeros(n)
    for k, amplitude in enumerate(amplitudes, start=1):
        wave += np.interp(at, places, amplitude) * np.sin(2.0 * np.pi * k * turns)
    wave *= envelope
    # The low, dark parts need the largest swings for their loudness: where these are too large, all of it gives way.
    wave *= min(1.0, CUE_SHARE * CEILING / float(np.max(np.abs(wave))))
    if not stereo:
        return wave
    to_lead = np.clip(np.interp(at, places, 2.0 * share - 1.0), -0.8, 0.8)
    angle = (to_lead * (-1.0 if path.lead == "left" else 1.0) + 1.0) * np.pi / 4.0
    return np.stack([wave * np.cos(angle), wave * np.sin(angle)], axis=1)


class SoundingEcho:
    """An echo while it sounds; it can be cut, and then ends in `RELEASE_S` without a click.

    Parameters
    ----------
    wave : ndarray, shape (n,) or (n, 2)
        From `echo_wave`.
    """

    def __init__(self, wave: Samples, rate_hz: int) -> None:
        self._left = wave
        self._fall = raised_cosine(round(RELEASE_S * rate_hz))[::-1]
        self._cut = False

    @property
    def over(self) -> bool:
        """Whether nothing is left of it."""
        return not len(self._left)

    def cut(self) -> None:
        """Ends it from the next sample on."""
        if not self._cut:
            self._cut = True
            fall = self._fall[: len(self._left)]
            self._left = (self._left[: len(fall)].T * fall).T

    def render(self, n: int) -> Samples:
        """Gives the next samples, fewer than `n` where it ends.

        Returns
        -------
        ndarray, shape (m,) or (m, 2)
        """
        out, self._left = self._left[:n], self._left[n:]
        return out


def _heard(t: Samples, known: NDArray[np.bool_], at: Samples) -> NDArray[np.bool_]:
    """Whether each moment lies between two known frames that are near each other."""
    between = known[:-1] & known[1:] & (np.diff(t) <= _GAP_S)
    return np.asarray(between[np.clip(np.searchsorted(t, at, side="right") - 1, 0, len(between) - 1)], dtype=np.bool_)


def _envelope(heard: NDArray[np.bool_], fade: int) -> Samples:
    """1 where it is heard, falling to 0 inside the edges of each stretch."""
    out = heard.astype(np.float64)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], heard.astype(np.int8), [0]])))
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        rise = raised_cosine(min(fade, (end - begin) // 2))
        out[begin : begin + len(rise)] *= rise
        out[end - len(rise) : end] *= rise[::-1]
    return out


def _smoothed(values: Samples) -> Samples:
    """A moving mean in the shape of a cosine's hill, zero-phase; the ends are held."""
    half = round(_SMOOTH_S / _GRID_S / 2)
    hill = np.hanning(2 * half + 3)[1:-1]
    return np.convolve(np.pad(values, half, mode="edge"), hill / hill.sum(), mode="valid")


def _amplitudes(grid: Samples, hz: Samples, position: Samples, path: EchoPath, slower: float, rate_hz: int) -> Samples:
    """Amplitude of each harmonic along the grid, shape (6, grid): equally loud everywhere by A weighting."""
    k = np.arange(1, _PARTS.shape[1] + 1)[:, None]
    turned, hit = (_changed(grid, when, _CHANGE_S / slower) for when in (path.turn_s, path.impact_s))
    turned = np.maximum(turned, hit)  # impact without a turn of pressure: the downswing has no part of its own
    parts = np.stack([1.0 - turned, turned - hit, hit])
    out = (_PARTS.T @ parts) * k ** -(_ROLL_OFF[0] + (_ROLL_OFF[1] - _ROLL_OFF[0]) * position)
    out[k * hz > 0.45 * rate_hz] = 0.0
    loudness = np.sqrt(0.5 * np.sum(out**2 * 10.0 ** (a_weight_db(k * hz) / 10.0), axis=0))
    return np.asarray(out * (cue_loudness(rate_hz) * 10.0 ** (_BELOW_DB / 20.0) / loudness), dtype=np.float64)


def _changed(grid: Samples, when_s: float, takes_s: float) -> Samples:
    """0 before a moment and 1 after it, with half a cosine around it; 0 throughout where it is not known."""
    if not np.isfinite(when_s):
        return np.zeros(len(grid))
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip((grid - when_s) / takes_s + 0.5, 0.0, 1.0)))
