"""A builder follows calibration/README.md at a terminal, on a simulated starter build, to certificate and check."""

import re
import shlex

import numpy as np
import pytest
from terminal import Terminal

from groundtone.app.command import cli
from groundtone.calibration.guided.run_log import read_run
from groundtone.calibration.profile import read_profile


@pytest.fixture
def terminal(tmp_path):
    opened = []

    def start(*arguments):
        opened.append(Terminal(arguments, env={"GROUNDTONE_HOME": str(tmp_path / "home")}, cwd=tmp_path))
        return opened[-1]

    yield start
    for one in opened:
        one.close()


def words(one):
    return " ".join(one.text.split())


def test_from_weights_to_a_certificate_and_the_morning_after(terminal, tmp_path, request):
    weights = request.config.rootpath / "calibration" / "weights" / "household.toml"
    twin = ("--twin", "7", "--fast", "--layout", "starter-10x3")
    bench = ("calibrate", "bench", *twin, "--weights", weights, "--minutes", "12")

    # The cost is said first; Ctrl-C in the middle makes a profile of what is there and says what more would do.
    first = terminal(*bench)
    first.until("25 taken")
    assert "placements, about" in words(first)
    first.interrupt()
    assert first.end() == 1
    more = r"As it is, a cell is known within .* placements more, about \d+ minutes?, would make"
    assert re.search(more, words(first))
    (path,) = (tmp_path / "home" / "profiles").glob("*.json")
    run, early = read_run(path.with_suffix(".run.jsonl")), read_profile(path)
    assert len(run.placements) >= 25
    assert not run.finished

    # Beginning anew by mistake is refused; going on takes only what is missing.
    refused = terminal(*bench)
    assert refused.end() == 2
    assert "go on with it by --resume" in words(refused)
    second = terminal("calibrate", "bench", *twin, "--resume")
    assert second.end() == 0
    whole = read_run(path.with_suffix(".run.jsonl"))
    assert whole.finished
    kept = [(p.row, p.column, p.force_n) for p in run.placements]
    assert [(p.row, p.column, p.force_n) for p in whole.placements[: len(kept)]] == kept
    profile = read_profile(path)
    assert np.median(profile.film.level_u) < 0.7 * np.median(early.film.level_u)

    page = terminal("calibrate", "certificate", path, "--out", "page")
    assert page.end() == 0
    assert "Weights: plate 2, plate 5" in page.text
    assert (tmp_path / "page" / "certificate.png").exists()

    check = terminal("check", *twin, "--mass", "78.4")
    check.until("right or left?")
    check.press("right\n")
    assert check.end() == 0
    assert "READY." in check.text
    history = terminal("check", *twin, "--history")
    assert history.end() == 0
    assert "ready" in history.text


def test_every_command_of_the_guide_is_one_of_the_program(request):
    text = (request.config.rootpath / "calibration" / "README.md").read_text("utf-8").replace("\\\n", " ")
    lines = [line for line in text.splitlines() if line.startswith("    groundtone ")]
    commands = [shlex.split(line, comments=True)[1:] for line in lines]
    assert len(commands) >= 10
    for command in commands:
        with pytest.raises(SystemExit) as ended:
            cli.main([*(word for word in command if word != "..."), "--help"], prog_name="groundtone")
        assert ended.value.code == 0, command
