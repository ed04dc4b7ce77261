"""Lets the tests of the links find the scripted mat."""

import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))

from scripted_mat import ScriptedMat


@pytest.fixture
def scripted():
    """Makes scripted mats: scripted(rows=10, ...); all are unplugged with the test's end."""
    opened = []

    def make(**options):
        opened.append(ScriptedMat(**options))
        return opened[-1]

    yield make
    for mat in opened:
        mat.unplug()
