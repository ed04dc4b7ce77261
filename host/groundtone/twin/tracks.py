"""Curves in time through knots, and the sway that lies on them."""

import numpy as np
from scipy.interpolate import PchipInterpolator

from groundtone.twin.network import FloatArray
from groundtone.twin.swing_knots import Knots


class Track:
    """Knots of one curve, in order of time; between them the curve is smooth (C1) and overshoots no knot."""

    def __init__(self, value: float) -> None:
        self.knots: Knots = [(-1.0, value), (0.0, value)]

    def to(self, t: float, value: float) -> None:
        """The curve goes to `value` at time `t`, s, later than all before."""
        if t <= self.knots[-1][0] + 1e-6:
            raise ValueError(f"knots must go forward in time: {t:g} after {self.knots[-1][0]:g}")
        self.knots.append((t, value))

    def stay(self, t: float) -> None:
        """The curve stays where it is until `t`, s."""
        self.to(t, self.knots[-1][1])

    def extend(self, knots: Knots) -> None:
        """Several knots."""
        for t, value in knots:
            self.to(t, value)

    def at(self, t: FloatArray) -> FloatArray:
        """Values at times, s; after the last knot the curve stays."""
        times, values = zip(*self.knots, strict=True)
        out: FloatArray = PchipInterpolator(times, values)(np.minimum(t, times[-1]))
        return out


def sway(t: FloatArray, rng: np.random.Generator, rms: float) -> FloatArray:
    """Slow random sway: nine sinusoids of 0.1 to 1.6 Hz with random phases, of the given rms over long times."""
    f = np.geomspace(0.1, 1.6, 9) * rng.uniform(0.9, 1.1, 9)
    amplitude = f**-0.5
    amplitude *= rms * np.sqrt(2.0 / np.sum(amplitude**2))
    # One wave at a time: for an hour all nine at once would take half a gigabyte.
    out: FloatArray = np.zeros(t.shape)
    for rate, size, phase in zip(f, amplitude, rng.uniform(0.0, 2.0 * np.pi, 9), strict=True):
        out += size * np.sin(2.0 * np.pi * rate * t + phase)
    return out
