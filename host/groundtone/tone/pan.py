"""Where a sound stands between two ears."""

import math
from typing import Literal

Side = Literal["left", "right"]


def pan_gains(side: float, lead: Side) -> tuple[float, float]:
    """Give the factors of the left and the right channel; their power adds up to 1 wherever the sound stands.

    Parameters
    ----------
    side : float
        -1 at the trail side, 0 in the middle, 1 at the lead side; what lies outside is bounded.
    lead : {"left", "right"}
        On which side the lead foot is.

    Returns
    -------
    tuple of float
        Left and right.

    Examples
    --------
    >>> left, right = pan_gains(1.0, "left")
    >>> round(left, 3), round(right, 3)
    (1.0, 0.0)
    """
    to_right = min(max(side, -1.0), 1.0) * (-1.0 if lead == "left" else 1.0)
    angle = (to_right + 1.0) * math.pi / 4.0
    return math.cos(angle), math.sin(angle)
