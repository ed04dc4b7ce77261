"""Lets the tests of this room use the made-up recordings and libraries of the room before it."""

import sys
from pathlib import Path

import pytest

from groundtone.record.library import Library

sys.path.append(str(Path(__file__).parents[1] / "record"))


@pytest.fixture
def library(tmp_path):
    with Library(tmp_path / "home") as found:
        yield found
