"""Helpers of the firmware's tests: run MicroPython, and be a host that decodes with libraries of its own."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))  # so that the twin's process finds plain_world

from at_the_line import Host  # noqa: E402

from groundtone.twin.mat_process import MatProcess  # noqa: E402
from groundtone.twin.serve import firmware_dir, micropython_command  # noqa: E402


@pytest.fixture
def mat():
    """Makes running mats of the plain world: mat(plan, fast=True) -> (process, host). All end with the test."""
    opened = []

    def make(plan=None, **options):
        options.setdefault("fast", True)
        process = MatProcess(json.dumps(plan or {}), world="plain_world:PlainWorld", **options).start()
        opened.append(process)
        host = Host(process.port)
        opened.append(host.serial)
        return process, host

    yield make
    for thing in reversed(opened):
        thing.close()


@pytest.fixture
def mpy(tmp_path):
    """Runs MicroPython code with the firmware on its path: mpy(code, modules={name: code}) -> what it printed."""

    def run(code, modules=None, stdin="", status=0, heap="2m", most_s=60):
        extra = tmp_path / "modules"
        extra.mkdir(exist_ok=True)
        for name, text in (modules or {}).items():
            (extra / f"{name}.py").write_text(text)
        (tmp_path / "script.py").write_text(code)
        env = dict(os.environ, MICROPYPATH=f"{extra}:{firmware_dir()}:.frozen")
        done = subprocess.run(
            [micropython_command(), "-X", f"heapsize={heap}", str(tmp_path / "script.py")],
            cwd=tmp_path, env=env, input=stdin, capture_output=True, text=True, timeout=most_s, check=False,
        )  # fmt: skip
        assert done.returncode == status, done.stdout + done.stderr
        return done.stdout

    return run
