"""Do the tests mean it? One small fault at a time is put into the code, and the tests of its room must find it.

The faults go into a copy of the tree. Each is judged by the tests of its room, the first that fails ends it. What was
found is kept in the folder that GROUNDTONE_STUDY names, by what the fault is and the function it is in: a study that
was cut goes on, a function that has changed is judged anew. Which faults are drawn depends on them alone, not on what
stands elsewhere; GROUNDTONE_DRAW=WORD draws others. With GROUNDTONE_MUTANTS=again those that had lived are judged once
more.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib
import json
import os
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from studies.faulty import Mutant, mutants_of

ROOT = Path(__file__).parents[2]
NUMBER, LEAST = 400, 0.92
FOLDER, AGAIN, DRAW = "GROUNDTONE_STUDY", "GROUNDTONE_MUTANTS", "GROUNDTONE_DRAW"

_MAT = ("tests/mat", "tests/external/test_network_inverse.py", "tests/external/test_network_ngspice.py")
_SWING = ("tests/swing", "tests/twin/test_tempo_and_styles.py")
# What is looked at, and the tests of its room, those that know it best first.
JUDGES: dict[str, tuple[str, ...]] = {
    "host/groundtone/mat/network.py": ("tests/mat/test_network.py", *_MAT),
    "host/groundtone/mat/references.py": (
        "tests/mat/test_references_by_hand.py", "tests/mat/test_references.py", *_MAT,
    ),
    "host/groundtone/calibration/fitting/fit.py": (
        "tests/calibration/test_fit.py", "tests/calibration/test_history.py", "tests/calibration/test_kept.py",
        "tests/calibration/test_bench.py",
    ),
    "host/groundtone/calibration/fitting/film_memory.py": (
        "tests/calibration/test_creep.py", "tests/calibration/test_history.py", "tests/calibration/test_stood.py",
        "tests/calibration/test_kept.py", "tests/calibration/test_gain_growth.py",
        "tests/calibration/test_film.py", "tests/calibration/test_fit.py", "tests/review/test_same_forces.py",
    ),
    "host/groundtone/calibration/fitting/hysteresis.py": (
        "tests/calibration/test_hysteresis.py", "tests/calibration/test_film.py", "tests/review/test_same_forces.py",
    ),
    "host/groundtone/pressure/feet.py": ("tests/pressure/test_feet.py", "tests/pressure", "tests/swing"),
    "host/groundtone/pressure/footprint.py": ("tests/pressure/test_footprint.py", "tests/pressure"),
    "host/groundtone/swing/phases.py": (
        "tests/swing/test_events_by_hand.py", "tests/swing/test_scripted_tracks.py", *_SWING,
    ),
    "host/groundtone/swing/tracker.py": (
        "tests/swing/test_tracker_by_hand.py", "tests/swing/test_tracker_limits.py", "tests/swing/test_tracker.py",
        *_SWING,
    ),
    "host/groundtone/swing/measures.py": ("tests/swing/test_measures_by_hand.py", *_SWING),
    "host/groundtone/swing/findings.py": ("tests/swing/test_findings.py", *_SWING),
    "host/groundtone/cue/rules.py": (
        "tests/cue/test_rules_by_hand.py", "tests/cue/test_rules.py", "tests/cue", "tests/engine",
    ),
    "host/groundtone/wire/codec.py": ("tests/wire", "tests/external/test_crc_cobs.py"),
    "firmware/mat/wire.py": ("tests/firmware/test_codec.py", "tests/firmware/test_frames.py"),
    "firmware/mat/credit.py": ("tests/firmware/test_credit.py",),
    "host/groundtone/record/recorder.py": (
        "tests/record/test_recorder.py", "tests/record/test_damage.py", "tests/record/test_clocks.py",
        "tests/record/test_same_forces.py", "tests/record/test_replay_link.py",
    ),
    "host/groundtone/lesson/chance.py": (
        "tests/lesson/test_compare_by_hand.py", "tests/external/test_chance.py", "tests/lesson/test_compare.py",
        "tests/lesson/test_together.py", "tests/lesson/test_progress.py",
    ),
    "host/groundtone/lesson/compare.py": (
        "tests/lesson/test_compare_by_hand.py", "tests/lesson/test_compare.py", "tests/external/test_chance.py",
        "tests/lesson/test_page_data.py",
    ),
}  # fmt: skip
_COPIED = ("host", "firmware", "hardware", "calibration", "docs", "tests", "pyproject.toml", "README.md")
# Loaded once; a fault is then judged in a fork, which saves some seconds each.
_LOADED = ("numpy", "scipy.signal", "scipy.optimize", "scipy.stats", "pytest", "hypothesis", "soundfile", "matplotlib")
_PATIENCE = 10.0  # so many times longer than without a fault, and a minute
_SAID_S = 20.0


@dataclass(frozen=True)
class Verdict:
    """Of one mutant: "killed", "slow" (it hung, and is found by that) or "lived"."""

    mutant: Mutant
    word: str


def study_mutants(seeds: int | None = None) -> dict[str, Any]:
    """Faults found by the tests of their room; `seeds` is how many are drawn."""
    drawn = drawn_mutants(ROOT, seeds or NUMBER, os.environ.get(DRAW, ""))
    verdicts: list[Verdict] = []
    said = time.monotonic()
    with _Copy() as copy:
        try:
            for verdict in _judged(drawn, copy):
                verdicts.append(verdict)
                if time.monotonic() - said > _SAID_S:
                    said = time.monotonic()
                    so_far = sum(v.word == "lived" for v in verdicts)
                    click.echo(f"mutants: {len(verdicts)} of {len(drawn)}, {so_far} lived", err=True)
        except KeyboardInterrupt:
            pass
    lived = [v.mutant for v in verdicts if v.word == "lived"]
    killed = 1.0 - len(lived) / max(1, len(verdicts))
    figures: dict[str, Any] = {
        "drawn": len(drawn),
        "judged": len(verdicts),
        "killed, %": round(100 * killed, 1),
        "of these by hanging": sum(v.word == "slow" for v in verdicts),
        "ok": killed >= LEAST and len(verdicts) == len(drawn),
    }
    for path in JUDGES:
        ours = [v for v in verdicts if v.mutant.path == path]
        if ours:
            figures[path] = f"{sum(v.word != 'lived' for v in ours)} of {len(ours)}"
    for mutant in sorted(lived, key=lambda m: (m.path, m.line)):
        figures[f"lived {mutant.key}"] = mutant.words()
    return figures


def drawn_mutants(root: Path, number: int, word: str = "") -> list[Mutant]:
    """So many of all mutants: those whose key is lowest, which is as good as chance and stays as it is.

    With a word those whose digest of word and key is lowest: each word draws others.
    """

    def place(mutant: Mutant) -> str:
        return hashlib.sha256(f"{word} {mutant.key}".encode()).hexdigest() if word else mutant.key

    every = [mutant for path in JUDGES for mutant in mutants_of(path, (root / path).read_text(encoding="utf-8"))]
    return sorted(every, key=place)[:number]


def _judged(drawn: list[Mutant], copy: _Copy) -> Iterator[Verdict]:
    kept = _Kept()
    usual: dict[str, float] = {}
    for mutant in drawn:
        word = kept.found.get(mutant.key)
        if word is None or (word == "lived" and os.environ.get(AGAIN) == "again"):
            if mutant.path not in usual:
                usual[mutant.path] = _usual_s(mutant.path, copy)
            with copy.of(mutant):
                word = copy.tested(JUDGES[mutant.path], 60.0 + _PATIENCE * usual[mutant.path])
            kept.keep(mutant, word)
        yield Verdict(mutant, word)


def _usual_s(path: str, copy: _Copy) -> float:
    began = time.monotonic()
    if copy.tested(JUDGES[path], 900.0) != "lived":
        raise click.ClickException(f"the tests of {path} fail as the code is: {copy.said}")
    return time.monotonic() - began


class _Kept:
    """Verdicts by key, a line each, in a file that survives a cut."""

    def __init__(self) -> None:
        folder = os.environ.get(FOLDER)
        self._file = None if folder is None else Path(folder) / "mutants.jsonl"
        self.found: dict[str, str] = {}
        if self._file is not None and self._file.exists():
            for line in self._file.read_text(encoding="utf-8").splitlines():
                entry = json.loads(line)
                self.found[entry["key"]] = entry["word"]

    def keep(self, mutant: Mutant, word: str) -> None:
        if self._file is None:
            return
        self._file.parent.mkdir(parents=True, exist_ok=True)
        with self._file.open("a", encoding="utf-8") as file:
            file.write(json.dumps({"key": mutant.key, "word": word, "words": mutant.words()}) + "\n")


class _Copy:
    """A copy of the tree in which faults may be."""

    def __init__(self) -> None:
        self.root = Path()
        self.said = ""

    def __enter__(self) -> _Copy:
        self.root = Path(tempfile.mkdtemp(prefix="groundtone-mutants-"))
        for name in _COPIED:
            there = ROOT / name
            if there.is_dir():
                shutil.copytree(there, self.root / name, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                shutil.copy(there, self.root / name)
        for name in _LOADED:
            importlib.import_module(name)
        return self

    def __exit__(self, *_: object) -> None:
        shutil.rmtree(self.root, ignore_errors=True)

    def of(self, mutant: Mutant) -> _Fault:
        """With this fault in it."""
        return _Fault(self.root / mutant.path, mutant.source())

    def tested(self, tests: tuple[str, ...], limit_s: float) -> str:
        """Run tests in a process of their own: "killed", "slow" or "lived"."""
        said = self.root / "said.txt"
        child = os.fork()
        if child == 0:
            self._test([test for test in tests if (self.root / test).exists()], said)
        until, status = time.monotonic() + limit_s, None
        try:
            while status is None and time.monotonic() < until:
                pid, ended = os.waitpid(child, os.WNOHANG)
                status = ended if pid else None
                time.sleep(0.05)
        finally:
            with contextlib.suppress(OSError):  # what it has started goes with it
                os.killpg(child, signal.SIGKILL)
            if status is None:
                os.waitpid(child, 0)
        self.said = said.read_text(encoding="utf-8", errors="replace")[-2000:]
        return "slow" if status is None else "lived" if status == 0 else "killed"

    def _test(self, tests: list[str], said: Path) -> None:
        code = 1
        try:
            os.setsid()
            out = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            for fd in (1, 2):
                os.dup2(out, fd)
            os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
            os.chdir(self.root)
            # Our own code is not loaded yet, and what is loaded from here on is the copy's.
            for name in [n for n in sys.modules if n.partition(".")[0] in ("groundtone", "studies")]:
                del sys.modules[name]
            sys.path[:] = [str(self.root / "host"), *(p for p in sys.path if not p.startswith(str(ROOT)))]
            os.environ.update(PYTHONPATH=str(self.root / "host"), PYTHONDONTWRITEBYTECODE="1")
            sys.dont_write_bytecode = True
            import pytest

            code = int(pytest.main(["-x", "-q", "-n", "0", "-p", "no:cacheprovider", "--tb=line", *tests]))
        finally:
            os._exit(code)


class _Fault:
    """Puts a fault into a file, and takes it out again."""

    def __init__(self, path: Path, source: str) -> None:
        self._path, self._source = path, source
        self._sound = path.read_text(encoding="utf-8")

    def __enter__(self) -> None:
        self._path.write_text(self._source, encoding="utf-8")

    def __exit__(self, *_: object) -> None:
        self._path.write_text(self._sound, encoding="utf-8")
