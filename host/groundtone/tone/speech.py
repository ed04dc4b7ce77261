"""Words that are spoken: made beforehand by a speech engine that needs no network, silence where there is none.

The engine is eSpeak NG (GPL, a program of its own, called and not linked), where `espeak-ng` is installed. What may be
said is a list of single words, so that no sentence has to be made while a session sounds.
"""

from __future__ import annotations

import io
import shutil
import subprocess
from collections.abc import Mapping
from fractions import Fraction

import numpy as np
import soundfile
from numpy.typing import NDArray

SAY = "say "
"""Signals that begin so are words: "say toes", "say 7 iron"."""
ENGINE = "espeak-ng"
_DIGITS = ("1", "2", "3", "4", "5", "6", "7", "8", "9")
WORDS: Mapping[str, Mapping[str, str]] = {
    "en": {
        "toes": "toes", "heels": "heels", "middle": "middle", "lead": "lead side", "trail": "trail side",
        "low": "low", "high": "high", "where": "where was it?", "test": "silent test", "retention": "silent test",
        "done": "done", "driver": "driver", "wood": "wood", "hybrid": "hybrid", "iron": "iron", "wedge": "wedge",
        **{digit: digit for digit in _DIGITS},
    },
    "de": {
        "toes": "Zehen", "heels": "Fersen", "middle": "Mitte", "lead": "Zielseite", "trail": "Rückseite",
        "low": "tief", "high": "hoch", "where": "Wo war es?", "test": "stummer Test", "retention": "stummer Test",
        "done": "fertig", "driver": "Driver", "wood": "Holz", "hybrid": "Hybrid", "iron": "Eisen", "wedge": "Wedge",
        **{digit: digit for digit in _DIGITS},
    },
}  # fmt: skip
LANGUAGES = tuple(WORDS)
# An engine that hangs costs no more than this for a word, s.
_PATIENCE_S = 5.0
_QUIET = 0.02


def engine() -> str | None:
    """Where the speech engine is; None: words are silent."""
    return shutil.which(ENGINE)


def spoken(language: str, rate_hz: int, peak: float) -> dict[str, NDArray[np.float64]]:
    """Each word as samples.

    Parameters
    ----------
    language : str
        One of `LANGUAGES`; empty: no words.
    peak : float
        The largest sample of each.

    Returns
    -------
    dict
        By the word's name; empty where there is no engine, and without what it could not say.
    """
    program = engine()
    out: dict[str, NDArray[np.float64]] = {}
    if program is None or not language:
        return out
    for name, text in WORDS[language].items():
        wave = _said(program, language, text, rate_hz)
        if wave.size:
            out[name] = wave * (peak / float(np.max(np.abs(wave))))
    return out


def phrase(name: str, words: Mapping[str, NDArray[np.float64]]) -> NDArray[np.float64]:
    """The samples of a signal such as "say 7 iron": its words that are known, one after the other."""
    parts = [words[word] for word in name.removeprefix(SAY).replace("-", " ").lower().split() if word in words]
    return np.concatenate(parts) if parts else np.zeros(0)


def _said(program: str, language: str, text: str, rate_hz: int) -> NDArray[np.float64]:
    # A second to import: a session without words need not wait for it.
    from scipy.signal import resample_poly

    nothing = np.zeros(0)
    try:
        done = subprocess.run(
            [program, "-v", language, "-s", "150", "--stdout", text], capture_output=True, timeout=_PATIENCE_S,
            check=False,
        )  # fmt: skip
        samples, rate = soundfile.read(io.BytesIO(done.stdout), dtype="float64")
    except (OSError, subprocess.TimeoutExpired, soundfile.SoundFileError):
        return nothing
    heard = np.flatnonzero(np.abs(samples) > _QUIET * np.max(np.abs(samples), initial=0.0))
    if samples.ndim != 1 or not heard.size:
        return nothing
    part = Fraction(rate_hz, int(rate))
    wave = resample_poly(samples[heard[0] : heard[-1] + 1], part.numerator, part.denominator)
    # It begins and ends at nothing.
    fade = round(0.005 * rate_hz)
    rise = np.linspace(0.0, 1.0, fade)
    wave[:fade] *= rise
    wave[-fade:] *= rise[::-1]
    return np.asarray(wave, dtype=np.float64)
