"""What a lesson looks at, and what it only tells."""

from groundtone.lesson.lesson_measures import lesson_measures, measure_words
from groundtone.review.swings import BlockRows, SwingRow


def test_a_guessed_tempo_is_told_with_a_swing_and_compared_with_nothing():
    assert "tempo" not in [measure.name for measure in lesson_measures()]
    assert len(lesson_measures()) == 9
    row = SwingRow(1, {"share_setup": 0.5, "tempo": 2.94})
    told = measure_words(row, BlockRows("1", (row,)))
    assert told == ("lead share at setup: 50 %", "tempo (guessed, the top is not seen): 2.9")
    assert measure_words(SwingRow(1, {"tempo": float("nan")}), BlockRows("1", ())) == ()
