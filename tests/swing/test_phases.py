"""Swings out of the twin's true forces: every one is found, its events are where the twin put them, nothing else is."""

from dataclasses import replace

import pytest

from groundtone.swing.events import Kind
from groundtone.swing.phases import find_swings, follow
from groundtone.twin.population import draw_golfer, draw_swings, families
from groundtone.twin.scenario import Doing, GolferSpec, Session, SwingSpec


def near(swings, known):
    return [next(s for s in swings if abs(s.impact.t_s - at.impact_s) < 0.5 * at.slow) for at in known.swings]


def test_events_of_every_style(of_styles):
    styles, series, known, _ = of_styles
    swings = find_swings(replace(series, strikes=()))
    assert [s.number for s in swings] == list(range(1, len(styles) + 1))
    for swing, at in zip(swings, known.swings, strict=True):
        assert swing.takeaway.t_s == pytest.approx(at.takeaway_s, abs=0.09)
        assert swing.turn.t_s == pytest.approx(at.turn_s, abs=0.03)
        assert (swing.impact.t_s, swing.impact.source) == (pytest.approx(at.impact_s, abs=0.05), "pressure")
        assert swing.top_range_s[0] <= at.top_s <= swing.top_range_s[1]
        assert swing.top.source == "estimate"
        assert 0.02 < swing.top.doubt_s < 0.1
        assert swing.setup.t_s < swing.takeaway.t_s - 0.5
        assert swing.impact.t_s < swing.finish.t_s < at.finish_s + 0.15
        assert (swing.kind, swing.slow) == (Kind.SWING, 1.0)
    assert swings[-1].step_off.t_s == pytest.approx(known.step_off_s, abs=0.2)
    assert all(s.step_off is None for s in swings[:-1])


def test_the_strike_sensor_sets_impact_and_a_stray_strike_does_not(of_styles):
    _, series, known, _ = of_styles
    at = known.swings[0]
    strays = ((at.takeaway_s - 0.5, 0.9), (at.impact_s - 0.1, 0.2), (at.impact_s + 2.0, 0.9))
    with_strays = replace(series, strikes=tuple(sorted((*series.strikes, *strays))))
    for swing, true in zip(find_swings(with_strays), known.swings, strict=True):
        assert (swing.impact.t_s, swing.impact.source) == (pytest.approx(true.impact_s, abs=1e-6), "strike sensor")
        assert swing.impact.doubt_s < 0.01


@pytest.mark.parametrize(
    "golfer",
    [
        GolferSpec(mass_kg=25.0, shoe_mm=205.0, stance_mm=150.0),
        GolferSpec("left", 130.0, 315.0, flare_deg=(30.0, 0.0), stance_mm=700.0, sole="studded"),
    ],
    ids=["a junior, feet together", "a heavy left-hander, wide stance, flared"],
)
def test_any_golfer_at_any_tempo(play, golfer):
    swings = tuple(SwingSpec(backswing_s=t * 0.26, downswing_s=0.26, waggles=1, press=0.03) for t in (2.2, 4.0))
    series, known = play(Session(golfer, swings, seed=7), sensor=False)
    for swing, at in zip(find_swings(series), known.swings, strict=True):
        assert swing.turn.t_s == pytest.approx(at.turn_s, abs=0.03)
        assert swing.takeaway.t_s == pytest.approx(at.takeaway_s, abs=0.09)
        assert len(swing.waggles) >= 1


def test_practice_swings_and_rehearsals_are_told_from_swings(play):
    swings = (SwingSpec(), SwingSpec(strike=False), SwingSpec("slide", strike=False, slow=4.0), SwingSpec("reverse"))
    series, known = play(Session(swings=swings, seed=3))
    found = near(find_swings(series), known)
    assert [s.kind for s in found] == [Kind.SWING, Kind.PRACTICE, Kind.REHEARSAL, Kind.SWING]
    assert found[2].slow == pytest.approx(4.0, rel=0.35)
    # Without a sensor nothing tells a practice swing from a swing; the rehearsal is still one.
    kinds = [s.kind for s in find_swings(replace(series, strikes=()))]
    assert kinds == [Kind.SWING, Kind.SWING, Kind.REHEARSAL, Kind.SWING]


def test_whatever_is_no_swing_is_not_found_and_what_comes_after_it_is(play):
    doings = tuple(Doing(k, 6.0, visitor_kg=60) for k in ("shift", "waggle", "bend", "pace", "one_leg", "visitor"))
    series, known = play(Session(swings=(SwingSpec(),), seed=9, doings=doings))
    (swing,) = find_swings(replace(series, strikes=()))
    assert swing.impact.t_s == pytest.approx(known.swings[0].impact_s, abs=0.06)


def test_who_steps_off_after_each_ball_is_found_again(play):
    doings = tuple(Doing("walk", 2.0, k) for k in (1, 2))
    series, known = play(Session(swings=(SwingSpec(), SwingSpec("slide"), SwingSpec()), seed=4, doings=doings))
    assert len(series.stands) == 3
    found = find_swings(series)
    assert [s.impact.source for s in found] == ["strike sensor"] * 3
    assert all(s.step_off is not None for s in found)
    assert near(found, known) == found


def test_a_gap_in_the_frames_makes_its_events_doubtful(of_styles):
    _, series, known, _ = of_styles
    at = known.swings[0]
    lost = (series.t_s > at.turn_s - 0.04) & (series.t_s < at.turn_s + 0.08)
    kept = {
        name: getattr(series, name)[~lost]
        for name in ("t_s", "force_n", "u_mm", "v_mm", "position", "position_u", "share", "overall", "centre_mm",
                     "weight_n")
    }  # fmt: skip
    before = int(lost[: series.stands[0].end].sum())
    stand = replace(series.stands[0], end=series.stands[0].end - before)
    swing = find_swings(replace(series, **kept, stands=(stand,)))[0]
    whole = find_swings(series)[0]
    assert swing.turn.doubt_s > whole.turn.doubt_s + 0.02
    assert swing.turn.t_s == pytest.approx(at.turn_s, abs=3 * swing.turn.doubt_s)


# One of each family of the wide population, putts apart; nothing was chosen on these golfers.
FAMILIES = tuple(name for name in families() if name != "putt")


@pytest.mark.parametrize("sensor", [True, False], ids=["with the sensor", "without"])
def test_what_was_ticked_is_found_and_the_other_way_round_in_every_family(play, sensor):
    swings = draw_swings("wide", 96_001, list(FAMILIES))
    series, known = play(Session(draw_golfer("wide", 96_001), swings, seed=1, setup_s=1.5), sensor=sensor)
    ticked, unseen = follow(series)
    seen = [
        {name for name, at in zip(FAMILIES, known.swings, strict=True)
         if any(abs(swing.impact.t_s - at.impact_s) < 0.35 for swing in found)}
        for found in (ticked, find_swings(series))
    ]  # fmt: skip
    assert seen[0] == seen[1] == set(FAMILIES)
    assert (len(ticked), unseen) == (len(FAMILIES), [])
