"""Lets the tests of this room import what lies beside them."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent))
