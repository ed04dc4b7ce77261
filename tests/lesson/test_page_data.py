"""What a page is made of: which blocks become before and after, which finding leads, and which swing is drawn."""

import math
import uuid
from types import SimpleNamespace

import numpy as np
import pytest

from groundtone.cue.bands import Bands
from groundtone.errors import GroundtoneError
from groundtone.lesson.report.data import data_for
from groundtone.record.session import Block, Golfer
from groundtone.review.session_review import Review, ReviewedSwing
from groundtone.review.settings import settings_of
from groundtone.review.strikes import Contact, Strike
from groundtone.swing.bands import default_bands
from groundtone.swing.doubts import Measure
from groundtone.swing.events import Kind, Moment
from groundtone.swing.findings import Finding

NAMES = ("share_setup", "overall_setup", "overall_most_down", "overall_least_down", "share_impact")


def found(name, probability=0.9, concern=True):
    band = default_bands().band(name)
    measure = Measure(band.measure, 0.7, 0.01, "1")
    return Finding(
        name, band.title, measure, band.low, band.high, "high", 1.0, probability, concern, "", "", band.drill, ""
    )


def reviewed(*blocks, golfer="Ann", profile="p", started="2026-03-14T10:00:00+01:00", lost=()):
    """A review of blocks, each (kind, most towards the toes of its swings, names of findings in all of them, more)."""
    swings, told, t = [], [], 0.0
    for number, (kind, values, names, more) in enumerate(blocks, 1):
        block = Block(
            number, kind, **{"club": "7 iron", "lie": "turf", "cues": kind == "drill", **more.get("block", {})}
        )
        told.append(block)
        for value in values:
            t += 10.0
            swing = SimpleNamespace(
                number=len(swings) + 1, kind=more.get("kind", Kind.SWING), slow=1.0, end_s=t + 3,
                takeaway=Moment(t - 1.0, "pressure", 0.01), turn=Moment(t - 0.3, "pressure", 0.01),
                impact=Moment(t, "pressure", 0.01), setup=None, top=None, finish=None, step_off=None,
            )  # fmt: skip
            measures = {
                name: Measure(name, value if name == "overall_most_down" else 0.5, 0.005, "1") for name in NAMES
            }
            strike = more.get("strike", Strike())
            swings.append(ReviewedSwing(swing, measures, tuple(found(name) for name in names), strike, None, block))
    times = np.arange(0.0, t + 5, 0.05)
    series = SimpleNamespace(t_s=times, share=0.5 + 0 * times, overall=times / 1000)
    about = SimpleNamespace(
        golfer=Golfer(golfer), started=started, profile_text=profile, simulated=False, session=uuid.uuid4().hex,
        settings=settings_of(),
    )  # fmt: skip
    recording = SimpleNamespace(about=about, blocks=told, lost=list(lost), heard=[], feel=[])
    return Review(SimpleNamespace(recording=recording, series=series, doubts=[]), tuple(swings))


LOW, HIGH = [0.60, 0.61, 0.62, 0.63], [0.73, 0.74, 0.75, 0.76]


def test_baseline_drill_and_test_of_one_recording():
    data = data_for([reviewed(("baseline", HIGH, ["toes"], {}), ("drill", LOW, [], {}), ("test", LOW, [], {}))])
    assert [len(block.swings) for block in (data.before, data.drill, data.after)] == [4, 4, 4]
    assert data.only is None
    assert data.main == "toes"
    assert (data.seen[0].n, data.seen[0].of) == (4, 4)
    change = next(c for c in data.comparison.changes if c.looked.name == "overall_most_down")
    assert (change.before, change.after) == (pytest.approx(0.745, abs=0.005), pytest.approx(0.615, abs=0.005))


def test_three_recordings_of_one_lesson_and_one_calibration():
    parts = (("baseline", HIGH, ["toes"], {}), ("drill", LOW, [], {}), ("test", LOW, [], {}))
    data = data_for([reviewed(part) for part in parts])
    assert (data.before.role, data.drill.role, data.after.role) == ("baseline", "drill", "test")
    assert len(data.together) == 2
    other = data_for([reviewed(("baseline", HIGH, ["toes"], {})), reviewed(("test", LOW, [], {}), profile="q")])
    assert other.together == ()
    # Feet and zero are found anew in every recording, and that is said.
    whole = data_for([reviewed(*parts)])
    assert ["Feet and zero" in " ".join(d.comparison.conditions) for d in (whole, data)] == [False, True]


def test_silent_blocks_and_blocks_with_the_tone_in_turn_are_compared_with_each_other():
    parts = [("baseline", HIGH, ["toes"], {}), ("drill", LOW, [], {})] * 3
    data = data_for([reviewed(*parts)])
    assert data.in_turn
    assert data.comparison.in_turn
    assert [len(side.swings) for side in data.shown] == [12, 12]
    assert data.drill is None
    assert data.word("before") == "without"
    assert not data_for([reviewed(*parts[:4])]).in_turn
    assert not data_for([reviewed(*parts, ("test", LOW, [], {}))]).in_turn


def test_blocks_under_the_same_conditions_are_compared_where_there_are_any():
    driver = {"block": {"club": "driver", "lie": "tee"}}
    data = data_for([reviewed(("baseline", HIGH, [], {}), ("baseline", HIGH * 2, [], driver), ("test", LOW, [], {}))])
    assert (data.before.club, data.after.club, len(data.before.swings)) == ("7 iron", "7 iron", 4)
    data = data_for([reviewed(("baseline", HIGH, [], driver), ("test", LOW, [], {}))])
    assert (data.before.club, data.after.club) == ("driver", "7 iron")


def test_two_blocks_of_the_same_kind_are_one():
    data = data_for([reviewed(("baseline", HIGH, [], {}), ("baseline", HIGH, [], {}), ("test", LOW, [], {}))])
    assert len(data.before.swings) == 8


@pytest.mark.parametrize(
    "kinds", [("baseline",), ("test",), ("free",), ("drill",), ("drill", "test"), ("baseline", "drill")]
)
def test_with_gaps_there_is_a_page_and_no_comparison(kinds):
    data = data_for([reviewed(*((kind, HIGH, ["toes"], {}) for kind in kinds))])
    assert data.comparison is None
    assert (data.before is not None, data.after is not None) == ("baseline" in kinds, "test" in kinds)
    assert (data.only is not None) == (not {"baseline", "test"} & set(kinds))
    assert data.before_path is not None or data.after_path is not None
    assert data.main == "toes"


def test_an_empty_block_is_as_good_as_none():
    data = data_for([reviewed(("baseline", [], [], {}), ("test", LOW, [], {}))])
    assert data.before is None
    assert data.after is not None


def test_rehearsals_and_practice_swings_are_no_swings_at_a_ball():
    slow = {"kind": Kind.REHEARSAL}
    assert data_for([reviewed(("baseline", HIGH, [], {}), ("test", LOW, [], slow))]).after is None
    with pytest.raises(GroundtoneError, match="no swing at a ball was found: a page needs at least one"):
        data_for([reviewed(("baseline", HIGH, [], slow))])


def test_recordings_of_two_golfers_make_no_page():
    with pytest.raises(GroundtoneError, match=r"more than one golfer \(Ann, Ben\): make a page for each"):
        data_for([reviewed(("baseline", HIGH, [], {})), reviewed(("test", LOW, [], {}), golfer="Ben")])


def test_a_finding_in_one_swing_of_many_does_not_lead():
    once = reviewed(("baseline", HIGH, [], {}), ("baseline", [0.7], ["finish"], {}))
    data = data_for([once])
    assert [(seen.name, seen.n, seen.of) for seen in data.seen] == [("finish", 1, 5)]
    assert data.main == ""


def test_what_is_only_described_does_not_lead():
    review = reviewed(("baseline", HIGH, ["toes"], {}))
    described = tuple(
        ReviewedSwing(s.swing, s.measures, (found("toes", concern=False),), s.strike, s.entry, s.block)
        for s in review.swings
    )
    assert data_for([Review(review.measured, described)]).main == ""


def test_a_measure_that_no_lesson_looks_at_is_looked_at_when_the_coach_names_its_finding():
    data = data_for([reviewed(("baseline", HIGH, ["lead_toes"], {}), ("test", LOW, [], {}))], coach=("lead_toes",))
    looked = next(m for m in data.looked if m.name == "lead_finish")
    assert looked.band == (-math.inf, 0.50)


def test_the_swing_drawn_is_the_middle_one_and_time_counts_from_impact():
    data = data_for([reviewed(("baseline", [0.60, 0.74, 0.75, 0.76, 0.90], [], {}))])
    path = data.before_path
    # The third of five: its impact is at 30 s, where the series of places is 0.030.
    assert path.overall[np.argmin(np.abs(path.t_s))] == pytest.approx(0.030, abs=1e-4)
    assert dict(map(reversed, path.events)) == pytest.approx({"takeaway": -1.0, "turn": -0.3, "impact": 0.0})
    assert path.t_s[0] == pytest.approx(-1.4, abs=0.051)
    ((start, end, low, high),) = path.limits["share"]
    assert (start, end, low, high) == (pytest.approx(0.06), 1.5, Bands().trail, math.inf)


def test_doubts_about_the_recordings_are_kept():
    assert data_for([reviewed(("baseline", HIGH, [], {}), profile=None)]).guessed
    assert data_for([reviewed(("baseline", HIGH, [], {}), lost=["damaged"])]).damaged


def test_contacts_of_all_blocks_decide_about_trail_side():
    fat = {"strike": Strike(contact=Contact.FAT)}
    data = data_for([reviewed(("baseline", HIGH, [], fat), ("test", LOW, [], {}))])
    assert next(m for m in data.looked if m.name == "share_impact").band == (0.58, math.inf)
    data = data_for([reviewed(("baseline", HIGH, [], {}), ("test", LOW, [], {}))])
    assert next(m for m in data.looked if m.name == "share_impact").band == (-math.inf, math.inf)
