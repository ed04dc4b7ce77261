"""One panel alone: the toes cue of the foot on it while that stands or rocks, and never anything of a swing."""

import dataclasses
import math
from functools import cache

import numpy as np
import pytest

from groundtone.app.twin import mat_of
from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.engine.live import LiveEngine
from groundtone.engine.one_foot import LEAVE, QUIET_S, OneFoot
from groundtone.errors import RecordError
from groundtone.link.base import Stamped
from groundtone.mat.conductance import ConductanceMeter
from groundtone.mat.layout import LEFT, PANELS, RIGHT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.pressure.footprint import FootprintFinder
from groundtone.record.reader import open_recording
from groundtone.record.recorder import begin
from groundtone.record.session import About, Golfer, settings_from, settings_table
from groundtone.review.measured import measure
from groundtone.review.settings import settings_of
from groundtone.swing.events import Phase
from groundtone.swing.phases import find_swings
from groundtone.twin.inprocess import InProcessMat
from groundtone.twin.scenario import Doing, GolferSpec, Scenario, Session, SwingSpec
from groundtone.twin.truth import truth
from groundtone.wire.messages import Frame, Hello

RATE_HZ = 50.0
# The golfer rocks twice, hits a good ball, stands a while, and hangs on the trail side after a setup on the toes; the
# last swing ends with both feet on their toes and as loaded as at setup.
SWINGS = (SwingSpec("good"), SwingSpec("trail_hang", setup_heel_toe=0.78))
CASES = [(layout, hand, panel) for layout, hand in (("reference-16x4", "right"), ("starter-10x3", "left"))
         for panel in (LEFT, RIGHT)]  # fmt: skip


def scenario(layout_id, hand):
    act = Session(GolferSpec(hand=hand), SWINGS, 4, rocks=2, rock_s=4.0, doings=(Doing("stand", 3.0, before=1),))
    return Scenario(mat_of(4, layout_id), act)


@cache
def frames(layout_id, hand):
    """What a whole mat would send."""
    return list(InProcessMat(scenario(layout_id, hand)).frames(RATE_HZ))


def with_other(frame, layout, panel, values):
    """The frame of a mat whose other panel is not wired: its columns read `values`."""
    cells = frame.cells.reshape(layout.rows, layout.columns).copy()
    width = layout.columns_per_panel
    cells[:, (1 - panel) * width : (2 - panel) * width] = values
    return dataclasses.replace(frame, cells=cells.ravel())


def engine_of(layout, hand, panel):
    film = Film(typical_curves(layout.rows, layout.columns))
    return LiveEngine(layout, film, Stance(LEFT if hand == "right" else RIGHT), panel=panel)


@pytest.fixture(scope="module", params=CASES, ids=lambda c: f"{c[0]}, {c[1]}-handed, {PANELS[c[2]]} panel")
def heard(request):
    """Engine, panel, truth and all that came out: by the typical film, as after the first hour."""
    layout_id, hand, panel = request.param
    layout = layout_of(layout_id)
    engine = engine_of(layout, hand, panel)
    out = [engine.take_frame(with_other(frame, layout, panel, 0), frame.t_us) for frame in frames(layout_id, hand)]
    return engine, panel, truth(scenario(layout_id, hand)), out


def spans(out):
    """Begin and end of each time in which the toes cue sounds, s."""
    on = np.concatenate([[False], ["toes" in live.sizes for live in out], [False]])
    edge = np.flatnonzero(on[1:] != on[:-1])
    return [(out[a].t_s, out[b - 1].t_s) for a, b in zip(edge[::2], edge[1::2], strict=True)]


def test_one_print_makes_ready_in_the_first_rock(heard):
    engine, _, known, out = heard
    ((name, t_s),) = [(name, live.t_s) for live in out for name in live.signals]
    assert name == "ready"
    assert known.step_on_s + 2.0 < t_s < known.step_on_s + 2.0 + 4.0
    # Stepped off at the end: nobody, and the print forgotten.
    assert out[-1].phase is Phase.AWAY
    assert not engine.ready


def test_the_toes_cue_sounds_on_the_toes_of_the_second_rock_and_of_the_setup(heard):
    _, _, known, out = heard
    rock, setup = spans(out)
    second = known.step_on_s + 1.9 + 4.0
    # In a rock the toes are reached 0.52 of it after its begin.
    assert rock[0] < second + 0.52 * 4.0 < rock[1]
    swing = known.swings[1]
    # On the way there the limit of the setup is passed a little later than that of the backswing.
    assert setup[0] == pytest.approx(swing.setup_s + 0.2, abs=0.3)
    assert setup[1] == pytest.approx(swing.takeaway_s, abs=0.5)


def test_it_sounds_only_where_the_foot_is_on_its_toes_and_loaded_as_it_stands(heard):
    _, panel, known, out = heard
    standing = known.at(round((known.swings[0].takeaway_s - 0.2) * 1e6)).force_n[panel]
    for live in out:
        if "toes" in live.sizes:
            true = known.at(round(live.t_s * 1e6))
            assert true.heel_toe[panel] > 0.60
            assert 1 / 1.6 < true.force_n[panel] / standing < 1.6


def test_a_swing_is_silent_from_the_turn_on_and_after_it(heard):
    _, _, known, out = heard
    for live in out:
        if "toes" in live.sizes:
            assert not any(swing.turn_s < live.t_s < swing.impact_s + 2.0 for swing in known.swings)
            assert live.t_s <= known.step_off_s


def test_nothing_is_said_of_the_other_foot(heard):
    _, panel, _, out = heard
    for live in out:
        assert "trail side" not in live.sizes
        assert live.ended is None
        assert math.isnan(live.share)
        assert math.isnan(live.position[1 - panel])
        assert live.overall == pytest.approx(live.position[panel], nan_ok=True)
        assert live.phase in (Phase.AWAY, Phase.STANDING, Phase.SETUP)


def test_the_place_under_the_foot_is_right_without_a_calibration(heard):
    _, panel, known, out = heard
    errors = [
        abs(live.overall - known.at(round(live.t_s * 1e6)).heel_toe[panel])
        for live in out
        if live.phase is Phase.SETUP and not math.isnan(live.overall)
    ]
    assert len(errors) > 300
    # Most of it is what this mat's film differs by from the typical one. The worst of the four has 0.061, with noise of
    # 1.0 or 2.5 steps alike; with rows of 100 instead of 220 Ω it has 0.060.
    assert np.percentile(errors, 95) < 0.064


def test_an_open_line_may_read_anything():
    layout = layout_of("starter-10x3")
    zero, open_, whole = (engine_of(layout, "left", LEFT) for _ in range(3))
    rng = np.random.default_rng(1)
    heard = 0
    for frame in frames("starter-10x3", "left")[:520]:
        dark = zero.take_frame(with_other(frame, layout, LEFT, 0), frame.t_us)
        loud = rng.integers(0, 2**14, (layout.rows, layout.columns_per_panel))
        for other in (
            open_.take_frame(with_other(frame, layout, LEFT, loud), frame.t_us),
            whole.take_frame(frame, frame.t_us),
        ):
            np.testing.assert_array_equal(other.force_n, dark.force_n)
            assert other.sizes == dark.sizes
        heard += "toes" in dark.sizes
    assert heard > 10


def test_the_other_lines_are_those_of_a_mat_whose_wires_came_out_of_order():
    layout = dataclasses.replace(layout_of("starter-10x3"), columns_order=(3, 1, 5, 0, 2, 4))
    assert layout.column_lines(LEFT) == [3, 1, 5]
    assert layout.column_lines(RIGHT) == [0, 2, 4]
    meter = ConductanceMeter(layout, LEFT)
    cells = np.full(60, 300, np.uint16)
    frame = Frame(0, 0, 0, 0, 0, 0, 8000, cells)
    meter.measure(frame)
    conductance = meter.measure(dataclasses.replace(frame, seq=1, ref_a=8000, ref_b=20))
    assert (conductance[:, :3] > 1e-6).all()
    assert np.abs(conductance[:, 3:]).max() < 1e-9


def test_with_both_panels_one_print_is_not_enough():
    layout = layout_of("starter-10x3")
    engine = engine_of(layout, "left", None)
    for frame in frames("starter-10x3", "left"):
        engine.take_frame(with_other(frame, layout, LEFT, 0), frame.t_us)
        assert not engine.ready


def test_the_finder_keeps_the_other_print_none():
    layout = layout_of("reference-16x4")
    finder = FootprintFinder(layout, panel=RIGHT)
    force = np.zeros((16, 8))
    found = []
    for centre in [*range(3, 13), *range(12, 6, -1)]:
        force[:] = 0.0
        force[centre - 2 : centre + 3, 4:] = 20.0
        found.append(finder.add(force, (math.nan, (centre + 0.5) * 20.0)))
    assert sum(found) == 1
    left, right = finder.prints
    assert left is None
    # Rows 1 to 14 were loaded: 20 to 300 mm, the edges a little inside.
    assert right.heel_mm == pytest.approx(20.0, abs=10.0)
    assert right.toe_mm == pytest.approx(300.0, abs=10.0)


def armed(level_n=400.0):
    """A foot whose levels were shown by a rock over the whole panel, stepping on first."""
    foot = OneFoot(320.0)
    t_s = 0.0
    for load, places in ((2.0 * level_n, [100.0] * 8), (level_n, [*range(50, 290, 4), *range(290, 50, -4)])):
        for place in places:
            t_s += 0.06
            foot.gather(t_s, load, float(place))
    foot.arm()
    assert foot.armed
    return foot


def follow(foot, begin_s, seconds, load, *, inside, u_mm=150.0):
    """Steps at 100 Hz; the time at which it was armed first, or None."""
    at = None
    for i in range(round(seconds * 100)):
        t_s = begin_s + i / 100
        foot.watch(t_s, load(i / 100) if callable(load) else load, u_mm, inside=inside)
        if foot.armed and at is None:
            at = t_s
    return at


def let_go(foot):
    foot.watch(9.9, 0.0, math.nan, inside=False)
    assert not foot.armed
    return foot


def test_without_a_rock_it_is_never_armed():
    foot = OneFoot(320.0)
    foot.arm()
    assert follow(foot, 0.0, 3.0, 400.0, inside=True) is None


def test_it_is_armed_again_by_a_second_of_standing_quietly_inside_the_band():
    foot = let_go(armed())
    assert follow(foot, 10.0, 3.0, 400.0, inside=False) is None
    assert follow(foot, 13.0, 3.0, 400.0, inside=True) == pytest.approx(13.0 + QUIET_S, abs=0.06)
    unquiet = let_go(armed())
    assert follow(unquiet, 10.0, 5.0, lambda t: 400.0 * (1 + 0.2 * math.sin(2 * math.pi * t)), inside=True) is None


@pytest.mark.parametrize("load", [400.0 * LEAVE * 1.01, 400.0 / LEAVE / 1.01, 0.0])
def test_it_is_let_go_when_the_load_leaves_its_level(load):
    foot = armed()
    for i, near in enumerate((400.0 * LEAVE * 0.98, 400.0 / LEAVE / 0.98)):
        foot.watch(10 + i / 100, near, 150.0, inside=False)
        assert foot.armed
    foot.watch(10.02, load, 150.0, inside=True)
    assert not foot.armed


def test_a_place_that_reads_another_load_has_its_own_level():
    """Cells of a guessed film: the same load reads 400 N at the heel and 280 N at the toes."""
    foot = OneFoot(320.0)
    for i, place in enumerate([*range(50, 290, 2), *range(290, 50, -2)]):
        foot.gather(0.06 * i, 400.0 if place < 170 else 280.0, float(place))
    foot.arm()
    for u_mm, load in ((60.0, 400.0), (280.0, 280.0), (170.0, 340.0), (310.0, 280.0)):
        foot.watch(20 + u_mm, load, u_mm, inside=False)
        assert foot.armed
    foot.watch(900.0, 400.0, 280.0, inside=False)
    assert not foot.armed
    # It comes back carrying more of the weight at the heel, and so it does at the toes.
    assert follow(foot, 901.0, 1.2, 560.0, inside=True, u_mm=60.0) is not None
    foot.watch(903.0, 392.0, 280.0, inside=False)
    assert foot.armed


def test_after_a_swing_to_the_toes_it_stays_let_go_until_the_foot_has_come_back():
    foot = armed()
    follow(foot, 10.0, 0.7, lambda t: 400.0 + 400.0 * t, inside=True)  # the backswing loads it
    assert not foot.armed
    # It hangs there, loaded as at setup and on its toes, for as long as it likes.
    assert follow(foot, 10.7, 8.0, 400.0, inside=False, u_mm=280.0) is None
    assert follow(foot, 18.7, 3.0, 400.0, inside=True) == pytest.approx(18.7 + QUIET_S, abs=0.06)


def test_the_level_follows_whoever_settles_down_slowly():
    foot = armed()
    assert follow(foot, 10.0, 60.0, lambda t: 400.0 + 3.0 * t, inside=False) == 10.0
    assert foot.armed  # 580 N by now, more than LEAVE times 400


def test_stepping_off_forgets_the_levels():
    foot = armed()
    foot.forget()
    assert not foot.armed
    assert follow(foot, 10.0, 3.0, 400.0, inside=True) is None


@pytest.fixture(scope="module", params=[LEFT, RIGHT], ids=["left panel", "right panel"])
def recorded(request, tmp_path_factory):
    """The same golfer recorded on one panel."""
    panel = request.param
    layout = layout_of("starter-10x3")
    hello = Hello(1, (0, 2, 0), "00112233445566aa", 10, 6, 14, 16, 1, 200, 0, 0, "twin", layout.id, "mat")
    path = tmp_path_factory.mktemp("one") / "session.mcap"
    settings = settings_of(Stance(RIGHT), RATE_HZ, panel=panel)
    recorder = begin(path, About(hello, settings, Golfer("invented", "left"), simulated=True))
    for frame in frames("starter-10x3", "left"):
        dark = with_other(frame, layout, panel, 9000)
        recorder.frame(Stamped(dark, dark.t_us, dark.t_us * 1e-6, 0.0, 0))
        recorder.pump()
    recorder.close()
    return panel, path


def test_a_recording_knows_its_panel_and_has_no_share_and_no_swing(recorded):
    panel, path = recorded
    recording = open_recording(path)
    assert recording.about.settings.panel == panel
    measured = measure(recording)
    series, known = measured.series, truth(scenario("starter-10x3", "left"))
    assert np.isnan(series.share).all()
    assert np.isnan(series.weight_n).all()
    assert np.isnan(series.force_n[:, 1 - panel]).all()
    assert np.isnan(series.position[:, 1 - panel]).all()
    assert find_swings(series) == []
    (sentence,) = [doubt for doubt in measured.doubts if "one panel" in doubt]
    assert sentence.startswith(f"Only the {PANELS[panel]} panel was there")
    before = (series.t_s > known.step_on_s + 2.0) & (series.t_s < known.swings[0].takeaway_s)
    true = np.array([known.at(round(t * 1e6)).heel_toe[panel] for t in series.t_s[before]])
    # Rocking onto the outermost rows by a guessed film.
    assert np.percentile(np.abs(series.overall[before] - true), 95) < 0.08
    np.testing.assert_allclose(series.overall, series.position[:, panel], atol=1e-12)


def test_settings_with_and_without_a_panel():
    for panel in (None, LEFT, RIGHT):
        assert settings_from(settings_table(settings_of(panel=panel))).panel == panel
    assert "panel" not in settings_table(settings_of())
    with pytest.raises(RecordError, match="cannot be understood"):
        settings_from({**settings_table(settings_of()), "panel": "middle"})
