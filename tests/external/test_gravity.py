"""Standard gravity against its published value.

Declaration of the 3rd General Conference on Weights and Measures (CGPM), 1901: the value adopted for the standard
acceleration due to gravity is 980.665 cm/s². The constant of scipy, from CODATA's tables, is a second witness.
"""

from scipy import constants

from groundtone.pressure.feet import STANDARD_GRAVITY


def test_value_of_the_third_cgpm():
    # 980.665 cm/s² in m/s²; exact by definition.
    assert STANDARD_GRAVITY == 9.80665
    assert constants.g == STANDARD_GRAVITY


def test_one_kilogram_force():
    # The same declaration makes the kilogram-force; scipy's is in newton.
    assert constants.kgf == STANDARD_GRAVITY
