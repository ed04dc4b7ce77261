"""Runs a study mat by mat: says how far it is, can be cut at any time, and keeps what it has.

GROUNDTONE_STUDY names a folder in which each mat's result is kept as a line, so that a study that was cut goes on where
it was, on another day or on a faster machine. Results of other code are not taken for those of today's: a line holds a
digest of the files that made it. GROUNDTONE_STUDY_PROCESSES says how many mats are looked at side by side (2);
GROUNDTONE_STUDY_CLUSTER is the address of a Dask scheduler that looks at them on as many computers as it has.
"""

from __future__ import annotations

import hashlib
import importlib
import importlib.resources
import json
import math
import multiprocessing
import os
import signal
import time
import warnings
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

FOLDER, PROCESSES, CLUSTER = "GROUNDTONE_STUDY", "GROUNDTONE_STUDY_PROCESSES", "GROUNDTONE_STUDY_CLUSTER"
# Between two lines that say how far it is, s.
_SAID_S = 20.0
# What a result depends on, besides the libraries.
_MADE_BY = ("calibration", "mat", "pressure", "twin")
_ALSO = ("mats.py", "calibration_jobs.py", "as_they_come.py", "film_causes.py")


@dataclass(frozen=True)
class Study:
    """What came of a study.

    Attributes
    ----------
    seeds : tuple of int
        Those that were looked at, in order.
    results : tuple
        One for each; plain values, as JSON gives them back.
    asked : int
    """

    seeds: tuple[int, ...]
    results: tuple[Any, ...]
    asked: int

    @property
    def whole(self) -> bool:
        """Everything that was asked for was looked at."""
        return len(self.seeds) == self.asked


def study(
    name: str,
    job: Callable[[int], Any],
    seeds: Iterable[int],
    rooms: tuple[str, ...] = _MADE_BY,
    also: tuple[str, ...] = _ALSO,
) -> Study:
    """A job for each seed; ends early, with what there is, on Ctrl-C or when it is told to end.

    Parameters
    ----------
    name : str
        Of the study: its file in the folder, and what is said.
    job : callable
        A function of a module, from a seed to plain values.
    seeds : iterable of int
    rooms, also : tuple of str
        Folders of the program, and files beside this one, on whose code the results depend.
    """
    asked = list(seeds)
    kept = _Kept.of(name, rooms, also)
    done = {seed: kept.found[seed] for seed in asked if seed in kept.found}
    if done:
        click.echo(f"{name}: {len(done)} of {len(asked)} were kept", err=True)
    before, began = len(done), time.monotonic()
    said = began
    ends = _told_to_end()
    try:
        for seed, result in _spread(job, [seed for seed in asked if seed not in done]):
            done[seed] = kept.keep(seed, result)
            if time.monotonic() - said > _SAID_S:
                said = time.monotonic()
                left_s = (said - began) / (len(done) - before) * (len(asked) - len(done))
                click.echo(f"{name}: {len(done)} of {len(asked)}, about {left_s / 60:.0f} min more", err=True)
    except KeyboardInterrupt:
        click.echo(f"{name}: cut after {len(done)} of {len(asked)}", err=True)
    finally:
        signal.signal(signal.SIGTERM, ends)
    order = [seed for seed in asked if seed in done]
    return Study(tuple(order), tuple(done[seed] for seed in order), len(asked))


def _told_to_end() -> Any:
    """A process that is told to end answers as to Ctrl-C; gives back what it did before."""

    def cut(_number: int, _frame: object) -> None:
        raise KeyboardInterrupt

    return signal.signal(signal.SIGTERM, cut)


@dataclass(frozen=True)
class _Kept:
    """The lines of a study on the disk."""

    path: Path | None
    digest: str
    found: dict[int, Any]

    @classmethod
    def of(cls, name: str, rooms: tuple[str, ...], also: tuple[str, ...]) -> _Kept:
        folder = os.environ.get(FOLDER)
        if not folder:
            return cls(None, "", {})
        path, digest = Path(folder) / f"{name.replace(' ', '-')}.jsonl", made_by(rooms, also)
        path.parent.mkdir(parents=True, exist_ok=True)
        found = {}
        for line in path.read_text(encoding="utf-8").splitlines() if path.exists() else ():
            try:
                record = json.loads(line)
            except ValueError:
                continue  # the line that was being written when the study was killed
            if record["digest"] == digest:
                found[int(record["seed"])] = record["result"]
        return cls(path, digest, found)

    def keep(self, seed: int, result: Any) -> Any:
        """The result as it comes back from the disk, whether it goes there or not."""
        line = json.dumps({"digest": self.digest, "seed": seed, "result": result})
        if self.path is not None:
            with self.path.open("a", encoding="utf-8") as file:
                file.write(line + "\n")
        return json.loads(line)["result"]


def made_by(rooms: tuple[str, ...] = _MADE_BY, also: tuple[str, ...] = _ALSO) -> str:
    """A digest of the files that a study's results come from."""
    package = Path(str(importlib.resources.files("groundtone")))
    digest = hashlib.sha256()
    for path in [path for room in rooms for path in sorted((package / room).rglob("*.py"))]:
        digest.update(path.read_bytes())
    for name in also:
        digest.update((Path(__file__).parent / name).read_bytes())
    return digest.hexdigest()[:12]


def _on_cluster(job: Callable[[int], Any], seeds: list[int], address: str) -> Iterator[tuple[int, Any]]:
    """Each as it comes: what a slow computer is still busy with holds nobody up. A worker that ends is no loss."""
    distributed: Any = importlib.import_module("distributed")
    with distributed.Client(address) as client:
        going = {client.submit(job, seed, pure=False): seed for seed in seeds}
        for future in distributed.as_completed(list(going)):
            yield going[future], future.result()


def _spread(job: Callable[[int], Any], seeds: list[int]) -> Iterator[tuple[int, Any]]:
    """Processes of one thread each: small matrices gain nothing from more."""
    if not seeds:
        return
    if os.environ.get(CLUSTER):
        yield from _on_cluster(job, seeds, os.environ[CLUSTER])
        return
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    count = min(max(int(os.environ.get(PROCESSES, "2")), 1), math.ceil(len(seeds) / 2))
    with ProcessPoolExecutor(count, multiprocessing.get_context("spawn"), _quiet) as pool:
        try:
            yield from zip(seeds, pool.map(job, seeds), strict=True)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _quiet() -> None:
    # Ctrl-C is for the process that asked: what a mat has begun it ends.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    warnings.filterwarnings("ignore", category=RuntimeWarning)
