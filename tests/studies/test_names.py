"""Every study of the list can be imported and called; the cheap ones run; the command lists them all."""

import inspect
import subprocess
import sys

import pytest

from groundtone.files import with_our_modules
from studies.names import STUDIES


@pytest.mark.parametrize("name", STUDIES)
def test_a_study_takes_a_number_of_seeds_and_can_do_without(name):
    inspect.signature(STUDIES[name].function()).bind()
    inspect.signature(STUDIES[name].function()).bind(3)


@pytest.mark.parametrize("name", ["wire", "strikes", "strike-sensor", "scan", "network"])
def test_the_smallest_form_runs(name):
    """Figures of time are the machine's: only that there are some, and that the judge has spoken, is asked here."""
    figures = STUDIES[name].function()(1)
    assert len(figures) > 2
    assert isinstance(figures["ok"], bool)


@pytest.mark.parametrize(("arguments", "code"), [((), 0), (("nonsense",), 2)])
def test_the_command_lists_them_and_refuses_others(arguments, code):
    done = subprocess.run(
        [sys.executable, "-m", "studies", *arguments],
        env=with_our_modules(),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == code
    for name, named in STUDIES.items():
        assert f"{name}{'*' * named.long}".ljust(26) + named.about in done.stdout or code
    assert code == 0 or "'nonsense' is not one of" in done.stderr
