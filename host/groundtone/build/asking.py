"""What commissioning asks of the person at the mat, and the gathering of what happens then."""

from __future__ import annotations

from collections import deque
from collections.abc import Generator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.build.evidence import ACTIVE, FloatArray, Reading

BASE = 6
WEAK_READINGS = 6
HISTORY_S = 1.2
STILL_S = 0.3
# Calm is: nothing moved by more than this part of the strongest rise, and most of that rise is gone.
STILL_PART, GONE_PART = 0.08, 0.3


@dataclass(frozen=True)
class Ask:
    """Something to do at the mat.

    Attributes
    ----------
    do : str
        The deed in the words of the simulated person ("stroke 0 3"); "" where nothing is to be done.
    words : str
        The same for a person.
    again : bool
        It was asked before, and nothing was felt.
    """

    do: str
    words: str
    again: bool = False


@dataclass(frozen=True)
class Gathered:
    """What happened after an ask.

    Attributes
    ----------
    t_s : (n,) array
    rise : (n, R, C) array
        Readings above what they were before.
    """

    t_s: FloatArray
    rise: FloatArray
    readings: tuple[Reading, ...]


Listening = Generator[Ask | None, Reading, Gathered | None]


def gather(
    ask: Ask,
    ignore: NDArray[np.bool_],
    patience_s: float = 8.0,
    quiet_s: float = 1.0,
    most_s: float = 60.0,
    times: int = 2,
    weak: tuple[int, int, float] | None = None,
) -> Listening:
    """Ask, wait until something is pressed, and gather until the mat is calm again.

    Parameters
    ----------
    ignore : (C,) array of bool
        Columns that say nothing about calm (they float).
    patience_s : float
        Time until it is asked once more, and until it is given up.
    quiet_s : float
        How long it must be calm.
    most_s : float
        The longest that is gathered.
    times : int
        How often it is asked.
    weak : (row, column, rise), optional
        A cell of which this smaller rise, over the mean of `WEAK_READINGS` readings, counts as well.

    Yields
    ------
    Ask or None
        Something to tell the person, or nothing; takes the next reading.

    Returns
    -------
    Gathered or None
        None where nothing was felt.
    """
    reading = yield ask
    # The beginning of what is kept is the empty mat; what floats may be pressed before anything else is noticed.
    history = deque([reading])
    asked_s, asked, active = reading.t_s, 1, 0
    while True:
        reading = yield None
        history.append(reading)
        while reading.t_s - history[0].t_s > HISTORY_S and len(history) > BASE + 2:
            history.popleft()
        base = np.mean([r.cells for r in list(history)[:BASE]], axis=0)
        active = active + 1 if float((reading.cells - base)[:, ~ignore].max(initial=0.0)) > ACTIVE else 0
        if weak is not None and len(history) >= BASE + WEAK_READINGS:
            row, column, least = weak
            last = [r.cells[row, column] for r in list(history)[-WEAK_READINGS:]]
            active = 2 if float(np.mean(last)) - base[row, column] > least else active
        if active >= 2:
            return (yield from _until_calm(list(history), base, ignore, quiet_s, most_s))
        if reading.t_s - asked_s > patience_s:
            if asked >= times:
                return None
            asked += 1
            asked_s = reading.t_s
            yield Ask(ask.do, ask.words, again=True)


def _until_calm(
    readings: list[Reading], base: FloatArray, ignore: NDArray[np.bool_], quiet_s: float, most_s: float
) -> Generator[Ask | None, Reading, Gathered]:
    strongest = 0.0
    calm_since: float | None = None
    while True:
        reading = yield None
        readings.append(reading)
        now = reading.t_s
        rise = (reading.cells - base)[:, ~ignore]
        strongest = max(strongest, float(rise.max(initial=0.0)))
        before = next(r for r in reversed(readings) if r is readings[0] or now - r.t_s >= STILL_S)
        moved = float(np.abs(reading.cells - before.cells)[:, ~ignore].max(initial=0.0))
        calm = moved < max(ACTIVE, STILL_PART * strongest) and rise.max(initial=0.0) < max(
            2 * ACTIVE, GONE_PART * strongest
        )
        calm_since = (calm_since if calm_since is not None else now) if calm else None
        if (calm_since is not None and now - calm_since >= quiet_s) or now - readings[0].t_s > most_s:
            t_s = np.array([r.t_s for r in readings])
            return Gathered(t_s, np.array([r.cells for r in readings]) - base, tuple(readings))
