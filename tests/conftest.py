"""What all tests share: nobody's own library and profiles are ever touched."""

import os
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))  # patience.py


@pytest.fixture(autouse=True, scope="session")
def own_data_folder(tmp_path_factory):
    """A data folder of the tests' own, for this process and those it starts."""
    before = os.environ.get("GROUNDTONE_HOME")
    os.environ["GROUNDTONE_HOME"] = str(tmp_path_factory.mktemp("groundtone-home"))
    yield
    if before is None:
        del os.environ["GROUNDTONE_HOME"]
    else:
        os.environ["GROUNDTONE_HOME"] = before
