"""Simulated signals of the strike sensor: struck balls, and all that is none. Every figure here is invented.

The sensor is a piezo disc on a lead, clamped between 0 V and the supply; signals are voltages at the ADC's pin every
10 µs. No piezo has been measured for them.

A strike's ring runs from the ball to the disc at the golfer's edge as a bending wave of the strip's board: phase
velocity c = (1.8 c_L h f)^1/2 with c_L² = E / (ρ (1 - ν²)), group velocity 2 c, amplitude by (r0 / r)^1/2 and
exp(-η k (r - r0) / 4) (Cremer, Heckl: Structure-Borne Sound, from memory). The board's stiffness, thickness and loss on
turf are drawn. What else is heard comes as it came: from the feet, from beyond, or (waggles) as strong as if the disc
were beside the ball.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Wave = NDArray[np.float64]

STEP_US = 10
LENGTH = 4500  # samples: 45 ms
SUPPLY_V = 3.3
EDGE_V = 0.6
EDGE_HYSTERESIS_V = 0.03
WAY_MM = (80.0, 168.0)
"""From the ball to a disc beside it, for which the volts were invented, and to the one at the golfer's edge."""
KINDS = ("strike", "footstep", "waggle", "weight", "next bay", "hard tap")


def wave(kind: str, rng: np.random.Generator, start_us: int) -> Wave:
    """The piezo's voltage before the clamp, (LENGTH,) V, for one event that starts at a time.

    Parameters
    ----------
    kind : str
        One of `KINDS`. A strike rings at 1.8–4 kHz, from 3–30 V beside the ball and less after its way, first half-wave
        up or down, and the club's thump may follow. A footstep is a slow push of 0.3–8 V at 15–120 Hz with rubbing of
        up to 0.05 V rms. A waggle is one to three taps of the club of 0.05–0.25 V. A weight set down or dropped is a
        thump of 1–10 V at 30–200 Hz with a click of up to 0.25 V. A strike in the next bay arrives with 0.01–0.25 V. A
        hard tap is a tap of 0.5–3 V: too much like a light strike to be told from one, and no figure asks for that.
    rng : Generator
    start_us : int
        When it starts, µs.
    """
    t: Wave = np.arange(LENGTH, dtype=np.float64) * STEP_US * 1e-6 - start_us * 1e-6
    out = rng.standard_normal(LENGTH) * 1.2e-3
    out += 0.03 * np.sin(2 * np.pi * 50 * t + rng.uniform(0, 6.3))
    match kind:
        case "strike":
            out += _ring(t, rng, _between(rng, 3, 30), through_board=True)
            if rng.random() < 0.5:
                out += _thump(t - rng.uniform(2e-3, 8e-3), rng, _between(rng, 0.3, 3), 40, 120)
        case "footstep":
            out += _thump(t, rng, _between(rng, 0.3, 8), 15, 120)
            smooth = np.convolve(rng.standard_normal(LENGTH), np.hanning(30), "same")
            smooth *= rng.uniform(0, 0.05) / max(smooth.std(), 1e-9)
            out += np.where(t > 0, smooth * np.exp(-np.maximum(t, 0) / 15e-3), 0.0)
        case "waggle":
            for _ in range(rng.integers(1, 4)):
                out += _ring(t - rng.uniform(0, 20e-3), rng, _between(rng, 0.05, 0.25))
            out += _thump(t, rng, _between(rng, 0.1, 0.6), 20, 80)
        case "hard tap":
            out += _ring(t, rng, _between(rng, 0.5, 3))
        case "weight":
            out += _thump(t, rng, _between(rng, 1, 10), 30, 200)
            out += _ring(t, rng, _between(rng, 0.02, 0.25))
        case "next bay":
            out += _ring(t, rng, _between(rng, 0.01, 0.25))
            out += _thump(t - 3e-3, rng, _between(rng, 0.01, 0.3), 30, 100)
        case _:
            raise ValueError(f"no signal of this kind: {kind}")
    return out


def codes(volts: Wave) -> NDArray[np.uint16]:
    """12-bit codes behind the clamp."""
    out: NDArray[np.uint16] = np.clip(volts / SUPPLY_V * 4096, 0, 4095).astype(np.uint16)
    return out


def edges(volts: Wave) -> NDArray[np.int64]:
    """Times at which the edge pin falls, µs: the transistor begins to conduct at 0.6 V and lets go a little below."""
    over = np.flatnonzero(volts >= EDGE_V)
    out: list[int] = []
    armed_from = 0
    while True:
        over = over[over >= armed_from]
        if not over.size:
            return np.array(out, dtype=np.int64)
        out.append(int(over[0]) * STEP_US)
        below = np.flatnonzero(volts[over[0] :] < EDGE_V - EDGE_HYSTERESIS_V)
        if not below.size:
            return np.array(out, dtype=np.int64)
        armed_from = over[0] + below[0]


def _between(rng: np.random.Generator, low: float, high: float) -> float:
    """Uniform in the logarithm."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def way(rng: np.random.Generator, hz: float) -> tuple[float, float]:
    """How much later a strike's ring comes through the strip's board, s, and what is left of it."""
    stiff_pa, thick_m, loss = _between(rng, 3e9, 9e9), _between(rng, 5e-3, 9e-3), _between(rng, 0.03, 0.3)
    plate_m_s = np.sqrt(stiff_pa / (600.0 * (1 - 0.3**2)))
    bending_m_s = float(np.sqrt(1.8 * plate_m_s * thick_m * hz))
    near, far = (mm * 1e-3 for mm in WAY_MM)
    damped = np.exp(-loss * 2 * np.pi * hz / bending_m_s * (far - near) / 4)
    return far / (2 * bending_m_s), float(np.sqrt(near / far) * damped)


def _ring(t: Wave, rng: np.random.Generator, volts: float, *, through_board: bool = False) -> Wave:
    hz, tau = rng.uniform(1800, 4000), rng.uniform(0.6e-3, 1.5e-3)
    if through_board:
        later_s, left = way(rng, hz)
        t, volts = t - later_s, volts * left
    since = np.maximum(t, 0.0)
    sign = rng.choice([-1.0, 1.0])
    first = np.sin(2 * np.pi * hz * since)
    second = 0.25 * np.sin(2 * np.pi * 2.3 * hz * since)
    return np.where(t > 0, sign * volts * np.exp(-since / tau) * (first + second), 0.0)


def _thump(t: Wave, rng: np.random.Generator, volts: float, low_hz: float, high_hz: float) -> Wave:
    hz, tau = rng.uniform(low_hz, high_hz), rng.uniform(8e-3, 30e-3)
    since = np.maximum(t, 0.0)
    sign = rng.choice([-1.0, 1.0])
    return np.where(t > 0, sign * volts * np.exp(-since / tau) * np.sin(2 * np.pi * hz * since), 0.0)
