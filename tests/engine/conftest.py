"""Lets the tests of this room use golfers and mats that are scripted for its neighbours."""

import sys
from pathlib import Path

for room in ("link", "cue", "app"):
    sys.path.append(str(Path(__file__).parents[1] / room))

from scripted_mat import scripted  # noqa: E402, F401 (a fixture)
