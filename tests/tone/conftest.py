"""Lets the tests of this room import what lies beside them, and closes every player that they leave open."""

import contextlib
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))

from groundtone.errors import ToneError
from groundtone.tone.player import Player


@pytest.fixture(autouse=True)
def closed(monkeypatch):
    """A test that fails must not leave a device running: its thread would keep the interpreter from ending."""
    made = []
    real = Player.__init__

    def init(self, *arguments, **more):
        real(self, *arguments, **more)
        made.append(self)

    monkeypatch.setattr(Player, "__init__", init)
    yield
    for player in made:
        with contextlib.suppress(ToneError):
            player.close()
