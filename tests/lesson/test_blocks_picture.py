"""What a layout can tell, and a lesson's swings drawn in their order with blocks and drift."""

import io

import numpy as np
import pytest
from matplotlib import image

from groundtone.feel.block_plans import reach
from groundtone.feel.in_blocks import Swings, between
from groundtone.lesson.blocks_picture import draw_blocks, layouts
from groundtone.lesson.lesson_measures import LessonMeasure
from groundtone.review.swings import BlockRows, SwingRow

SHARE = LessonMeasure("share_impact", "lead share at impact", "%", step=0.03)


def test_more_blocks_tell_smaller_changes_and_so_does_who_looks_at_less():
    told = [tells for blocks, _, tells in layouts() if blocks > 1]
    assert told == sorted(told, reverse=True)
    assert reach(4, 6, looks=1.0) < reach(4, 6)
    assert reach(4, 12) < reach(4, 6)


def test_what_is_told_beforehand_is_about_what_intervals_are():
    """Of swings that are as expected: 0.4 from swing to swing, offsets of a fifth of the scatter."""
    rng, widths = np.random.default_rng(1), []
    block = np.repeat(np.arange(8), 6)
    for _ in range(20):
        values = rng.standard_normal((48, 4))
        for i in range(1, 48):
            values[i] = 0.4 * values[i - 1] + np.sqrt(1 - 0.16) * values[i]
        swings = Swings(values + 0.2 * rng.standard_normal((8, 4))[block], block, block % 2 == 1)
        widths += [(gap.high - gap.low) / 2 for gap in between(swings, 10)]
    assert np.mean(widths) == pytest.approx(reach(4, 6), rel=0.15)


def test_a_block_with_the_tone_is_shaded_and_a_drift_is_drawn():
    rng = np.random.default_rng(2)
    sides = ([], [])
    for k in range(6):
        values = 0.6 + 0.01 * k + 0.01 * rng.standard_normal(6)
        rows = tuple(SwingRow(6 * k + i + 1, {"share_impact": v}) for i, v in enumerate(values))
        sides[k % 2].append(BlockRows(str(k), rows, number=k + 1))
    before, after = (BlockRows("s", tuple(r for b in side for r in b.swings), number=9) for side in sides)
    picture = image.imread(io.BytesIO(draw_blocks(before, after, [SHARE], ("without", "with"))))[..., :3]
    row = picture[picture.shape[0] // 3]
    tint = np.abs(row - np.array([0.81, 0.88, 0.94])).max(axis=1) < 0.03
    edges = np.count_nonzero(np.diff(tint.astype(int)) == 1)
    assert edges >= 3  # three blocks with the tone
    empty = draw_blocks(before, after, [LessonMeasure("tempo", "tempo")], ("a", "b"))
    assert empty.startswith(b"\x89PNG")


def test_a_side_without_a_value_is_drawn_without_a_warning(recwarn):
    known = BlockRows("1", tuple(SwingRow(i, {"share_impact": 0.6}) for i in (1, 2, 3)), number=1)
    nothing = BlockRows("2", (SwingRow(4, {}),), number=2)
    assert draw_blocks(known, nothing, [SHARE], ("a", "b")).startswith(b"\x89PNG")
    assert [str(w.message) for w in recwarn] == []
