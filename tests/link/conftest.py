"""Lets the tests of the links find the scripted mat."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent))

from scripted_mat import scripted  # noqa: F401 (a fixture)
