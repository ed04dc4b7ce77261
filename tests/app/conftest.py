"""What the tests of the app share: scripted mats, the command here and in a process, and the demo's folder."""

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
    """The demo, run once as a user runs it: its folder and what it said."""
    folder = tmp_path_factory.mktemp("demo")
    said = Running(["demo", *DEMO, "--out", folder]).end()
    return SimpleNamespace(folder=folder, said=said)
