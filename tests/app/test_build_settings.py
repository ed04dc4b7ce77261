"""`groundtone build settings` on the firmware: shown, changed, refused."""

import sys

import pytest

from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Empty, MatSpec, Scenario

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")


def test_settings_are_shown_and_changed_and_kept(groundtone, tmp_path):
    scenario = Scenario(MatSpec.reference(), Empty())
    with MatProcess(scenario, settings=tmp_path) as process:
        said = groundtone("build", "settings", "--port", process.port)
        assert said.code == 0
        assert "name: groundtone (" in said.out
        assert "radio: on (" in said.out
        said = groundtone("build", "settings", "radio=off", "name=bay 3", "--port", process.port)
        assert said.out.splitlines() == ["radio is now off.", "name is now bay 3."]
        said = groundtone("build", "settings", "oversample=3", "--port", process.port)
        assert said.code == 2
        assert "one of 1, 2, 4, 8" in said.err
    with MatProcess(scenario, settings=tmp_path) as process:
        assert "name: bay 3 (" in groundtone("build", "settings", "--port", process.port).out


@pytest.mark.parametrize("change", ["radio", "colour=red", "=on"])
def test_what_changes_nothing_is_said_before_a_mat_is_looked_for(groundtone, change):
    said = groundtone("build", "settings", change, "--port", "/dev/nothing-there")
    assert said.code == 2
    assert "changes nothing" in said.err
