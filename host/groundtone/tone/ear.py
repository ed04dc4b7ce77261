"""How the ear takes a sound: how loud a frequency seems, which frequency a note is, and on which side it stands."""

import math
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Side = Literal["left", "right"]

_A4_HZ = 440.0  # concert pitch, ISO 16
_SEMITONES_FROM_A = {"C": -9, "D": -7, "E": -5, "F": -4, "G": -2, "A": 0, "B": 2}


def a_weight_db(freq_hz: ArrayLike) -> NDArray[np.float64]:
    """Gives the A weighting of IEC 61672-1 in decibels.

    A weighting stands in for equal loudness here: at the moderate levels of a cue it follows the contours of
    ISO 226 closely enough between 200 Hz and 3 kHz, and it can be written in one line.

    Parameters
    ----------
    freq_hz : array_like
        Frequencies in Hz, any shape; 0 Hz gives minus infinity and NaN gives NaN.

    Returns
    -------
    ndarray
        Weighting in dB, same shape, 0 dB at 1 kHz.

    Examples
    --------
    >>> round(float(a_weight_db(100.0)), 1)
    -19.1
    """
    f2 = np.square(np.asarray(freq_hz, dtype=np.float64))
    # Pole frequencies in Hz and the 2.00 dB that brings 1 kHz to 0: IEC 61672-1, by a public copy of its transfer
    # function (poles at 129.43, 676.7, 4636.36 and 76617.2 rad/s, gain 1.2589).
    top = 12194.0**2 * f2**2
    bottom = (f2 + 20.6**2) * np.sqrt((f2 + 107.7**2) * (f2 + 737.9**2)) * (f2 + 12194.0**2)
    with np.errstate(divide="ignore"):
        return np.asarray(20.0 * np.log10(top / bottom) + 2.00, dtype=np.float64)


def note_hz(name: str) -> float:
    """Gives the frequency of a note in equal temperament from A4 = 440 Hz (ISO 16).

    Parameters
    ----------
    name : str
        Letter, an optional ``#``, and the octave: ``"A4"``, ``"C#6"``.

    Returns
    -------
    float
        Frequency in Hz.

    Raises
    ------
    ValueError
        If the name is not a note.

    Examples
    --------
    >>> note_hz("A5")
    880.0
    """
    letter, octave = name[:1], name[1:].removeprefix("#")
    if letter not in _SEMITONES_FROM_A or not octave.isdigit():
        raise ValueError(f"{name!r} is not a note such as A4 or C#6.")
    semitones = _SEMITONES_FROM_A[letter] + name.count("#") + 12 * (int(octave) - 4)
    return float(_A4_HZ * 2.0 ** (semitones / 12.0))


def pan_gains(side: float, lead: Side) -> tuple[float, float]:
    """Gives the factors of the left and the right channel; their power adds up to 1 wherever the sound stands.

    Parameters
    ----------
    side : float
        -1 at the trail side, 0 in the middle, 1 at the lead side; what lies outside is bounded.
    lead : {"left", "right"}
        On which side the lead foot is.

    Returns
    -------
    tuple of float
        Left and right.

    Examples
    --------
    >>> left, right = pan_gains(1.0, "left")
    >>> round(left, 3), round(right, 3)
    (1.0, 0.0)
    """
    to_right = min(max(side, -1.0), 1.0) * (-1.0 if lead == "left" else 1.0)
    angle = (to_right + 1.0) * math.pi / 4.0
    return math.cos(angle), math.sin(angle)
