"""How many blocks of how many swings would tell a change, beforehand and after a lesson that could not."""

from __future__ import annotations

import math

import numpy as np

from groundtone.feel.in_blocks import ALPHA, LEAST_BLOCKS, Gap, expected_variance


def reach(blocks: int, each: int, looks: float = 10.0, alpha: float = ALPHA) -> float:
    """How wide the interval of such a lesson is to either side, of a golfer of whom nothing is known beforehand.

    Parameters
    ----------
    blocks, each : int
        Blocks a side, in turn (1: one side, then the other), and swings of a block.

    Returns
    -------
    float
        In standard deviations from swing to swing.
    """
    from scipy.special import stdtrit

    block = np.repeat(np.arange(2 * blocks), each)
    variance = expected_variance(block, block % 2 == 1)
    return float(stdtrit(block.size - 2, 1 - alpha / looks / 2)) * math.sqrt(variance)


def blocks_to_tell(gap: Gap, wanted: float, each: int, looks: float, alpha: float = ALPHA) -> int:
    """How many blocks a side of so many swings, in turn, leave no more than `wanted` either way; 0: more than 12.

    Parameters
    ----------
    gap : Gap
        How this golfer's swings scatter and hang together.
    """
    from scipy.special import stdtrit

    hang = (1 + gap.follows) / (1 - gap.follows)
    block = gap.spread**2 * min(hang, each) / each + gap.offset**2
    for blocks in range(LEAST_BLOCKS, 13):
        if stdtrit(2 * blocks * each - 2, 1 - alpha / looks / 2) * math.sqrt(2 * block / blocks) <= wanted:
            return blocks
    return 0
