"""Inputs that coverage guides (atheris, libFuzzer) put to every reader: those that reach new lines are changed further.

Beside `hostile`, which changes samples blindly. Atheris is installed by hand (`pip install atheris`, Linux), since it
has no wheel for every system. `python -m studies.guided READER RUNS SEED FOLDER` feeds one reader in a process of its
own, which ends with the first input that makes it fall.
"""

from __future__ import annotations

import contextlib
import importlib
import importlib.util
import re
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import click

from groundtone.errors import GroundtoneError
from groundtone.files import with_our_modules

_DONE = re.compile(r"Done (\d+) runs in (\d+) second")
_REACHED = re.compile(r"cov: (\d+)")


def study_guided(seeds: int | None = None) -> dict[str, Any]:
    """So many thousand inputs over all readers, by default 10,000: ten million; more of the quick readers'.

    Raises
    ------
    GroundtoneError
        Atheris is not installed.
    """
    if importlib.util.find_spec("atheris") is None:
        raise GroundtoneError("atheris is not installed here: .venv/bin/pip install atheris (Linux), and try again")
    from studies.hostile import readers

    thousands = seeds or 10_000
    out: dict[str, Any] = {"ok": True}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        known = readers(folder)
        whole = sum(reader.weight for reader in known.values())
        for number, (reader_name, reader) in enumerate(known.items()):
            own = folder / str(number)
            (own / "corpus").mkdir(parents=True)
            for place, sample in enumerate(reader.samples):
                (own / "corpus" / str(place)).write_bytes(sample)
            runs = max(1, thousands * 1000 * reader.weight // whole)
            out[reader_name] = told = _fed(reader_name, runs, own)
            click.echo(f"{reader_name}: {told}", err=True)
            out["ok"] &= told.startswith(f"{runs} tried")
    return out


def _fed(name: str, runs: int, folder: Path) -> str:
    said = subprocess.run(
        [sys.executable, "-m", "studies.guided", name, str(runs), "1", str(folder)],
        env=with_our_modules(), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, errors="replace",
        check=False, cwd=folder,
    ).stderr  # fmt: skip
    done, reached = _DONE.findall(said), _REACHED.findall(said)
    if not done:
        return "fell: " + next((line for line in said.splitlines() if "Error" in line), said[-300:])
    return f"{done[-1][0]} tried, none fell, {reached[-1] if reached else 0} branches reached, {done[-1][1]} s"


def main(name: str, runs: str, seed: str, folder: str) -> None:
    """Feeds one reader; does not come back."""
    atheris: Any = importlib.import_module("atheris")
    with atheris.instrument_imports(include=["groundtone"]):
        hostile: Any = importlib.import_module("studies.hostile")
    # What instruments the program loads it anew, errors too.
    refused: Any = importlib.import_module("groundtone.errors").GroundtoneError
    own = Path(folder) / "own"
    own.mkdir()
    reader = hostile.readers(own)[name]

    def one(data: bytes) -> None:
        with contextlib.suppress(refused):
            reader.read(data)

    options = [f"-runs={runs}", f"-seed={seed}", "-max_len=60000", "-timeout=60", "-print_final_stats=0"]
    atheris.Setup([sys.argv[0], *options, str(Path(folder) / "corpus")], one)
    atheris.Fuzz()


if __name__ == "__main__":
    main(*sys.argv[1:])
