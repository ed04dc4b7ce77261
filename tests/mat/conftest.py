"""Lets the tests of this room import the nodal solver that lies beside them."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
