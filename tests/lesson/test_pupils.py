"""The pupils of a library: a walk-in named afterwards, one count of what is outside, one spelling of a name."""

from dataclasses import replace

import pytest

from groundtone.app.live.recording import known_golfer
from groundtone.errors import LibraryError
from groundtone.lesson.outside import any_outside, main_fault, outside
from groundtone.lesson.pupils import kept_words
from groundtone.record.library import Library
from groundtone.record.session import About, Golfer
from groundtone.review.swings import BlockRows, Fault, SwingRow


def rows(faults, total, kind="swing", concern=True):
    """Swings of which the first `faults` ran to the toes."""
    toes = Fault("toes in the downswing", 0.9, concern=concern, code="toes")
    return tuple(SwingRow(i + 1, {}, faults=(toes,) if i < faults else (), kind=kind) for i in range(total))


def block(role, faults, total):
    return BlockRows(role, rows(faults, total), role)


def test_only_swings_at_a_ball_called_a_fault_are_counted():
    seen = (*rows(6, 8), *rows(3, 3, kind="practice"))
    assert outside(seen, "toes").words == "6 of 8"
    assert any_outside(rows(6, 8, concern=False)).words == "0 of 8"
    assert main_fault(seen).name == "toes"
    assert main_fault(rows(1, 8)) is None


def test_what_was_kept_is_last_test_against_next_baseline():
    before = [block("baseline", 6, 8), block("test", 1, 8)]
    now = [block("baseline", 5, 8), block("test", 2, 8)]
    assert kept_words(before, now) == "1 of 8, now 5 of 8"
    assert kept_words([block("baseline", 6, 8)], now) == ""


def test_one_name_however_it_is_spelt(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))
    with Library(tmp_path) as library:
        library.add(Golfer("Bertil Groß", "left"))
        assert library.spelt("bertil  GROSS") == "Bertil Groß"
        assert library.spelt("Berta") == "Berta"
        with pytest.raises(LibraryError, match="already"):
            library.add(Golfer("BERTIL groß"))
    assert known_golfer("bertil groß", None, None).name == "Bertil Groß"
    assert known_golfer("bertil groß", None, None).hand == "left"


def test_a_walk_in_who_is_named_belongs_to_that_days_lesson(hello):
    about = About(hello, started="2026-11-26T11:20:00+01:00", lesson="walk-in 2026-11-26 11:20")
    assert about.lesson_name() == "walk-in 2026-11-26 11:20"
    assert replace(about, golfer=Golfer("Ann")).lesson_name() == "2026-11-26"


@pytest.fixture
def hello():
    from groundtone.app.twin import mat_of
    from groundtone.link.twin_link import TwinLink
    from groundtone.twin.scenario import Empty, Scenario

    with TwinLink(Scenario(mat_of(7, "starter-10x3"), Empty()), fast=True) as link:
        return link.hello
