"""A proposed band put in force as an act: what it changes, for which clubs, what is locked, and back again."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import expit

from groundtone.cue.personal import Own, Personal, bands_for, read_personal, write_personal
from groundtone.errors import GroundtoneError
from groundtone.feel.strike_model import USUAL
from groundtone.lesson.proposed import models, proposed, put_in_force, taken_back


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))


def struck(best=(0.06, 0.0, 0.0), n=2000):
    """Balls of a golfer whose best place lies so far from the usual one."""
    rng = np.random.default_rng(1)
    where = rng.normal(USUAL, (0.06, 0.08, 0.3), (n, 3))
    z = (where - USUAL - np.array(best)) / np.array([0.08, 0.15, 1.5])
    return [tuple(row) for row in where], (rng.random(n) < expit(1.5 - (z**2).sum(1))).tolist()


def of(club, *best):
    return proposed(models({club: struck(*best)}))


def test_a_place_nearer_the_toes_moves_the_toes_and_the_heels_band_with_that_class_of_clubs():
    (found,) = of("iron")
    by = found.proposal.proposed - 0.50
    assert 0.03 < by < 0.09
    assert found.limits == {"toes_after": pytest.approx(0.67 + by), "heels_after": pytest.approx(0.32 + by)}
    before, told = put_in_force("P7", [found])
    assert bands_for("P7", club="7 iron").band("toes_after").limit == pytest.approx(0.67 + by)
    assert bands_for("P7", club="driver").band("toes_after").limit == pytest.approx(0.67)
    assert read_personal("P7").clubs["iron"]["toes_after"].source == "coach"
    assert told[0] == f"toes_after with irons: {100 * (0.67 + by):.0f} % now, 67 % before."
    assert before == {"iron": {"toes_after": None, "heels_after": None}}


def test_it_is_taken_back_to_what_was_learnt_and_once_more():
    learnt = Own(0.64, "learnt", 9, 0.60, 0.02)
    write_personal(Personal("P7", own={"toes_after": learnt, "trail": Own(0.55, "coach")}))
    was = read_personal("P7")
    put_in_force("P7", of(""))
    assert read_personal("P7").own["toes_after"].limit > 0.69
    assert taken_back("P7") == ["toes_after", "heels_after"]
    assert replace(read_personal("P7"), undo={}) == was
    taken_back("P7")
    assert read_personal("P7").own["toes_after"].limit > 0.69


def test_a_share_moves_the_trail_side():
    (found,) = of("iron", (0.0, 0.10, 0.0))
    assert list(found.limits) == ["trail"]
    assert found.limits["trail"] == pytest.approx(0.58 + found.proposal.proposed - 0.78)


def test_what_is_locked_stays_and_is_named():
    write_personal(Personal("P7", locked=frozenset({"toes_after"})))
    _, told = put_in_force("P7", of("iron"))
    assert told[-1] == "Locked, so left as they are: toes_after."
    assert "toes_after" not in read_personal("P7").clubs["iron"]
    write_personal(Personal("P7", locked=frozenset({"toes_after", "heels_after"})))
    with pytest.raises(GroundtoneError, match="locked"):
        put_in_force("P7", of("iron"))


def test_nothing_proposed_and_nothing_to_take_back_change_nothing():
    assert of("iron", (0.0, 0.0, 0.0)) == proposed(models({"iron": ([(0.5, 0.78, 3.0)] * 5, [True] * 5)})) == []
    for act in (lambda: put_in_force("P7", []), lambda: taken_back("P7")):
        with pytest.raises(GroundtoneError):
            act()
    assert read_personal("P7") == Personal("P7")
