"""From an empty table to a mat that is commissioned: every command that the builder's documents name, on the twin.

Taken out of hardware/*.md as they stand. What needs a board (`install`) gets one that runs real MicroPython; what needs
a mat (`commission`) gets the simulated one, and a person there who does what is asked.
"""

import json
import re
import shlex
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
sys.path.append(str(ROOT / "tests" / "build"))

from board_double import SerialBoard  # noqa: E402

from groundtone.build.install import firmware_files  # noqa: E402

DOCUMENTS = sorted((ROOT / "hardware").glob("*.md"))


def commands(text):
    """The groundtone commands in a document's blocks, fenced or indented, without what follows a #."""
    out = []
    for line in text.splitlines():
        found = re.match(r"(?: {4}|)(groundtone (?:build|doctor)\b.*)$", line)
        if found and "`" not in line:
            out.append(shlex.split(found[1], comments=True))
    return out


NAMED = [command for path in DOCUMENTS for command in commands(path.read_text("utf-8"))]


def test_the_documents_name_every_step_from_film_to_commissioned():
    steps = [command[2] for command in NAMED if command[1] == "build"]
    for step in ("divider", "parts", "templates", "wiring", "install", "commission"):
        assert step in steps
    # The order of work in the guide is the order in which it can be done.
    guide = [c[2] for c in commands((ROOT / "hardware" / "README.md").read_text("utf-8")) if c[1] == "build"]
    assert guide.index("divider") < guide.index("parts") < guide.index("install") < guide.index("commission")


def once(words):
    """Commands that differ only in what the twin gets anyway are run once."""
    return list(dict.fromkeys(map(tuple, words)))


CALCULATORS = [c for c in once(NAMED) if c[1] == "build" and c[2] not in ("install", "commission")]


@pytest.mark.parametrize("command", CALCULATORS, ids=" ".join)
def test_what_is_computed_and_drawn_comes_out(groundtone, tmp_path, monkeypatch, command):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    done = groundtone(*command[1:])
    assert (done.code, done.err) == (0, "")
    assert len(done.out) > 40


def board_with_mat(folder):
    """A board straight from its first flashing; the interpreter calls itself neither Pico nor ESP32."""
    folder.mkdir()
    return SerialBoard(folder, mat=True)


@pytest.mark.parametrize("build", ["starter", pytest.param("reference", marks=pytest.mark.long)])
def test_from_the_bag_of_parts_to_commissioned_by_the_guide_alone(groundtone, tmp_path, monkeypatch, build):
    """Every command of the guide in its order, with nothing but the name of the build put in; then the mat is sound."""
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    guide = commands((ROOT / "hardware" / "README.md").read_text("utf-8"))
    said, hello = {}, ""
    for command in guide:
        if command[2] == "layout":
            continue  # another grid: not this mat
        words = [build if word == "starter" else word for word in command[1:]]
        if command[2] == "commission":
            # What stands there is the simulated mat, of the layout that the board has been given.
            words += ["--twin", "7", "--layout", hello, "--soak", "3"]
        if command[2] == "install":
            with board_with_mat(tmp_path / "flash") as board:
                said["install"] = groundtone(*words, "--port", board.port, "--any-board")
            hello = json.loads((tmp_path / "flash" / "settings.json").read_text())["layout"]
        else:
            said[command[2]] = groundtone(*words)
        assert (said[command[2]].code, said[command[2]].err) == (0, ""), command
    for name, data in firmware_files(ROOT / "firmware").items():
        assert (tmp_path / "flash" / "fw-1" / name).read_bytes() == data
    grid = {"starter": "10 rows by 3 columns a foot", "reference": "16 rows by 4 columns a foot"}[build]
    assert grid in said["install"].out
    assert grid in said["commission"].out
    assert "Commissioned: every step that can be done has passed." in said["commission"].out
    (result,) = (tmp_path / "home" / "profiles").glob("*.commissioning.json")
    outcomes = {step["key"]: step["outcome"] for step in json.loads(result.read_text())["steps"]}
    assert outcomes.pop("radio") == "not done"
    assert set(outcomes.values()) == {"passed"}
    assert result.with_suffix(".png").exists()


def test_the_mat_is_commissioned_once_and_anew_when_it_is_wired_otherwise(groundtone, tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))
    (plain,) = {c for c in once(NAMED) if c[2] == "commission" and len(c) == 3}
    done = groundtone(*plain[1:], "--twin", "7", "--layout", "starter-10x3", "--soak", "3")
    assert done.code == 0
    # The same command again has nothing left to do.
    again = groundtone(*plain[1:], "--twin", "7", "--layout", "starter-10x3", "--soak", "3")
    assert again.code == 0
    assert "press its" not in again.out
    # Wired otherwise it is another mat, and begins anew.
    other = groundtone(*plain[1:], "--twin", "7", "--layout", "starter-10x3", "--fault", "short-rows:2,3")
    assert other.code == 1
    assert "Rows 2 and 3 are joined." in other.out


def test_a_mat_that_is_wired_wrong_is_told_so(groundtone, tmp_path):
    (wrong,) = {c for c in once(NAMED) if c[2] == "commission" and "--fault" in c}
    done = groundtone(*wrong[1:], "--out", tmp_path)
    assert done.code == 1
    assert "Row 3 on both panels does not answer: it is open." in done.out
    assert "Columns 1 and 2 are exchanged." in done.out
