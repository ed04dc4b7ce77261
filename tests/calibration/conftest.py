"""Lets the tests of this folder import their helpers."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent))
