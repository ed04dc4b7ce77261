"""Lets the tests of this room use the made-up recordings and libraries of the room before it."""

import sys
from pathlib import Path

import pytest
from postgres_server import database, either, server

from groundtone.record.library import Library

__all__ = ["database", "either", "server"]
sys.path.append(str(Path(__file__).parents[1] / "record"))


@pytest.fixture
def library(tmp_path):
    with Library(tmp_path / "home") as found:
        yield found
