"""The steady setup before a swing, and the waggles in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from groundtone.swing import definition as d
from groundtone.swing.events import Moment, Swing
from groundtone.swing.track import GRID_S, Track

# Still for this long within this much of the share; how far back it is looked for.
STILL_S, STILL_SHARE = 0.40, 0.025
LOOK_BACK_S = 9.0
# From takeaway to impact takes at least this long; the live form's takeaway may be early by so much.
BACKSWING_S, TAKEAWAY_SLACK_S = 0.45, 0.25
# Stills belong to one setup while their levels agree this well, also across waggles this long.
SAME_SHARE, ACROSS_S = 0.04, 2.5
# A waggle moves the share this far and is back within this time.
WAGGLE_SHARE, WAGGLE_S = 0.022, 1.2


@dataclass(frozen=True)
class Setup:
    """A steady setup: begin and end of standing still, s, and the lead share."""

    begin_s: float
    end_s: float
    share: float


def setup_before(track: Track, impact_s: float, live: Swing) -> Setup:
    """The setup from which a swing was begun.

    The last time of standing still at least BACKSWING_S before impact, both feet carrying; with what was before it at
    the same level, waggles between. Where nobody stood still (feet that mill until the takeaway), as the live form took
    the setup to be.

    Parameters
    ----------
    track : Track
    impact_s : float
    live : Swing
        As the live form told it.
    """
    from scipy.ndimage import maximum_filter1d, minimum_filter1d

    window = round(STILL_S / GRID_S)
    ends_s = impact_s - (BACKSWING_S if live.slow == 1.0 else 1.0)
    cut = track.between(impact_s - LOOK_BACK_S - (4.0 if live.slow > 1.0 else 0.0), ends_s)
    share, t = track.share[cut], track.t_s[cut]
    plain = Setup(live.takeaway.t_s - 0.5, live.takeaway.t_s, live.setup_share)
    if share.size < 2 * window:
        return plain
    # Centred windows: sample j stands for j - window/2 to j + window/2.
    span = maximum_filter1d(share, window) - minimum_filter1d(share, window)
    low, high = d.SETUP_SHARES
    still = (span <= STILL_SHARE) & (share >= low) & (share <= high)
    # A pause in the backswing is still too: the setup is where the live form saw the takeaway, or above it.
    still &= (t <= live.takeaway.t_s + TAKEAWAY_SLACK_S) | (np.abs(share - live.setup_share) <= SAME_SHARE)
    still[: window // 2] = False
    still[-(window // 2) :] = False
    at = np.flatnonzero(still)
    if not at.size:
        return plain
    last = int(at[-1])
    level = float(np.median(share[max(0, last - window // 2) : last + window // 2]))
    begin = last
    for j in at[::-1].tolist():
        if (begin - j) * GRID_S > ACROSS_S or abs(share[j] - level) > SAME_SHARE:
            break
        begin = j
    same = at[at >= begin]
    level = float(np.median(share[same[-round(2.0 / GRID_S) :]]))
    return Setup(float(t[max(0, begin - window // 2)]), float(t[min(last + window // 2, t.size - 1)]), level)


def waggles_in(track: Track, setup: Setup, takeaway_s: float) -> tuple[Moment, ...]:
    """Each waggle's furthest point: the share leaves the setup's and is soon back."""
    cut = track.between(setup.begin_s, takeaway_s - 0.05)
    t, out = track.t_s[cut], np.abs(track.share[cut] - setup.share)
    found = []
    away = np.flatnonzero(np.diff(np.concatenate([[0], (out > WAGGLE_SHARE).astype(int), [0]])))
    for begin, end in zip(away[::2].tolist(), away[1::2].tolist(), strict=True):
        if end < t.size and (end - begin) * GRID_S <= WAGGLE_S:
            at = begin + int(np.argmax(out[begin:end]))
            found.append(Moment(float(t[at]), "pressure", 0.03))
    return tuple(found)
