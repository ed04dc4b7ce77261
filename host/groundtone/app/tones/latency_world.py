"""What the simulated mat feels while `groundtone latency` measures: a rock, then the weight from heels to toes at once.

The film of an invented golfer is played until the footprints are known. From then on the mat sees one of two moments of
that film: pressure near the heels, or near the toes. The change from one to the other is the step in force; its film
time is known, and each scan is written down with the host's clock, so that its time on that clock is known as well.
"""

from __future__ import annotations

import json
import os
import struct
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from groundtone.twin.scenario import GolferSpec, MatSpec, Scenario, Session, SwingSpec
from groundtone.twin.world import World

FIRST_S = 5.5  # film time of the first step; the footprints are known at 3.7 s, the sound's soft start is over
HEELS_US, TOES_US = 4_900_000, 5_300_000  # the two moments: overall position 0.26 and 0.78
BETWEEN = 0.5  # a heel-toe position that tells the two apart
_HELD_US = 20_000  # each moment is this long, so that the converter's noise is not the same in every scan
_ON_S = 0.150
_SCAN = struct.Struct("<qd")


@dataclass(frozen=True)
class Task:
    """What the world is to do.

    Attributes
    ----------
    log : str
        The file that takes film time (µs) and host time (s) of each scan.
    """

    log: str
    steps: int
    seed: int = 1

    def to_json(self) -> str:
        """For `groundtone.twin.mat_process.MatProcess`."""
        return json.dumps({"log": self.log, "steps": self.steps, "seed": self.seed})


def step_times(steps: int, seed: int) -> NDArray[np.float64]:
    """Film time of each step onto the toes, s; the gaps vary, so that steps fall anywhere between scans and blocks."""
    gaps = 0.30 + 0.05 * np.random.default_rng(seed).random(steps)
    return np.asarray(FIRST_S + np.cumsum(gaps), dtype=np.float64)


def read_scans(path: Path) -> NDArray[np.float64]:
    """Film time (s) and host time (s) of each scan, shape (n, 2)."""
    return np.array([(us * 1e-6, host_s) for us, host_s in _SCAN.iter_unpack(path.read_bytes())])


class StepWorld:
    """The twin's world with its time bent: see the head of this file.

    Parameters
    ----------
    text : str
        A `Task` as JSON.
    """

    def __init__(self, text: str) -> None:
        task = Task(**json.loads(text))
        swings = (SwingSpec(),)
        act = Session(GolferSpec(), swings, seed=2, empty_s=0.5, rocks=2, rock_s=2.0, setup_s=1.0)
        scenario = Scenario(MatSpec.reference(), act)
        self._world = World(scenario)
        self.rows, self.columns = self._world.rows, self._world.columns
        self.uid, self.layout = scenario.mat.uid, scenario.mat.layout
        self._on_us = np.round(step_times(task.steps, task.seed) * 1e6).astype(np.int64)
        self.duration_s = float(self._on_us[-1] * 1e-6 + 1.0)
        self._log = os.open(task.log, os.O_WRONLY | os.O_CREAT | os.O_APPEND)

    def table(self, film_time_us: int) -> bytes:
        """See `World.table`."""
        os.write(self._log, _SCAN.pack(film_time_us, time.monotonic()))
        return self._world.table(self._bent(film_time_us))

    def probe(self, film_time_us: int, row_states: bytes, ref_state: int) -> bytes:
        """See `World.probe`."""
        return self._world.probe(self._bent(film_time_us), row_states, ref_state)

    def pulled(self, film_time_us: int, row_states: bytes, ref_state: int, pull: int, node: int) -> bytes:
        """See `World.pulled`."""
        return self._world.pulled(self._bent(film_time_us), row_states, ref_state, pull, node)

    def strike(self, t0_us: int, t1_us: int) -> tuple[float, int] | None:
        """Nobody hits a ball."""
        return None

    def strike_code(self, film_time_us: int) -> int:
        """See `World.strike_code`."""
        return self._world.strike_code(self._bent(film_time_us))

    def _bent(self, film_time_us: int) -> int:
        """The moment of the film that the mat feels now."""
        if film_time_us < TOES_US:
            return film_time_us
        last = int(np.searchsorted(self._on_us, film_time_us, side="right")) - 1
        on = last >= 0 and film_time_us - self._on_us[last] < _ON_S * 1e6
        return (TOES_US if on else HEELS_US) + film_time_us % _HELD_US
