"""What the tests of the app share: scripted mats, the command here and in a process, and the demo's folder."""

import fcntl
import json
import os
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

sys.path.append(str(Path(__file__).parents[1] / "link"))
sys.path.append(str(Path(__file__).parent))

from scripted_mat import scripted  # noqa: F401 (a fixture)
from using import DEMO, Running

from groundtone.app.command import main


@pytest.fixture
def groundtone(capfd):
    """Runs the command in this process: groundtone("practise", "--port", …) -> code, out, err."""

    def run(*arguments):
        with pytest.raises(SystemExit) as ended:
            main([str(argument) for argument in arguments])
        said = capfd.readouterr()
        assert "Traceback" not in said.err + said.out
        return SimpleNamespace(code=ended.value.code or 0, out=said.out, err=said.err)

    return run


@pytest.fixture
def running():
    """Starts the command: running("practise", …) -> Running; killed with the test's end."""
    started = []

    def start(*arguments):
        started.append(Running(arguments))
        return started[-1]

    yield start
    for one in started:
        if one.process.poll() is None:
            one.process.kill()
        one.process.communicate()


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory):
    """The demo, run once as a user runs it, for all workers of the run: its folder and what it said."""
    base = tmp_path_factory.getbasetemp()
    base = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    kept = base / "demo.json"
    with (base / "demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not kept.exists():
            said = Running(["demo", *DEMO, "--out", base / "demo"]).end()
            kept.write_text(json.dumps(vars(said)), "utf-8")
    return SimpleNamespace(folder=base / "demo", said=SimpleNamespace(**json.loads(kept.read_text("utf-8"))))
