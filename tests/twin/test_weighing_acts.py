"""What a person does to be weighed, a mat that has aged, and whole runs at once against single frames."""

import numpy as np
import pytest

from groundtone.twin.film import cell_curves
from groundtone.twin.inprocess import InProcessMat
from groundtone.twin.rapid import scans
from groundtone.twin.scenario import Check, Empty, GolferSpec, MatSpec, Scenario, Session, Standing, SwingSpec
from groundtone.twin.truth import truth

PERSON = GolferSpec(mass_kg=70.0)
WEIGHT_N = 70.0 * 9.80665


def test_a_check_goes_through_its_steps():
    act = Check(PERSON, seed=5, weight_n=98.0)
    known = truth(Scenario(MatSpec.reference(), act))
    force, total = known.force_n, known.force_n.sum(1)
    t = known.t_s
    assert np.all(total[t < act.empty_s - 0.1] == 0)
    assert force[:, 0][(t > 5) & (t < 9)].max() == pytest.approx(98.0)
    assert force[:, 1][(t > 9) & (t < 13)].max() == pytest.approx(98.0)
    on = total > 0.9 * WEIGHT_N
    lead = known.lead_share
    # Left foot lifted, then the right: each for the time that was asked for.
    assert (lead[on] < 0.01).mean() * on.sum() * 0.005 == pytest.approx(act.lift_s, abs=1.5)
    left_up, right_up = t[on & (lead < 0.01)], t[on & (lead > 0.99)]
    assert left_up[-1] < right_up[right_up > left_up[0]][0]
    rock = known.heel_toe[:, 0]
    assert np.nanmin(rock) < 0.2
    assert np.nanmax(rock) > 0.84


def test_a_foot_left_on_the_mat_stands_there_from_the_beginning():
    known = truth(Scenario(MatSpec.reference(), Check(PERSON, foot_left=True)))
    early = (known.t_s > 1.5) & (known.t_s < 4.0)
    assert known.force_n.sum(1)[early].min() > 0.9 * WEIGHT_N


def test_without_lifts_nobody_stands_on_one_foot_after_the_rock():
    known = truth(Scenario(MatSpec.reference(), Check(PERSON, lifts=False)))
    middle = (known.t_s > 9.0) & (known.t_s < known.step_off_s - 2.0)
    assert np.abs(known.lead_share[middle] - 0.5).max() < 0.1


def test_who_rocks_weighs_the_same_but_for_the_quick_part():
    act = Standing(PERSON, seed=2, rock_s=30.0, fast_s=4.0)
    known = truth(Scenario(MatSpec.reference(), act))
    t, total = known.t_s, known.force_n.sum(1)
    slow = (t > 8) & (t < 19)
    assert total[slow] == pytest.approx(WEIGHT_N, rel=0.015)
    quick = (t > 21) & (t < 23.5)
    assert np.ptp(total[quick]) > 0.12 * WEIGHT_N
    assert np.ptp(known.lead_share[slow]) > 0.8
    assert np.nanmax(known.heel_toe[slow, 0]) - np.nanmin(known.heel_toe[slow, 0]) > 0.6


def test_ageing_changes_each_gain_and_all_together():
    new, _ = cell_curves(MatSpec.reference(seed=3))
    old, _ = cell_curves(MatSpec.reference(seed=3, aged_each=0.2, aged_common=-0.15))
    change = old / new / 0.85
    assert np.all((change >= 0.8) & (change <= 1.2))
    assert change.std() == pytest.approx(0.4 / np.sqrt(12), rel=0.15)  # an even spread over 0.4
    same, _ = cell_curves(MatSpec.reference(seed=3, aged_common=-0.15))
    assert same / new == pytest.approx(0.85)


def test_the_same_shoes_in_two_acts():
    from groundtone.twin.mechanics import shoe_ratios

    mat = MatSpec.reference(seed=4)
    assert np.array_equal(shoe_ratios(mat, 9), shoe_ratios(mat, 9))
    a = Scenario(mat, Session(seed=1, shoe_seed=9, swings=()))
    b = Scenario(mat, Check(seed=2, shoe_seed=9))
    assert Scenario.from_json(a.to_json()) == a
    assert Scenario.from_json(b.to_json()) == b
    with pytest.raises(ValueError, match="lift_s"):
        Check(lift_s=0.5)
    with pytest.raises(ValueError, match="sway"):
        Standing(sway=1.5)


@pytest.mark.parametrize("act", [Empty(3.0), Session(GolferSpec(), (SwingSpec(),), seed=3, rocks=0, setup_s=0.5)])
def test_whole_runs_read_what_single_frames_read(act):
    scenario = Scenario(MatSpec.reference(seed=6, adc_noise_lsb=0.3), act)
    run = scans(scenario, 20.0)
    frames = list(InProcessMat(scenario).frames(20.0))
    assert len(frames) == len(run.t_us)
    single = np.array([frame.cells for frame in frames]).reshape(run.cells.shape)
    apart = run.cells - single
    # Noise is another draw; a step of the 12-bit scale is 4 here.
    assert abs(apart.mean()) < 0.1
    assert np.percentile(np.abs(apart), 99) < 14
    zero = [frame.ref_a for frame in frames[::2]]
    assert run.zero.mean() == pytest.approx(np.mean(zero), abs=0.5)
    tap = [frame.ref_b for frame in frames[1::2]]
    assert run.tap_low.mean() == pytest.approx(np.mean(tap), rel=0.005)
