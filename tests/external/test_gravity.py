"""Standard acceleration of gravity: 9.80665 m/s² exactly, 3rd General Conference on Weights and Measures (1901)."""

import scipy.constants

from groundtone.pressure.feet import STANDARD_GRAVITY
from groundtone.twin.golfer import G_N_PER_KG


def test_the_value_of_1901():
    assert STANDARD_GRAVITY == 9.80665
    assert scipy.constants.g == STANDARD_GRAVITY
    # The twin, which shares no code with the measures, weighs its golfers by the same.
    assert G_N_PER_KG == STANDARD_GRAVITY
