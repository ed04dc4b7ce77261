"""The judge of the study of swings, by hand: scores, reliability, sizes; the study itself is a benchmark."""

import numpy as np
import pytest

from groundtone.swing.bands import default_bands
from studies.faults import built, reliability, scores, true_size

BANDS = default_bands()


def case(p, size, name="toes"):
    return {"name": name, "p": p, "size": size, "outside": size > 1, "over": 0.0}


def test_scores_count_what_is_far_out_and_well_inside_only():
    cases = [case(0.9, 1.6), case(0.4, 1.6), case(0.6, 0.2), *[case(0.0, 0.1)] * 5, case(0.9, 0.9), case(0.1, 1.2)]
    each, precision, recall = scores(cases)
    assert each == {"toes": "1 1 1 5"}
    assert (precision, recall) == (0.5, 0.5)


def test_reliability_by_hand():
    """Ten said 0.3 of which 4 were true, ten said 0.9 of which 8 were: gaps 0.1 and 0.1."""
    cases = [case(0.3, 1.1 if i < 4 else 0.9) for i in range(10)] + [
        case(0.9, 1.1 if i < 8 else 0.9) for i in range(10)
    ]
    gap, table = reliability([*cases, *[case(0.0, 0.1)] * 100])
    assert gap == pytest.approx(0.1)
    assert table == [(0.3, 0.4, 10), (0.9, 0.8, 10)]


def test_true_sizes():
    true = {
        "overall_most_down": 0.745,
        "side_shift": 0.74,
        "lead_outer_down_mm": 9.0,
        "lead_heel_work": 0.02,
        "share_impact": 0.78,
        "share_setup": 0.4,
    }
    assert true_size(BANDS.band("toes"), true, BANDS) == (pytest.approx(1.5), True)
    assert true_size(BANDS.band("slide"), true, BANDS) == (pytest.approx(1.5), True)
    assert true_size(BANDS.band("setup_side"), true, BANDS)[0] == pytest.approx(125 / 75)
    # Hanging rules a slide out, and either condition alone is none.
    assert not true_size(BANDS.band("slide"), true | {"share_impact": 0.5}, BANDS)[1]
    assert not true_size(BANDS.band("slide"), true | {"lead_heel_work": 0.07}, BANDS)[1]
    assert not true_size(BANDS.band("slide"), true | {"lead_outer_down_mm": 3.0}, BANDS)[1]


@pytest.mark.parametrize("name", [band.name for band in BANDS.findings])
def test_every_finding_can_be_built(name):
    rng = np.random.default_rng(1)
    assert built(rng, BANDS, name, 1.6) != built(rng, BANDS, name, 0.2)
