"""Where each foot's pressure lay at the events, as rows and as one sentence: three small cases."""

import math

import pytest

from groundtone.review.feet_words import feet_rows, feet_sentence, place_word

USUAL = {
    "lead_setup": 0.52, "trail_setup": 0.53, "lead_turn": 0.50, "trail_turn": 0.42, "lead_top": 0.49, "trail_top": 0.44,
    "lead_impact": 0.47, "trail_impact": 0.72, "lead_finish": 0.33, "trail_finish": 0.85, "overall_setup": 0.5,
}  # fmt: skip


def test_a_swing_with_all_its_events():
    assert [event for event, *_ in feet_rows(USUAL)] == ["setup", "turn", "top", "impact", "finish"]
    assert feet_rows(USUAL)[1] == ("turn", 0.50, 0.42)
    assert feet_sentence(USUAL) == (
        "At setup the lead foot carried under the laces (52 %), the trail foot under the laces (53 %); at the turn of "
        "pressure the lead foot under the laces (50 %), the trail foot towards the heel (42 %); at impact the lead foot"
        " under the laces (47 %), the trail foot over the ball (72 %); at the finish the lead foot at the heel (33 %),"
        " the trail foot on the toes (85 %)."
    )


def test_a_foot_in_the_air_has_no_place():
    values = {"lead_impact": 0.6, "trail_impact": math.nan, "lead_setup": math.nan, "trail_setup": math.nan}
    assert [(event, lead) for event, lead, _ in feet_rows(values)] == [("impact", 0.6)]
    assert feet_sentence(values) == "At impact the lead foot carried under the laces (60 %)."


def test_nothing_known_says_nothing():
    assert feet_rows({}) == []
    assert feet_sentence({"lead_impact": math.nan}) == ""


@pytest.mark.parametrize(
    ("at", "word"),
    [(0.2, "at the heel"), (0.65, "between laces and ball"), (0.74, "over the ball"), (0.9, "on the toes")],
)
def test_places_in_words(at, word):
    assert place_word(at) == word
