"""The board's analogue-to-digital converter: voltages in, 12-bit codes out, with its noise and its wide codes."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

BITS = 12
TOP = (1 << BITS) - 1
# Differential nonlinearity of the RP2040 (its erratum E11, from memory): four codes about nine steps wide.
WIDE_CODES = (512, 1536, 2560, 3584)
WIDE_LSB = 9.0


def transfer_points() -> tuple[FloatArray, FloatArray]:
    """Corners of the converter's characteristic with its wide codes.

    The wide codes take their width from all the others, so the ends of the scale stay where they are.

    Returns
    -------
    (10,) arrays
        Input in ideal steps of the scale, and the code (not yet rounded down) at each corner.
    """
    others = (2**BITS - len(WIDE_CODES) * WIDE_LSB) / (2**BITS - len(WIDE_CODES))
    inputs, codes = [0.0], [0.0]
    for wide in WIDE_CODES:
        inputs.append(inputs[-1] + (wide - codes[-1]) * others)
        codes.append(float(wide))
        inputs.append(inputs[-1] + WIDE_LSB)
        codes.append(wide + 1.0)
    inputs.append(float(2**BITS))
    codes.append(float(2**BITS))
    return np.array(inputs), np.array(codes)


_INPUTS, _CODES = transfer_points()


def convert(level: FloatArray, noise_lsb: FloatArray | float = 0.0, wide_codes: bool = True) -> NDArray[np.uint16]:
    """Convert voltages.

    Parameters
    ----------
    level : array
        Input as a fraction of the ADC's reference; outside 0 to 1 it is clipped.
    noise_lsb : array or float
        Noise of each conversion, in steps of the scale, added before rounding. Its shape broadcasts with `level`.
    wide_codes : bool
        With the four wide codes of the RP2040 (the RP2350 has none).

    Returns
    -------
    array of uint16
        0 to 4095.
    """
    x = level * float(2**BITS) + noise_lsb
    if wide_codes:
        x = np.interp(x, _INPUTS, _CODES)
    out: NDArray[np.uint16] = np.clip(x, 0, TOP).astype(np.uint16)
    return out


def hum(t_s: NDArray[np.floating[Any]], size_lsb: float, hertz: float, seed: int) -> FloatArray:
    """What the mains add to readings, steps of the scale: a sine with a third of its size at three times the rate.

    Parameters
    ----------
    t_s : array
        When each reading is taken, s.
    size_lsb, hertz : float
    seed : int
        Draws the phase.
    """
    phase = np.random.default_rng([seed, 52]).uniform(0.0, 2.0 * np.pi, 2)
    turn = 2.0 * np.pi * hertz * t_s
    out: FloatArray = size_lsb * (np.sin(turn + phase[0]) + np.sin(3.0 * turn + phase[1]) / 3.0)
    return out
