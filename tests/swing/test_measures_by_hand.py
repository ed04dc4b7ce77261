"""Every measure of a swing that is drawn by hand: values and uncertainties worked out from the drawing."""

import math
from dataclasses import replace

import numpy as np
import pytest

from groundtone.pressure.ellipse import ellipse
from groundtone.swing.doubts import Doubts
from groundtone.swing.events import Kind, Moment, Swing
from groundtone.swing.measures import NEEDS_STRIKE, NO_EVENT, NO_PLACE, NO_PRINT, UNSURE, _Measuring
from groundtone.swing.window import Window

T = np.round(np.arange(0, 8.001, 0.01), 3)
SHARE = ((0, 0.53), (3.0, 0.53), (3.7, 0.25), (4.0, 0.80), (4.5, 0.90), (8, 0.90))
# Beside what is looked at something else stands, so that a span that is too long is seen.
LEAD = ((0, 0.5), (3.7, 0.5), (4.0, 0.42), (4.6, 0.40), (5.75, 0.40), (5.9, 0.3), (8, 0.3))
TRAIL = (
    (0, 0.7), (1.48, 0.7), (1.49, 0.5), (2.95, 0.5), (2.96, 0.7), (2.99, 0.7), (3.0, 0.5), (3.7, 0.44), (4.5, 0.6),
    (5.71, 0.6), (5.72, 0.9), (8, 0.9),
)  # fmt: skip
OVERALL = ((0, 0.5), (3.0, 0.5), (3.7, 0.46), (4.0, 0.55), (4.5, 0.50), (8, 0.50))
FORCE = ((0, 1.0), (3.5, 0.7), (3.75, 0.9), (3.95, 1.4), (4.04, 0.8), (4.06, 0.5), (8, 1.0))
ACROSS = ((0, 0), (3.0, 0), (3.7, -60), (4.0, 80), (4.5, 100), (8, 100))
AT = {
    "takeaway": Moment(3.0, "pressure", 0.04), "turn": Moment(3.7, "pressure", 0.02),
    "top": Moment(3.75, "estimate", 0.05), "impact": Moment(4.0, "pressure", 0.016),
    "finish": Moment(4.5, "pressure", 0.08),
}  # fmt: skip
# Outwards across each foot, mm: the trail foot 9 mm in the backswing, the lead foot 4 until impact and 15 after it.
TRAIL_OUT = ((0, 60.0), (3.0, 60.0), (3.6, 69.0), (4.0, 55.0), (8.0, 55.0))
LEAD_OUT = ((0, 70.0), (3.7, 70.0), (4.0, 74.0), (4.4, 85.0), (8.0, 85.0))
DOUBTS = Doubts(share=0.007, position=0.005, force=0.02, move=0.006, place_mm=3.0)


def drawn(knots, t):
    return np.interp(t, *zip(*knots, strict=True))


def mats(which, value):
    """What the mat leaves of a value: of a share it goes with s (1 - s)."""
    return 0.007 * 4 * value * (1 - value) if which == "share" else 0.005


def swing_of(**changed):
    given = {
        "turn": AT["turn"], "top": AT["top"], "impact": AT["impact"], "finish": AT["finish"],
        "setup": Moment(1.0, "pressure", 0.15), "end_s": 6.0, "kind": Kind.SWING, "slow": 1.0,
    } | changed  # fmt: skip
    return Swing(1, 0.53, AT["takeaway"], **given)


def window_of(**changed):
    sways = np.stack([3 * np.sin(2 * np.pi * 0.7 * T), np.zeros(T.size)], axis=1)
    still = ((T < 2.96) | (T > 4.55))[:, None]
    given = {
        "t_s": T, "share": drawn(SHARE, T), "overall": drawn(OVERALL, T), "lead": drawn(LEAD, T),
        "trail": drawn(TRAIL, T), "lead_u": np.full(T.size, 0.01), "trail_u": np.full(T.size, 0.02),
        "lead_out_mm": drawn(LEAD_OUT, T), "trail_out_mm": drawn(TRAIL_OUT, T),
        "weights": drawn(FORCE, T), "lead_mm": 280.0, "trail_mm": 270.0, "width_mm": 400.0, "lifted_s": 5.0,
        "centre_mm": np.stack([drawn(ACROSS, T), np.zeros(T.size)], axis=1) + np.where(still, sways, 0.0),
    } | changed  # fmt: skip
    return Window(**given)


def measured(swing=None, **window):
    return _Measuring(swing or swing_of(), window_of(**window), DOUBTS).all()


def near(measure, value, u, **tolerance):
    assert measure.value == pytest.approx(value, **(tolerance or {"abs": 1e-9})), measure
    assert measure.u == pytest.approx(u, **(tolerance or {"abs": 1e-9})), measure


CURVES = {
    "share": (SHARE, 0.0), "lead": (LEAD, 0.01), "trail": (TRAIL, 0.02), "overall": (OVERALL, 0.02 / math.sqrt(2)),
}  # fmt: skip


@pytest.mark.parametrize("which", CURVES)
@pytest.mark.parametrize("event", ["takeaway", "turn", "top", "impact"])
def test_a_value_at_an_event_has_the_events_doubt(which, event):
    knots, own = CURVES[which]
    t, by = AT[event].t_s, AT[event].doubt_s
    moved = max(abs(drawn(knots, t + k * by) - drawn(knots, t)) for k in (-1, 1))
    value = drawn(knots, t)
    near(measured()[f"{which}_{event}"], value, math.hypot(mats(which, value), moved, own), abs=2e-3)
    here = replace(AT[event], t_s=t + 0.004)  # between two frames
    got = _Measuring(swing_of(), window_of(), DOUBTS)._value(drawn(knots, T), here.t_s)
    low, high = drawn(knots, t), drawn(knots, t + 0.01)
    assert got == pytest.approx(low + 0.4 * (high - low))


@pytest.mark.parametrize("which", CURVES)
def test_setup_and_finish_are_medians_of_what_is_still(which):
    knots, own = CURVES[which]
    got = measured()
    for event, t in (("setup", 2.0), ("finish", 5.0)):
        value = drawn(knots, t)
        near(got[f"{which}_{event}"], value, math.hypot(mats(which, value), own))
        assert got[f"{which}_{event}"].common == pytest.approx(math.hypot(mats(which, value), own))


def test_a_finish_that_is_not_held_is_taken_at_its_moment():
    for held_s, value in ((0.39, 0.90), (0.41, 0.8)):
        share = ((0, 0.53), (4.5, 0.90), (4.51, 0.8), (8, 0.8))
        got = measured(swing_of(end_s=4.5 + held_s), share=drawn(share, T))
        assert got["share_finish"].value == pytest.approx(value)


def between(knots, begin, end, pick):
    """What is picked from a drawing between two events, and what one doubt to either side of each makes of it."""

    def of(low, high):
        return pick(drawn(knots, T[(low - 1e-9 <= T) & (high + 1e-9 >= T)]))

    low, high = AT[begin], AT[end]
    value = of(low.t_s, high.t_s)
    first = max(abs(of(low.t_s + k * low.doubt_s, high.t_s) - value) for k in (-1, 1))
    last = max(abs(of(low.t_s, high.t_s + k * high.doubt_s) - value) for k in (-1, 1))
    return value, math.hypot(first, last)


def test_least_and_most_by_part():
    got = measured()
    parts = {"back": ("takeaway", "turn"), "down": ("turn", "impact"), "after": ("impact", "finish")}
    for which, (knots, own) in CURVES.items():
        for part, (begin, end) in parts.items():
            for most, pick in (("least", np.min), ("most", np.max)):
                value, ends = between(knots, begin, end, pick)
                near(got[f"{which}_{most}_{part}"], value, math.hypot(mats(which, value), own, ends), abs=1e-6)
    # The share falls by 0.008 in the last 20 ms before the turn, and rises by 0.0293 in the 16 ms before impact.
    assert between(SHARE, "takeaway", "turn", np.min)[1] == pytest.approx(0.02 * 0.28 / 0.7, abs=1e-6)
    assert got["share_most_down"].u == pytest.approx(math.hypot(mats("share", 0.8), 0.02 * 0.55 / 0.3), abs=1e-6)


def test_noise_makes_the_greatest_too_great():
    rng = np.random.default_rng(4)
    noisy = measured(share=drawn(SHARE, T) + 0.01 * rng.standard_normal(T.size))
    own = math.sqrt(noisy["share_most_back"].u ** 2 - measured()["share_most_back"].u ** 2)
    assert own == pytest.approx(0.01, rel=0.9)


def test_the_most_on_a_side_and_when():
    got = measured()
    # Within 0.005 of the most: 3.69 and 3.70 s on the trail side, 4.48 to 4.50 s on the lead side.
    near(
        got["trail_most_share"], 0.75, math.hypot(mats("share", 0.75), between(SHARE, "takeaway", "impact", np.min)[1])
    )
    near(got["trail_most_s"], 3.695 - 4.0, math.hypot(0.005, 0.01, 0.016))
    near(got["lead_most_share"], 0.90, math.hypot(mats("share", 0.9), between(SHARE, "turn", "finish", np.max)[1]))
    near(got["lead_most_s"], 0.49, math.hypot(0.01 * math.sqrt(2 / 3), 0.01, 0.016))


def test_times():
    got = measured()
    for name, begin, end in (
        ("to_turn_s", "takeaway", "turn"), ("turn_to_impact_s", "turn", "impact"), ("backswing_s", "takeaway", "top"),
        ("downswing_s", "top", "impact"), ("turn_lead_s", "turn", "top"),
        ("takeaway_to_impact_s", "takeaway", "impact"),
    ):  # fmt: skip
        near(got[name], AT[end].t_s - AT[begin].t_s, math.hypot(AT[begin].doubt_s, AT[end].doubt_s))
    near(got["tempo"], 3.0, math.hypot(1.0 * 0.05, 0.25 * 0.04, 0.75 * 0.016) / 0.25**2)
    near(got["turn_early"], 0.3, math.hypot(math.hypot(0.02, 0.016), 0.3 * math.hypot(0.04, 0.016)))


def test_the_turn_s_place_says_which_event_is_missing():
    assert measured(swing_of(turn=None))["turn_early"].reason == "the turn was not found"
    assert measured(swing_of(impact=None))["turn_early"].reason == "the impact was not found"


def test_what_is_too_uncertain_is_not_told():
    got = measured(swing_of(top=Moment(3.75, "estimate", 0.18)))
    for name in ("tempo", "downswing_s"):
        assert math.isnan(got[name].value)
        assert got[name].reason == UNSURE
    assert got["backswing_s"].value == pytest.approx(0.75)


def test_work():
    got = measured()
    near(got["path_back_mm"], 60.0, math.hypot(3.0, 1.8), rel=0.05)
    near(got["path_down_mm"], 140.0, math.hypot(3.0, 4.2), rel=0.05)
    near(got["path_swing_mm"], 220.0, math.hypot(3.0, 6.6), rel=0.05)
    # 40 ms before the takeaway the trail foot was at 0.7: what the takeaway's doubt makes of it.
    trail_u = math.hypot(0.006, 0.2, between(TRAIL, "takeaway", "turn", np.min)[1])
    near(got["trail_heel_work"], 0.5 - 0.44, trail_u)
    end = 4.0 + 0.65
    near(got["lead_heel_work"], 0.5 - 0.40, math.hypot(0.006, abs(drawn(LEAD, 3.72) - 0.5)))
    assert drawn(LEAD, end - 0.016) == drawn(LEAD, end + 0.016) == 0.40
    near(got["side_work_mm"], 160.0, math.hypot(3.0, 0.8 * 0.007 * 400))
    heel = 0.06 * 270 + 0.10 * 280
    heel_u = math.hypot(trail_u * 270, got["lead_heel_work"].u * 280)
    near(got["heel_work_mm"], heel, heel_u)
    side_u = math.hypot(3.0, 0.8 * 2.8)
    near(got["heel_side_ratio"], heel / 160, math.hypot(heel_u / 160, heel / 160 * side_u / 160))
    shift, ends = between(SHARE, "turn", "impact", np.ptp)
    near(got["side_shift"], shift, math.hypot(0.8 * 0.007, ends))
    assert ends > 0.03
    near(got["shift_speed"], 0.55 / 0.3, 0.01 * 0.55 / 0.3 + 0.05)


def test_the_lead_heel_takes_over_by_65_hundredths_after_impact():
    late = measured(lead=drawn(((0, 0.5), (4.64, 0.5), (4.65, 0.45), (4.66, 0.40), (8, 0.40)), T))
    assert late["lead_heel_work"].value == pytest.approx(0.05)
    slow = measured(swing_of(slow=2.0), lead=drawn(((0, 0.5), (5.29, 0.5), (5.3, 0.45), (5.31, 0.4), (8, 0.4)), T))
    assert slow["lead_heel_work"].value == pytest.approx(0.05)


def test_force():
    got = measured()
    # From a tenth of a second before the turn to 50 ms after impact; the least comes before the most.
    least = drawn(FORCE, 3.6)
    near(got["force_least"], least, 0.02 * least)
    near(got["force_most"], 1.4, 0.02 * 1.4)
    at, moved = drawn(FORCE, 4.0), max(abs(drawn(FORCE, 4.0 + k * 0.016) - drawn(FORCE, 4.0)) for k in (-1, 1))
    near(got["force_impact"], at, math.hypot(0.02, moved), abs=1e-3)
    late = measured(weights=drawn(((0, 1.0), (4.04, 1.0), (4.05, 2.0), (4.06, 3.0), (8, 3.0)), T))
    assert late["force_most"].value == pytest.approx(2.0)
    rehearsal = measured(swing_of(kind=Kind.REHEARSAL))
    assert {rehearsal[f"force_{n}"].reason for n in ("least", "most", "impact")} == {"a slow rehearsal takes no force"}


def test_the_finish():
    got = measured()
    near(got["held_s"], 1.5, 0.042)
    near(got["stepped_s"], 1.0, 0.08)
    assert measured(lifted_s=6.99)["stepped_s"].value == pytest.approx(2.99)
    assert measured(lifted_s=7.01)["stepped_s"].reason == "no foot was lifted within three seconds of impact"


def test_steadiness():
    got, centre = measured(), window_of().centre_mm
    for name, a, b in (("setup", 1.5, 2.95), ("finish", 4.6, 5.6)):
        seen = centre[(a - 1e-6 <= T) & (b + 1e-6 >= T)]
        area = ellipse(seen).area_mm2 if np.ptp(seen[:, 1]) else 0.0
        near(got[f"{name}_ellipse_mm2"], area, area * math.sqrt(1 / (4 * (b - a))), abs=1e-6)
        # A to and fro of 3 mm at 0.7 Hz: four times 3 mm each time.
        near(got[f"{name}_sway_mm_s"], 8.4, 0.3 * 8.4, rel=0.12)


def test_half_a_second_is_needed_to_judge_steadiness():
    for still_s, known in ((0.46, False), (0.52, True)):
        got = measured(swing_of(end_s=4.6 + still_s))
        assert got["finish_ellipse_mm2"].known == known
    assert "for half a second" in measured(swing_of(end_s=4.9))["finish_sway_mm_s"].reason


def test_the_area_of_steadiness_has_its_doubt():
    two_ways = window_of().centre_mm.copy()
    two_ways[:, 1] += 2 * np.cos(2 * np.pi * 0.9 * T)
    seen = two_ways[(T > 1.495) & (T < 2.955)]
    near(measured(centre_mm=two_ways)["setup_ellipse_mm2"], ellipse(seen).area_mm2,
         ellipse(seen).area_mm2 * math.sqrt(1 / 5.8), rel=1e-9)  # fmt: skip


@pytest.mark.parametrize(
    ("gone", "unknown"),
    [
        ("finish", {
            *(f"{which}_finish" for which in CURVES), *(f"{w}_{m}_after" for w in CURVES for m in ("least", "most")),
            "lead_most_share", "lead_most_s", "path_swing_mm", "side_work_mm", "heel_side_ratio", "held_s", "stepped_s",
            "finish_ellipse_mm2", "finish_sway_mm_s", "lead_outer_after_mm",
        }),
        ("top", {*(f"{which}_top" for which in CURVES), "backswing_s", "downswing_s", "turn_lead_s", "tempo"}),
    ],
)  # fmt: skip
def test_without_an_event_what_needs_it_says_so(gone, unknown):
    struck = Moment(4.0, "strike sensor", 0.016)
    got = measured(swing_of(**{"impact": struck, gone: None}))
    reasons = {name: m.reason for name, m in got.items() if not m.known and not name.startswith("putt_")}
    assert reasons == dict.fromkeys(unknown, NO_EVENT.format(gone))


def test_who_goes_to_neither_side_has_no_ratio():
    got = measured(centre_mm=np.zeros((T.size, 2)))
    assert got["side_work_mm"].value == 0.0
    assert got["heel_side_ratio"].reason == "the pressure went to neither side"


def test_without_a_place_the_reason_is_the_foot_and_without_a_print_the_print():
    nowhere = np.full(T.size, math.nan)
    assert measured(trail=nowhere)["trail_impact"].reason == NO_PLACE
    assert measured(trail=nowhere, trail_mm=math.nan)["trail_impact"].reason == NO_PRINT
    assert measured(overall=nowhere)["overall_impact"].reason == "no frames arrived at that time"
    assert measured(overall=nowhere, lead_mm=math.nan)["overall_impact"].reason == "no frames arrived at that time"
    assert measured(overall=nowhere, lead_mm=math.nan, trail_mm=math.nan)["overall_impact"].reason == NO_PRINT
    assert measured(lead=nowhere)["heel_work_mm"].reason == NO_PLACE


def test_how_far_each_foot_goes_to_its_outer_edge():
    got = measured()
    # A hundred millimetres of breadth at 0.006 of a difference, and what the events' doubt makes of the curve.
    for name, value in (("trail_outer_back_mm", 9.0), ("lead_outer_down_mm", 4.0), ("lead_outer_after_mm", 15.0)):
        assert got[name].value == pytest.approx(value, abs=0.2)
        assert 0.6 <= got[name].u < 1.2
    nowhere = measured(lead_out_mm=np.full(T.size, np.nan))
    assert nowhere["lead_outer_down_mm"].reason == NO_PLACE


@pytest.mark.parametrize("out", [-5.0, 6.0, 20.0])
def test_each_edge_is_the_furthest_outwards_less_the_setup(out):
    """A foot that goes in, one at the limit, one that rolls: from 60 mm at setup to 60 + out in that part alone."""
    for name, foot, begin, end in (
        ("trail_outer_back_mm", "trail_out_mm", 3.0, 3.7), ("lead_outer_down_mm", "lead_out_mm", 3.7, 4.0),
        ("lead_outer_after_mm", "lead_out_mm", 4.0, 4.5),
    ):  # fmt: skip
        part = (begin + 0.1 <= T) & (end - 0.05 >= T)
        inside = (begin - 0.05 <= T) & (end + 0.05 >= T)
        values = np.where(inside, 60.0 + min(out, 0.0), 55.0)
        values = np.where(part, 60.0 + out, np.where(T < 2.96, 60.0, values))
        assert measured(**{foot: values})[name].value == pytest.approx(out, abs=0.3)


@pytest.mark.parametrize(("most", "value"), [(0.45, 0.52), (0.68, 0.68), (0.85, 0.85)])
def test_the_lead_heel_in_the_backswing(most, value):
    """The lead foot's place nearest the toes until the turn: it never left 0.52, the heel got light, it came off."""
    lead = ((0, 0.52), (3.0, 0.52), (3.4, most), (3.6, most), (3.7, 0.5), (4.5, 0.95), (8, 0.95))
    assert measured(lead=drawn(lead, T))["lead_most_back"].value == pytest.approx(value, abs=0.003)


@pytest.mark.parametrize(("up", "value"), [(-0.10, 0.0), (0.05, 0.05), (0.12, 0.12)])
def test_to_the_lead_side_in_the_backswing(up, value):
    share = ((0, 0.53), (3.0, 0.53), (3.4, 0.53 + up), (3.7, 0.40), (4.0, 0.95), (8, 0.95))
    assert measured(share=drawn(share, T))["share_over_back"].value == pytest.approx(value, abs=0.004)


@pytest.mark.parametrize(("low", "value"), [(0.52, 0.07), (0.50, 0.0)])
def test_who_has_turned_early_goes_forth_after_it_and_not_to_the_lead_side(low, value):
    """No turn is claimed of so small a fall; of 0.01 nobody can say that it was one, of 0.03 it is beyond doubt."""
    share = ((0, 0.53), (3.0, 0.53), (3.1, low), (3.64, 0.60), (4.0, 0.8), (8, 0.8))
    for takeaway in (Moment(3.0, "pressure", 0.3), Moment(3.3, "pressure", 0.3)):
        got = measured(replace(swing_of(turn=None), takeaway=takeaway), share=drawn(share, T))
        assert got["share_over_back"].value == pytest.approx(value, abs=0.003)


@pytest.mark.parametrize(("top", "value"), [(0.53, 0.0), (0.65, 0.12)])
def test_who_mills_about_before_a_takeaway_that_is_not_to_be_seen_has_not_gone_to_the_lead_side(top, value):
    """0.07 to the lead side 1.2 s before the turn is the way into it; what rises until the turn counts."""
    share = drawn(((0, 0.53), (2.2, 0.53), (2.4, 0.60), (2.7, 0.53), (2.9, 0.53), (3.64, top), (4.0, 0.8), (8, 0.8)), T)
    unseen = replace(swing_of(turn=None, setup=None), takeaway=Moment(2.2, "pressure", 0.3))
    assert measured(unseen, share=share)["share_over_back"].value == pytest.approx(value, abs=0.004)
    # Where the takeaway was seen, all of it belongs to the backswing.
    seen = replace(unseen, takeaway=Moment(2.36, "pressure", 0.1))
    assert measured(seen, share=share)["share_over_back"].value > 0.05


@pytest.mark.parametrize(("low", "value"), [(0.50, 0.46), (0.30, 0.30), (0.20, 0.20)])
def test_the_least_late_in_the_downswing(low, value):
    """Turn 3.7 s, impact 4.0: what lies before 3.8 does not count."""
    overall = ((0, 0.5), (3.7, 0.15), (3.79, 0.46), (3.9, low), (4.0, 0.46), (8, 0.46))
    assert measured(overall=drawn(overall, T))["overall_least_late"].value == pytest.approx(value, abs=0.012)


def test_how_far_the_share_goes_back_or_to_the_lead_side():
    got = measured()
    near(got["share_change_back"], got["share_turn"].value - 0.53, math.hypot(0.0035, 0.01))
    assert got["share_over_back"].value == pytest.approx(0.0, abs=0.003)
    # A step towards the ball long before, within what was taken for the backswing, is none of it.
    early = Moment(1.6, "pressure", 0.15)
    stepped = drawn(
        ((0, 0.53), (1.5, 0.53), (1.7, 0.75), (2.2, 0.53), (3.0, 0.53), (3.7, 0.25), (4.0, 0.8), (8, 0.8)), T
    )
    assert measured(replace(swing_of(), takeaway=early, setup=None), share=stepped)["share_over_back"].value < 0.01
    rises = measured(swing_of(turn=None), share=drawn(((0, 0.53), (3.0, 0.53), (3.6, 0.62), (4.0, 0.8), (8, 0.8)), T))
    # Without a turn the backswing ends 0.36 s before impact, 3.64 s: a tenth of the way from 0.62 to 0.80.
    assert rises["share_over_back"].value == pytest.approx(0.09 + 0.018, abs=0.003)
    # By 0.07 s later it would be 0.0315 more: that is what is not known of it.
    assert rises["share_over_back"].u == pytest.approx(math.hypot(0.0035, 0.01, 0.07 * 0.45), abs=0.002)
    assert rises["share_change_back"].reason == NO_EVENT.format("turn")
    assert rises["share_turn"].reason == NO_EVENT.format("turn")
    assert rises["share_impact"].known
    assert rises["overall_most_down"].known


def test_a_late_push_needs_a_strike_to_be_told():
    assert measured()["force_most_s"].reason == NEEDS_STRIKE
    for peak_s in (-0.04, 0.0, 0.05):
        force = ((0, 1.0), (3.9 + peak_s, 1.0), (4.0 + peak_s, 1.5), (4.1 + peak_s, 1.0), (8.0, 1.0))
        struck = swing_of(impact=Moment(4.0, "strike sensor", 0.002))
        got = measured(struck, weights=drawn(force, T))["force_most_s"]
        near(got, peak_s, math.hypot(0.008, 0.002), abs=1e-3)
        assert got.u == pytest.approx(math.hypot(0.008, 0.002), rel=0.01)


def test_the_late_part_begins_a_third_of_the_way_to_impact():
    deep = ((0, 0.55), (3.6, 0.55), (3.75, 0.20), (3.8, 0.46), (8.0, 0.46))
    got = measured(overall=drawn(deep, T))
    assert got["overall_least_down"].value < 0.25
    assert got["overall_least_late"].value == pytest.approx(0.46, abs=0.01)


def test_the_least_force_is_that_before_the_most():
    """It dips on the way to the peak, and further after it."""
    force = ((0, 1.0), (3.6, 1.0), (3.8, 0.7), (3.95, 1.4), (4.03, 0.5), (8, 1.0))
    got = measured(weights=drawn(force, T))
    assert (got["force_least"].value, got["force_most"].value) == pytest.approx((0.7, 1.4))


def test_the_force_is_looked_at_from_a_tenth_before_the_turn_to_a_twentieth_after_impact():
    force = ((0, 1.0), (3.58, 0.1), (3.59, 0.2), (3.6, 0.9), (3.9, 1.2), (4.05, 1.4), (4.06, 1.9), (8, 1.9))
    got = measured(weights=drawn(force, T))
    assert (got["force_least"].value, got["force_most"].value) == pytest.approx((0.9, 1.4))


def test_no_force_is_known_of_frames_that_did_not_arrive():
    got = measured(weights=np.full(T.size, np.nan))
    assert {got[f"force_{n}"].reason for n in ("least", "most", "impact")} == {"no frames arrived at that time"}


def test_half_of_what_goes_to_and_fro_at_the_filters_own_rate_is_left():
    """A filter forwards and backwards takes half away at its limit: 5 Hz standing, 12 Hz in a swing."""
    centre = np.zeros((T.size, 2))
    centre[:, 0] = np.where(T < 2.97, 3 * np.sin(2 * np.pi * 5 * T), 2 * np.sin(2 * np.pi * 12 * T))
    got = measured(centre_mm=centre)
    assert got["setup_sway_mm_s"].value == pytest.approx(0.5 * 4 * 3 * 5, rel=0.06)
    assert got["path_back_mm"].value == pytest.approx(0.7 * 0.5 * 4 * 2 * 12, rel=0.12)


@pytest.mark.parametrize(("end_s", "value"), [(4.89, 0.9), (4.91, 0.8)])
def test_a_finish_is_held_from_15_hundredths_on_for_12_tenths(end_s, value):
    """Reached at 4.5 s: what counts is 4.65 to 5.7 s, once it is held for four tenths."""
    share = ((0, 0.53), (4.5, 0.9), (4.64, 0.9), (4.65, 0.8), (5.69, 0.8), (5.71, 0.5), (8, 0.5))
    assert measured(swing_of(end_s=end_s), share=drawn(share, T))["share_finish"].value == pytest.approx(value)
    # 53 frames of 0.8 and 53 of 0.7: with one more or less on either side the median is one of the two.
    halves = (*share[:4], (5.17, 0.8), (5.18, 0.7), (5.7, 0.7), (5.71, 0.5), (8, 0.5))
    held = measured(swing_of(end_s=8.0), share=drawn(halves, T))
    assert held["share_finish"].value == pytest.approx(0.75)
