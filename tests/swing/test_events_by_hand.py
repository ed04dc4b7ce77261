"""Each fit of the review form on a curve whose event is known, and each of its limits from both sides."""

import math

import numpy as np
import pytest

from groundtone.swing import phases
from groundtone.swing.events import Moment, Swing
from groundtone.swing.steady import Setup
from groundtone.swing.track import Track

GRID_S = 0.005
SETUP = Setup(1.0, 2.0, 0.53)


def drawn(share, weights=((0.0, 1.0),), until_s=10.0, noise=0.001):
    """A track of knots, or of a function of time, on the grid."""
    t = np.round(np.arange(0, until_s + 1e-9, GRID_S), 3)
    values = [f(t) if callable(f) else np.interp(t, *zip(*f, strict=True)) for f in (share, weights)]
    return Track(t, *values, np.full((t.size, 2), 0.5), noise, np.zeros((0, 2)))


def live(impact_s=4.0, source="pressure", slow=1.0):
    return Swing(0, 0.53, Moment(2.0, "pressure", 0.1), None, None, Moment(impact_s, source, 0.01), slow=slow)


FLAT = ((0, 0.53),)


@pytest.mark.parametrize(("off_s", "seen"), [(-0.215, True), (-0.24, False), (0.145, True), (0.165, False)])
def test_the_force_peaks_from_22_hundredths_before_to_15_after_impact(off_s, seen):
    at = 4.0 + off_s
    force = ((0, 1.0), (at - 0.01, 1.0), (at, 1.4), (at + 0.01, 1.0))
    when, push = phases._force_peak(drawn(FLAT, force), 4.0)
    assert (when == pytest.approx(at), push == pytest.approx(0.4)) == (seen, seen)


def test_a_push_is_the_peak_above_the_least_of_half_a_second():
    low = ((3.46, 1.0), (3.47, 0.5), (3.48, 1.0), (3.51, 1.0), (3.52, 0.7), (3.53, 1.0))
    force = ((0, 1.0), *low, (3.9, 1.0), (4.0, 1.3), (4.1, 1.0))
    assert phases._force_peak(drawn(FLAT, force), 4.0) == pytest.approx((4.0, 0.6))


@pytest.mark.parametrize(("impact_s", "known"), [(10.175, True), (10.18, False)])
def test_of_less_than_ten_samples_no_peak_is_told(impact_s, known):
    when, push = phases._force_peak(drawn(FLAT, lambda t: 1.0 + 0.1 * t), impact_s)
    assert (math.isfinite(when), push > 0) == (known, known)


@pytest.mark.parametrize(("push", "known"), [(0.055, False), (0.065, True)])
def test_a_golfers_own_lead_is_told_by_a_sensor_and_some_push(push, known):
    track = drawn(FLAT, ((0, 1.0), (3.85, 1.0), (3.95, 1.0 + push), (4.05, 1.0)))
    lead = phases._lead_of(track, live(source="strike sensor"))
    assert lead == pytest.approx(0.05 if known else math.nan, nan_ok=True)
    assert math.isnan(phases._lead_of(track, live()))


def test_a_slow_impact_is_where_85_hundredths_of_the_way_have_been_made():
    # Six seconds are looked at: what comes later is another way.
    track = drawn(((0, 0.25), (2.0, 0.25), (4.0, 0.85), (8.05, 0.85), (8.1, 1.0)))
    found = phases._slow_impact(track, 2.0, 0.25)
    assert (found.t_s, found.doubt_s) == (pytest.approx(3.7, abs=GRID_S), pytest.approx(0.2 * 1.7, abs=0.001))
    assert found.source == "estimate"


@pytest.mark.parametrize(("takes_s", "slow"), [(0.345, False), (0.365, True)])
def test_who_is_across_within_three_tenths_was_not_slow(takes_s, slow):
    track = drawn(((0, 0.25), (2.0, 0.25), (2.0 + takes_s, 0.85)))
    assert (phases._slow_impact(track, 2.0, 0.25) is not None) == slow


@pytest.mark.parametrize(("turn_s", "known"), [(9.505, True), (9.51, False)])
def test_half_a_second_after_the_turn_is_needed(turn_s, known):
    track = drawn(((0, 0.25), (turn_s, 0.25), (10.0, 0.85)))
    assert (phases._slow_impact(track, turn_s, 0.25) is not None) == known


def backswing(t, begin=2.0, takes=0.7, depth=0.28):
    """A square of time, as a movement under a steady force begins; 0.53 before."""
    return 0.53 - depth * np.clip((t - begin) / takes, 0, 1) ** 2


@pytest.mark.parametrize(("told", "late_s"), [(2.0, 0.013), (1.9, 0.113), (1.6, 0.25), (2.1, 0.0)])
def test_the_backswings_own_speed_tells_a_drift_before_it(told, late_s):
    """From a tenth and four tenths of the way it began at 2.0 s, 0.025 early as always, of which 0.012 are allowed."""
    assert phases._drifted(drawn(backswing), told, 2.7) == pytest.approx(late_s, abs=1e-6)


def test_a_drift_is_judged_from_the_level_of_the_last_15_hundredths():
    track = drawn(lambda t: np.where(t < 1.745, 0.70, backswing(t)))
    assert phases._drifted(track, 1.9, 2.7) == pytest.approx(0.113, abs=1e-6)


def test_of_a_tenth_of_a_second_no_drift_is_told():
    assert phases._drifted(drawn(backswing), 2.0, 1.99) == 0.0


def test_what_a_share_wanders_is_a_hundredth_at_the_least():
    assert phases._scatter(drawn(FLAT, noise=0.002)) == 0.01
    assert phases._scatter(drawn(FLAT, noise=0.02)) == 0.02


def smooth_back(t, begin=2.0, takes=0.7, depth=0.28):
    """As much braked as begun: 3 x^2 - 2 x^3, a tenth of the way after 0.196 of the time."""
    x = np.clip((t - begin) / takes, 0, 1)
    return 0.53 - depth * (3 * x**2 - 2 * x**3)


@pytest.mark.parametrize(("takes", "long_s"), [(0.7, 0.0), (1.2, 0.0), (1.75, 0.45)])
def test_a_takeaway_and_its_doubt(takes, long_s):
    """The fit is exact. Doubt: a hundredth, more where what was seen took longer than 0.7 s, and what is over 1.3 s."""
    found = phases._takeaway(drawn(lambda t: smooth_back(t, takes=takes)), SETUP, Moment(2.0 + takes, "pressure", 0.01))
    assert found.t_s == pytest.approx(2.0, abs=0.001)
    assert found.doubt_s == pytest.approx(math.hypot(0.010 * max(1.0, takes * 0.804 / 0.7), long_s), abs=0.001)


def test_no_takeaway_lies_further_back_than_four_tenths_of_what_was_seen():
    """A square of time has made a tenth of the way at 2.22 s, 0.48 before the turn; the steps are 5 ms."""
    found = phases._takeaway(drawn(backswing), SETUP, Moment(2.7, "pressure", 0.01))
    assert found.t_s == pytest.approx(2.22 - 0.4 * 0.48)
    assert found.doubt_s == pytest.approx(math.hypot(0.010, 0.005))


@pytest.mark.parametrize(("begin_s", "wanders"), [(1.0, 0.004 * math.sqrt(138 / 191)), (1.88, 0.01)])
def test_who_wanders_may_have_begun_sooner(begin_s, wanders):
    """0.35 of the way, by the square root of wandering over depth; where nobody stood still it is a hundredth.

    From 1.0 to 1.95 s are 191 samples, 138 of them go to and fro.
    """
    track = drawn(lambda t: smooth_back(t) + np.where(t < 1.69, 0.004 * (-1.0) ** np.round(t / GRID_S), 0.0))
    found = phases._takeaway(track, Setup(begin_s, 2.0, 0.53), Moment(2.7, "pressure", 0.01))
    unseen = 0.35 * 0.7 * 0.804 * math.sqrt(wanders / 0.28)
    assert found.doubt_s == pytest.approx(math.hypot(0.010, unseen), abs=0.0012)


def test_a_takeaway_follows_a_forward_press():
    pressed = drawn(lambda t: smooth_back(t) + np.interp(t, (1.4, 1.6, 1.8, 1.95), (0.0, 0.04, 0.04, 0.0)))
    found = phases._takeaway(pressed, SETUP, Moment(2.7, "pressure", 0.01))
    assert found.t_s == pytest.approx(2.0, abs=0.03)


def test_no_takeaway_is_told_of_nothing():
    """Of 19 samples, or where the share was far back from the first on."""
    assert phases._takeaway(drawn(backswing), Setup(1.0, 2.81, 0.53), Moment(2.7, "pressure", 0.01)) is None
    assert phases._takeaway(drawn(((0, 0.25),)), SETUP, Moment(2.7, "pressure", 0.01)) is None


STILL = Setup(0.5, 1.0, 0.5)


def unturned(share=((0, 0.5),), weights=((0, 1.0),), setup=STILL):
    return phases._takeaway_without_turn(drawn(share, weights), setup, 4.0)


def stepped(by, at, level, back=99.0):
    return lambda t: np.where((t >= at - 1e-9) & (t < back - 1e-9), level + by, level)


@pytest.mark.parametrize(
    ("share", "force", "begin_s"), [(0.033, 0.0, 2.85), (0.031, 0.0, 3.0), (0.0165, -0.0165, 2.85), (0.0, 0.033, 2.85)]
)
def test_without_a_turn_it_began_where_share_and_force_had_moved_by_eight_times_their_noise(share, force, begin_s):
    found = unturned(stepped(share, 3.0, 0.5), stepped(force, 3.0, 1.0))
    assert (found.t_s, found.source, found.doubt_s) == (pytest.approx(begin_s), "pressure", 0.30)


@pytest.mark.parametrize(("at_s", "begin_s"), [(3.44, 3.29), (3.6, 3.30)])
def test_no_backswing_is_shorter_than_a_chips(at_s, begin_s):
    assert unturned(stepped(0.1, at_s, 0.5)).t_s == pytest.approx(begin_s)


@pytest.mark.parametrize(("by", "seen"), [(0.081, True), (0.079, False)])
@pytest.mark.parametrize("of", ["share", "weights"])
def test_what_the_first_fifth_of_a_second_wanders_is_its_noise(by, seen, of):
    """Ten thousandths to and fro from 2.34 to 2.54 s; what lies before is not looked at."""
    level = {"share": 0.5, "weights": 1.0}[of]

    def curve(t):
        noise = np.where((t >= 2.34 - 1e-9) & (t < 2.54 - 1e-9), 0.01 * (-1.0) ** np.round(t / GRID_S), 0.0)
        return stepped(by, 3.0, level)(t) + noise + np.where(t < 2.3, 0.3, 0.0)

    assert unturned(**{of: curve}).t_s == pytest.approx(2.85 if seen else 3.0)


@pytest.mark.parametrize(("end_s", "source"), [(4.105, "pressure"), (4.11, "estimate")])
def test_of_less_than_a_tenth_of_a_second_a_usual_takeaway_is_told(end_s, source):
    found = unturned(setup=Setup(1.0, end_s, 0.5))
    assert (found.t_s, found.source) == (pytest.approx(3.0), source)
    assert found.doubt_s == (0.30 if source == "pressure" else 0.25)


def turned(share, impact_s=4.0, slow=1.0, end_s=3.0):
    return phases._turn_before(drawn(share), Setup(1.0, end_s, 0.53), live(impact_s, slow=slow))


@pytest.mark.parametrize(("fall", "found"), [(0.049, False), (0.051, True)])
def test_a_turn_is_claimed_from_a_fall_of_five_hundredths(fall, found):
    assert (turned(((0, 0.53), (3.0, 0.53), (3.7, 0.53 - fall), (4.0, 0.8))) is not None) == found


@pytest.mark.parametrize(("impact_s", "found"), [(4.002, True), (3.998, False)])
def test_a_turn_lies_forty_milliseconds_before_impact(impact_s, found):
    assert (turned(((0, 0.53), (3.5, 0.53), (3.96, 0.25), (4.2, 0.8)), impact_s) is not None) == found


@pytest.mark.parametrize(("end_s", "found"), [(4.055, True), (4.06, False)])
def test_of_less_than_ten_samples_no_turn_is_told(end_s, found):
    share = ((0, 0.25), (3.955, 0.25), (4.2, 0.8))
    assert (turned(share, end_s=end_s) is not None) == found


def test_what_lies_before_the_setups_end_is_no_turn():
    share = ((0, 0.53), (3.39, 0.53), (3.395, 0.1), (3.4, 0.4), (3.7, 0.30), (4.0, 0.8))
    assert turned(share, end_s=3.5).t_s == pytest.approx(3.7, abs=0.01)


@pytest.mark.parametrize(("slow", "turn_s"), [(2.0, 2.5), (1.0, None)])
def test_a_slow_one_turns_up_to_six_seconds_before_impact_and_a_full_one_11_tenths(slow, turn_s):
    share = ((0, 0.53), (1.4, 0.53), (1.6, 0.1), (1.8, 0.53), (2.3, 0.53), (2.5, 0.25), (2.7, 0.53), (9.0, 0.8))
    found = turned(share, 8.0, slow, end_s=1.0)
    assert found is None if turn_s is None else found.t_s == pytest.approx(turn_s, abs=0.01)


@pytest.mark.parametrize(("rests_s", "rested"), [(0.29, False), (0.315, True)])
def test_who_rests_at_the_turn_turns_where_the_rest_ends(rests_s, rested):
    """Lowest at 3.3 s and a thousandth above it until it rises steeply, two hundredths within a few samples."""
    end = 3.3 + rests_s
    found = turned(((0, 0.53), (3.0, 0.53), (3.3, 0.25), (end - 0.005, 0.251), (end, 0.28), (4.0, 0.8)))
    assert (found.t_s == pytest.approx(end - 0.05), found.doubt_s == 0.05) == (rested, rested)


def test_a_turn_is_fitted_within_four_hundredths_and_six_tenths_of_it():
    """A square of time on either side, each with its own steepness; what lies beyond is of another law."""

    def steep(t):
        since = t - 3.702
        law = np.where(since < 0, 0.8, 3.0) * since**2
        return 0.25 + np.where(law < 0.0425, law, 0.5)

    assert phases._turn(drawn(steep), 740).t_s == pytest.approx(3.702, abs=0.002)

    def flat(t):
        since = t - 3.702
        return 0.25 + np.where(since < -0.605, 0.03, np.where(since < 0, 0.05, 0.08) * since**2)

    found = phases._turn(drawn(flat), 740)
    assert found.t_s == pytest.approx(3.702, abs=0.002)
    assert found.doubt_s == pytest.approx(0.0035, abs=0.0005)


def test_of_too_few_samples_the_lowest_is_the_turn():
    found = phases._turn(drawn(((0, 0.53), (3.685, 0.53), (3.7, 0.25), (3.715, 0.53))), 740)
    assert (found.t_s, found.doubt_s) == (3.7, pytest.approx(math.hypot(0.0035, 0.03)))


def finish(share, weights=((0, 1.0),), slow=1.0, until_s=30.0):
    return phases._finish(drawn(share, weights, until_s), 2.0, slow)


@pytest.mark.parametrize(("to", "leaves"), [(0.825, False), (0.815, True), (0.975, False), (0.985, True)])
def test_a_finish_is_left_by_eight_hundredths_of_the_share(to, leaves):
    end_s = finish(((0, 0.9), (6.0, 0.9), (6.005, to)))[1]
    assert end_s == pytest.approx(6.005 if leaves else 22.08)


@pytest.mark.parametrize(("to", "leaves"), [(0.81, False), (0.79, True), (1.19, False), (1.21, True)])
def test_a_finish_is_left_by_a_fifth_of_the_weight(to, leaves):
    end_s = finish(((0, 0.9),), ((0, 1.0), (6.0, 1.0), (6.005, to)))[1]
    assert end_s == pytest.approx(6.005 if leaves else 22.08)  # twenty seconds are followed


def test_a_force_that_swings_back_before_the_finish_has_settled_is_no_leaving():
    for slow, settled_s in ((1.0, 2.45), (2.0, 2.9)):
        for dip_s, left in ((settled_s - 0.02, False), (settled_s + 0.02, True)):
            force = ((0, 1.0), (dip_s - 0.005, 1.0), (dip_s, 0.5), (dip_s + 0.005, 1.0))
            reached, end_s = finish(((0, 0.9),), force, slow)
            assert end_s == pytest.approx(dip_s if left else 22.08)
            assert (reached.t_s, reached.doubt_s) == (pytest.approx(2.08), 0.08 * slow)


def test_rows_come_in_blocks_and_none_is_lost(monkeypatch):
    monkeypatch.setattr(phases, "_BLOCK", 2)
    assert list(phases._plain(np.arange(5.0), np.arange(5.0) * 2)) == [(i, 2.0 * i) for i in range(5)]


@pytest.mark.parametrize(("steep", "spike_s", "reach_s"), [(0.05, 3.85, 0.10), (4.0, 3.79, 0.08)])
def test_a_turn_lies_a_tenth_of_a_second_or_two_fifths_of_the_bowl_from_the_lowest_sample(steep, spike_s, reach_s):
    """One sample that is too low does not draw the turn to it, nor may the turn lie further off: 1.2 and 0.2 s wide."""

    def bowl(t):
        return np.where(np.abs(t - spike_s) < 1e-6, 0.248, 0.25 + steep * (t - 3.7) ** 2)

    found = phases._turn(drawn(bowl), round(spike_s / GRID_S))
    assert found.t_s == pytest.approx(spike_s - reach_s)
    assert found.doubt_s == pytest.approx(math.hypot(0.0035, 0.004))
