"""What lies in the data folder is for its owner alone; a place is tried before anybody stands on the mat."""

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from groundtone.errors import GroundtoneError
from groundtone.files import data_folder, make_folder, new_file, try_place, write_whole

WEIGHTS = str(Path(__file__).parents[2] / "calibration" / "weights" / "kitchen.toml")
POSIX = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such rights; a profile's folder is private")


def others(path):
    return stat.S_IMODE(path.stat().st_mode) & 0o077


@POSIX
def test_everything_of_a_session_is_for_its_owner_alone(tmp_path):
    home = tmp_path / "home"
    env = dict(os.environ, GROUNDTONE_HOME=str(home))
    arguments = ["practise", "--twin", "3", "--fast", "--seconds", "12", "--golfer", "anna"]
    # The widest mask there is: nothing but the program keeps others out.
    ran = subprocess.run(
        [sys.executable, "-m", "groundtone", *arguments], env=env, capture_output=True, preexec_fn=lambda: os.umask(0)
    )
    assert ran.returncode == 0, ran.stderr
    found = [home, *home.rglob("*")]
    assert {path.name for path in found} >= {"library.sqlite", "recordings"}
    assert len(list(home.rglob("*.mcap"))) == 1
    assert [path for path in found if others(path)] == []


@POSIX
def test_a_data_folder_of_an_earlier_version_is_closed_to_others(tmp_path, monkeypatch):
    monkeypatch.delenv("GROUNDTONE_HOME")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setattr("groundtone.files.Path.home", lambda: tmp_path)
    own = data_folder()
    own.mkdir(parents=True)
    own.chmod(0o755)
    make_folder(own / "profiles")
    assert others(own) == others(own / "profiles") == 0
    # A folder that was named is as its owner has it: several may share it on purpose.
    own.chmod(0o750)
    monkeypatch.setenv("GROUNDTONE_HOME", str(own))
    make_folder(own / "more")
    assert others(own) == 0o050


@POSIX
def test_what_is_written_elsewhere_is_as_the_system_has_it(tmp_path):
    """And the mask itself is never touched: another thread's files would be open to all for a moment."""
    code = (
        "import os, sys; from pathlib import Path; os.umask(0o027); touched = []\n"
        "os.umask, put = lambda mask: touched.append(mask), os.umask\n"
        "from groundtone.files import write_whole\n"
        "write_whole(Path(sys.argv[1]), b'page'); print(touched)"
    )
    ran = subprocess.run([sys.executable, "-c", code, tmp_path / "page.html"], capture_output=True, text=True)
    assert ran.stdout == "[]\n", ran.stderr
    assert stat.S_IMODE((tmp_path / "page.html").stat().st_mode) == 0o640
    assert (tmp_path / "page.html").read_bytes() == b"page"
    assert [path.name for path in tmp_path.iterdir()] == ["page.html"]


def test_a_new_file_replaces_none(tmp_path):
    write_whole(tmp_path / "a", "one")
    with pytest.raises(FileExistsError):
        new_file(tmp_path / "a")
    write_whole(tmp_path / "a", "two")
    assert (tmp_path / "a").read_text() == "two"


def test_a_place_is_tried_and_nothing_left(tmp_path):
    try_place(tmp_path / "new" / "mat.json")
    assert list((tmp_path / "new").iterdir()) == []
    write_whole(tmp_path / "old.json", "old")
    try_place(tmp_path / "old.json")
    assert (tmp_path / "old.json").read_text() == "old"
    (tmp_path / "file").touch()
    for wrong in (tmp_path / "file" / "mat.json", tmp_path, Path("/proc/mat.json")):
        with pytest.raises(GroundtoneError, match="cannot be written"):
            try_place(wrong)


@pytest.mark.parametrize(
    "command",
    [("calibrate", "standing", "--mass", "78.4"), ("calibrate", "bench", "--weights", WEIGHTS)],
    ids=["standing", "bench"],
)
def test_nobody_stands_on_the_mat_for_a_place_that_cannot_be_written(groundtone, tmp_path, monkeypatch, command):
    monkeypatch.setattr("groundtone.mat.conductance.ConductanceMeter.measure", lambda *_: pytest.fail("a frame"))
    (tmp_path / "file").touch()
    where = tmp_path / "file" / "mat.json"
    said = groundtone(*command, "--twin", "7", "--layout", "starter-10x3", "--fast", "--profile", where)
    assert said.code == 2
    # Root meets a file where a folder should be made.
    assert f"groundtone: {where} cannot be written (" in said.err


def test_a_check_tries_its_place_first(groundtone, tmp_path, monkeypatch, request):
    monkeypatch.setattr("groundtone.mat.conductance.ConductanceMeter.measure", lambda *_: pytest.fail("a frame"))
    example = request.config.rootpath / "calibration" / "example" / "mat.json"
    (tmp_path / "mat.json").write_bytes(example.read_bytes())
    (tmp_path / "mat.checks.jsonl").mkdir()
    said = groundtone(
        "check", "--twin", "7", "--layout", "starter-10x3", "--fast", "--profile", tmp_path / "mat.json"
    )  # fmt: skip
    assert said.code == 2
    assert "mat.checks.jsonl cannot be written (Is a directory)" in said.err


def test_lanes_that_cannot_be_written_end_with_the_exit_code_of_a_failure(groundtone, tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    (tmp_path / "out" / "lanes.png").mkdir(parents=True)
    said = groundtone("practise", "--twin", "3", "--fast", "--seconds", "40", "--out", tmp_path / "out")
    assert said.code == 2
    assert "lanes.png" in said.err
