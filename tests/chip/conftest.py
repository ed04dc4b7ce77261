"""Tests on the emulated board. Nobody collects them unless an image and a boot ROM are named (`make chip`)."""

import os
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))
sys.path.append(str(HERE.parent / "app"))

import flashes  # noqa: E402
from emulated import BOOTROM, IMAGE, Board  # noqa: E402
from wire_host import Host  # noqa: E402

if IMAGE not in os.environ or BOOTROM not in os.environ:
    collect_ignore_glob = ["test_*.py"]

EMPTY = [[0.0] * 8 for _ in range(16)]
GOOD = {
    "cells": EMPTY, "joined": [], "pulldown": [1000.0] * 8, "multiplexer": True, "floats": 0.0, "exchanged": None,
    "divider": [10000.0, 10000.0], "settle": 0.3, "noise": 0.0, "film": 0.0,
}  # fmt: skip


@pytest.fixture(scope="module")
def board():
    """A Pico whose circuit is a good, empty mat."""
    made = Board()
    yield made
    made.close()


@pytest.fixture
def mat(board):
    """Powers up a board with the firmware: mat(cache=True, circuit...) -> its host, hello not yet asked."""

    def make(cache=True, flash=None, **circuit):
        board.flash = flash or flashes.flash(board)
        board.do("button", down=False)
        board.circuit(**(GOOD | circuit))
        board.power(board.flash, cache)
        return Host(board)

    return make
