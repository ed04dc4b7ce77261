"""What is installed: the wheel's size, content and needs, where files lie on each system, and the oldest Python."""

import ast
import email
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from groundtone import files

ROOT = Path(__file__).parents[1]
MOST_BYTES = 2_000_000
# Nobody who plays golf needs these.
OF_DEVELOPERS = {
    "pytest",
    "hypothesis",
    "mypy",
    "ruff",
    "bumble",
    "lmfit",
    "statsmodels",
    "pyqt5",
    "ezc3d",
    "hatchling",
}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    (path,) = folder.glob("*.whl")
    return path


def names_of(requirements):
    """Of "numpy>=1.26; python_version > '3'" the numpy."""
    cut = (line.split(";")[0] for line in requirements)
    return {
        "".join(c for c in line.split("[")[0].split(" ")[0] if c not in "<>=!~,.0123456789").lower() for line in cut
    }


def test_the_wheel_is_small_and_holds_what_a_golfer_needs(wheel):
    assert wheel.stat().st_size <= MOST_BYTES
    with zipfile.ZipFile(wheel) as content:
        names = set(content.namelist())
        (about,) = (name for name in names if name.endswith(".dist-info/METADATA"))
        told = email.message_from_string(content.read(about).decode())
    assert not [name for name in names if name.startswith("tests") or "/studies/" in name or name.endswith(".pyc")]
    for path in (ROOT / "host" / "groundtone").rglob("*"):
        if path.is_file() and "__pycache__" not in path.parts:
            assert path.relative_to(ROOT / "host").as_posix() in names, path
    for folder, within in (("firmware", "firmware"), ("hardware/layouts", "layouts"), ("hardware/mats", "mats")):
        for path in (ROOT / folder).rglob("*.*"):
            if path.is_file() and path.suffix in (".py", ".json", ".toml"):
                assert f"groundtone/data/{within}/{path.relative_to(ROOT / folder).as_posix()}" in names, path
    assert told["Requires-Python"] == ">=3.11"
    needed = names_of([line for line in told.get_all("Requires-Dist") if "extra ==" not in line])
    assert {"numpy", "scipy", "pyserial", "bleak"} <= needed
    assert needed & OF_DEVELOPERS == set()
    assert set(told.get_all("Provides-Extra")) == {"academy", "export", "feel", "test", "twin", "window"}
    assert "## Unreleased" in (ROOT / "CHANGELOG.md").read_text("utf-8")


@pytest.mark.parametrize(
    ("system", "environment", "wanted"),
    [
        ("linux", {}, ".local/share/groundtone"),
        ("linux", {"XDG_DATA_HOME": "/data"}, "/data/groundtone"),
        ("darwin", {"XDG_DATA_HOME": "/data"}, "Library/Application Support/groundtone"),
        ("win32", {"LOCALAPPDATA": "/local"}, "/local/groundtone"),
        ("win32", {}, "AppData/Local/groundtone"),
        ("win32", {"GROUNDTONE_HOME": "/named"}, "/named"),
    ],
)
def test_where_files_lie_on_each_system(monkeypatch, tmp_path, system, environment, wanted):
    for name in ("XDG_DATA_HOME", "LOCALAPPDATA", "GROUNDTONE_HOME"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(files.sys, "platform", system)
    monkeypatch.setattr(files.Path, "home", staticmethod(lambda: tmp_path))
    assert files.data_folder() == tmp_path / wanted


def test_every_file_is_read_by_the_oldest_python():
    for path in sorted((ROOT / "host" / "groundtone").rglob("*.py")):
        ast.parse(path.read_text("utf-8"), path.name, feature_version=(3, 11))
