"""What all tests share: nobody's own library and profiles are ever touched."""

import os
import sys
from pathlib import Path

# As the program does for itself, before numpy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest

sys.path.append(str(Path(__file__).parent))  # patience.py

# The files that take longest, longest first: one that came last would keep one core waiting for the other.
SLOW = (
    "app/test_sweep.py", "window/test_feel_lessons.py", "engine/test_live.py", "app/test_plan.py",
    "window/test_whole_lesson.py", "app/test_from_table_to_mat.py", "app/test_demo.py", "app/test_practise_mats.py",
    "app/test_feel.py", "window/test_layout.py", "window/test_processes.py", "app/test_calibrate_builder.py",
)  # fmt: skip


def pytest_collection_modifyitems(items):
    """Slow files first; with `--no-loadscope-reorder` the workers take them in this order."""
    place = {str(Path(__file__).parent / name): number for number, name in enumerate(SLOW)}
    items.sort(key=lambda item: place.get(str(item.path), len(SLOW)))


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
