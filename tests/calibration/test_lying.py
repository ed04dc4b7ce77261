"""A load that lies for a minute: how it grew is told up to the hand that lifts it, whenever its end is noticed."""

import math

import numpy as np
import pytest

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.guided.lying import Lying

CELL, CREEP, LAY_S, NOTICED_S = (1, 2), 0.15, 45.0, 52.0


def lain(kept):
    """A load of 100 uS that creeps by CREEP a decade and of which so much stays when it is lifted, noticed late."""
    level = np.zeros((3, 4))
    level[CELL] = 1e-4
    placement = Placement(*CELL, 98.0, level, slice(0, 1), False, 0.1, t_s=0.0, grew=((0.45, -0.02), (0.9, 0.02)))
    lying = Lying(placement)
    for t_s in np.arange(1.0, NOTICED_S, 0.05):
        frame = np.zeros((3, 4))
        crept = CREEP * math.log10(t_s / 0.7)
        frame[CELL] = 1e-4 * (1 + crept) if t_s < LAY_S else 1e-4 * kept
        lying.take(t_s, frame)
    return lying.lifted(NOTICED_S)


@pytest.mark.parametrize("kept", [0.0, 0.3])
def test_what_the_film_keeps_after_the_lift_is_no_growth(kept):
    placement = lain(kept)
    assert placement.lifted_s == pytest.approx(LAY_S, abs=0.06)
    at_s, grew = np.array(placement.grew[2:]).T
    assert grew == pytest.approx(np.log(1 + CREEP * np.log10(at_s / 0.7)), abs=0.004)
    assert at_s[-1] > 35.0


def test_a_load_that_was_lifted_soon_tells_nothing_of_a_minute():
    level = np.full((3, 4), 1e-4)
    placement = Placement(*CELL, 98.0, level, slice(0, 1), False, 0.1, t_s=0.0, grew=((0.45, 0.0),))
    lying = Lying(placement)
    for t_s in (1.0, 1.5, 2.0):
        lying.take(t_s, level)
    assert lying.lifted(2.1).grew == ()
    assert lying.lifted(2.1).lifted_s == 2.1
