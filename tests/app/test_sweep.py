"""The figure of the demo: mats, both hands, the real firmware; `make study NAME=live` plays more."""

import numpy as np
import pytest

from studies.live import HANDS, demo_sessions


# A left-handed golfer plays the demo itself, see test_demo.
@pytest.fixture(
    scope="module",
    params=[((1,), HANDS[:1]), pytest.param(((1, 2, 3, 4, 5, 6), HANDS), marks=pytest.mark.long)],
    ids=["one", "all"],
)
def played(request):
    return request.param


@pytest.fixture(scope="module")
def outcomes(played):
    return demo_sessions(*played)


def test_every_session_is_there(outcomes, played):
    seeds, hands = played
    assert [(o.seed, o.hand) for o in outcomes] == [(seed, hand) for seed in seeds for hand in hands]


def test_every_cue_is_right(outcomes):
    assert [(o.seed, o.hand) for o in outcomes if not o.right] == []


def test_no_frame_is_lost(outcomes):
    assert sum(o.missed for o in outcomes) == 0


def test_lead_share_and_centre_are_near_the_truth(outcomes):
    assert max(o.share_error for o in outcomes) <= 0.02
    assert max(o.centre_error_mm for o in outcomes) <= 5.0
    print("lead share, 95 %:", np.round(sorted(o.share_error for o in outcomes)[-3:], 4))
