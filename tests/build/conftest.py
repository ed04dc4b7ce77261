"""Lets the tests of this room import their board double."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent))
