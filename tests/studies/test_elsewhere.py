"""The world elsewhere is what it says: frames by WIRE.md, forces that add up, a network that Kirchhoff would sign."""

import numpy as np
import pytest

from groundtone.mat.layout import layout_of
from groundtone.mat.network import conductances
from groundtone.mat.references import References, drivers_from
from studies.elsewhere_mat import COLUMNS, PITCH_U_MM, ROWS, Circuit, Film, Mat
from studies.elsewhere_people import Feet, Golfer, Hands


def test_feet_carry_what_they_are_given():
    feet = Feet(np.random.default_rng(1))
    for left, along in ((0.5, 0.3), (0.2, 0.6), (0.9, 0.45)):
        cells = feet.cells(800.0, left, (along, along))
        assert cells.sum() == pytest.approx(800.0)
        assert cells[:, :4].sum() == pytest.approx(800.0 * left)
    heels, toes = (feet.cells(800.0, 0.5, (along, along)).sum(1) @ np.arange(ROWS) for along in (0.25, 0.65))
    assert (toes - heels) / 800.0 * PITCH_U_MM > 80.0


def test_the_circuit_is_one_that_the_network_s_algebra_inverts():
    rng = np.random.default_rng(3)
    circuit = Circuit(rng)
    grid = rng.uniform(1e-5, 2e-4, (ROWS, COLUMNS))
    cells, ref_a, ref_b = circuit.readings(np.array([grid, grid]), 0)
    references = References().updated(0, ref_a[0], ref_b[0]).updated(1, ref_a[1], ref_b[1])
    reading = (cells[:1] - references.zero) * 0.5 / (references.supply - references.zero)
    drivers = drivers_from(references, layout_of("reference-16x4"), grid)
    found, _ = conductances(reading, drivers)
    # Series resistors and pull-downs of 0.4 %, a converter of 12 bits.
    assert np.median(np.abs(found[0] / grid - 1)) < 0.01


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_more_force_conducts_more_and_creeps(seed):
    film = Film(np.random.default_rng(seed))
    one, two = (np.full((ROWS, COLUMNS), force) for force in (50.0, 100.0))
    first = film.under(one, 0.01)
    for _ in range(200):
        later = film.under(one, 0.01)
    assert np.median(later / first) > 1.02
    assert (film.under(two, 0.01) > later).all()


def test_a_mat_and_a_golfer_play_a_session_to_its_end():
    mat, golfer = Mat(5), Golfer(np.random.default_rng(6))
    try:
        end = golfer.plan(10.0, 3)
        assert len(golfer.balls) == 3
        assert not golfer.cells(end + 1).any()
        for ball in golfer.balls:
            assert golfer.rocked_s < ball.takeaway_s < ball.turn_s <= ball.top_s < ball.impact_s < end
            assert 0.5 < golfer.cells(ball.impact_s).sum() / golfer.weight_n < 2.5
        hands = Hands(mat)
        hands.put(3, 2, 98.0)
        assert mat.force(mat.t_s + 4.0)[3, 2] == 98.0
        hands.off()
        assert not mat.force(mat.t_s + 9.0).any()
    finally:
        mat.close()
