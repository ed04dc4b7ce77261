"""What the lane needs to know before it draws: where a ribbon is outside its bands, and where words find room."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

Band = tuple[float, float, float, float]  # from time, to time, low, high


def outside(t_s: ArrayLike, values: ArrayLike, bands: Sequence[Band]) -> NDArray[np.bool_]:
    """Tell where a ribbon has left its bands.

    Parameters
    ----------
    t_s, values : array_like, shape (n,)
        Time, s, and the ribbon.
    bands : sequence of (float, float, float, float)
        From time, to time, low, high. Where no band is set nothing can be left, and NaN is never outside.

    Returns
    -------
    ndarray of bool, shape (n,)

    Examples
    --------
    >>> outside([0.0, 1.0, 2.0], [0.5, 0.9, 0.9], [(0.0, 1.5, 0.4, 0.6)]).tolist()
    [False, True, False]
    """
    t, x = np.asarray(t_s, dtype=np.float64), np.asarray(values, dtype=np.float64)
    out = np.zeros(t.shape, dtype=np.bool_)
    for start, end, low, high in bands:
        out |= (t >= start) & (t <= end) & ((x < low) | (x > high))
    return out


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move heights apart until no two are closer than a gap, each as little as may be.

    Parameters
    ----------
    wanted : sequence of float
        Heights, rising.
    gap : float
        Least distance between neighbours.
    low, high : float
        Limits. Where there is too little room for the gap, the heights are spread evenly over it.

    Returns
    -------
    list of float
        As many heights, in the same order.

    Examples
    --------
    >>> spread([1.0, 1.0], 0.5, 0.0, 10.0)
    [0.75, 1.25]
    """
    n = len(wanted)
    if n == 0:
        return []
    step = min(gap, (high - low) / (n - 1)) if n > 1 else gap
    # Without the steps the task is a rising sequence close to a given one: neighbours that clash share their mean.
    groups: list[tuple[float, int]] = []
    for i, height in enumerate(wanted):
        groups.append((height - i * step, 1))
        while len(groups) > 1 and groups[-2][0] > groups[-1][0]:
            (a, na), (b, nb) = groups[-2:]
            groups[-2:] = [((a * na + b * nb) / (na + nb), na + nb)]
    flat = [mean for mean, count in groups for _ in range(count)]
    top = high - (n - 1) * step
    return [min(max(base, low), top) + i * step for i, base in enumerate(flat)]
