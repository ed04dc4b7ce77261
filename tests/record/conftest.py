"""What the tests of recordings share."""

import sys
from pathlib import Path

import pytest

from groundtone.record.library import Library

sys.path.append(str(Path(__file__).parent))


@pytest.fixture
def library(tmp_path):
    with Library(tmp_path / "home") as found:
        yield found
