"""Finds the swings of a recording and marks their events: the review form (zero-phase) of `swing.definition`.

The live form is `swing.tracker`. Here the whole stand is in view: smoothing has no delay, the takeaway is fitted
backwards from the backswing, and impact is told by the peak of the vertical force or by the strike sensor.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.signal import find_peaks

from groundtone.pressure.series import Series
from groundtone.swing import definition as d
from groundtone.swing.events import Kind, Moment, Swing
from groundtone.swing.onset import onset, peak, turning
from groundtone.swing.steady import Setup, setup_before, waggles_in
from groundtone.swing.top import top_of
from groundtone.swing.track import GRID_S, Track, track_of

# A rehearsal, three to five times slower, has no force of its own: it is told by how long it takes back and forth and
# by a finish on the lead foot with the trail foot further on its toes than the lead foot.
SLOW_BACK_S = (1.2, 6.0)
SLOW_FORTH_S = 6.0
SLOW_FORTH = 1.8
SLOW_HELD_S, SLOW_FINISH_S = 0.6, 4.5
# A second person: the total stays this far above the golfer's weight for this long.
OTHERS, OTHERS_S = 1.30, 0.6
# The share goes this far above the setup's in a forward press.
PRESS = 0.010
# Two swings are at least this far apart, impact to turn.
APART_S = 0.9


def find_swings(series: Series) -> list[Swing]:
    """The swings of a recording, in order of time.

    Parameters
    ----------
    series : Series

    Returns
    -------
    list of Swing
        With strikes in the series, swings at full speed without one are practice swings; without any strike nothing
        tells the two apart and all are swings.
    """
    swings: list[Swing] = []
    for stand in series.stands:
        track = track_of(series, stand)
        if track is None:
            continue
        found = _in_stand(track, series.strikes)
        if found:
            found[-1].step_off = Moment(stand.end_s, "pressure", 0.02)
        swings += found
    heard = any(swing.impact is not None and swing.impact.source == "strike sensor" for swing in swings)
    for number, swing in enumerate(swings, start=1):
        swing.number = number
        if heard and swing.kind is Kind.SWING and swing.impact_unsure:
            swing.kind = Kind.PRACTICE
    return swings


def _in_stand(track: Track, strikes: Sequence[tuple[float, float]]) -> list[Swing]:
    turns, _ = find_peaks(-track.share, prominence=d.CONFIRM_RISE)
    others = _others(track)
    swings: list[Swing] = []
    free_s = -math.inf
    for i in turns.tolist():
        turn_s = float(track.t_s[i])
        if turn_s < free_s or others[track.between(turn_s - 1.5, turn_s + 1.5)].any():
            continue
        setup = setup_before(track, i)
        if setup is None or setup.end_s < free_s - APART_S or setup.share - track.share[i] < d.BACK_SHARE:
            continue
        swing = _swing(track, i, setup, strikes)
        if swing is not None:
            assert swing.impact is not None
            swings.append(swing)
            free_s = swing.impact.t_s + APART_S
    return swings


def _others(track: Track) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Where more than one person stands on the mat."""
    width = round(OTHERS_S / GRID_S)
    heavy = np.convolve(track.weights > OTHERS, np.ones(width), "same") >= 0.95 * width
    return np.asarray(np.convolve(heavy, np.ones(2 * width), "same") > 0.5)


def _swing(track: Track, i: int, setup: Setup, strikes: Sequence[tuple[float, float]]) -> Swing | None:
    """The swing that turns at sample `i`, if it is one."""
    turn = _turn(track, i)
    takeaway = _takeaway(track, setup, turn)
    if takeaway is None:
        return None
    low = float(track.share[i])
    back = track.share[track.between(takeaway.t_s, turn.t_s + 0.3)]
    if np.count_nonzero(back < d.LEAD_LIFTED) * GRID_S > 0.1:
        return None
    struck = _strike(strikes, turn.t_s)
    force_s, range_ = _force_peak(track, turn.t_s)
    after = track.share[track.between(turn.t_s, turn.t_s + d.PEAK_S[1])]
    rise = float(after.max(initial=low)) - low
    quick = range_ >= d.FORCE_SWING and _rest_s(track, i) <= d.REST_S
    if rise >= d.CONFIRM_RISE and (quick or struck is not None):
        impact = Moment(force_s + d.PEAK_TO_IMPACT_S, "pressure", d.PEAK_DOUBT_S)
        if struck is not None:
            impact = Moment(struck, "strike sensor", d.STRIKE_DOUBT_S)
        kind, slow = Kind.SWING, 1.0
    else:
        slowly = _slow_impact(track, turn.t_s, takeaway.t_s, low)
        if slowly is None:
            return None
        impact, kind = slowly, Kind.REHEARSAL
        slow = max(1.0, (impact.t_s - takeaway.t_s) / 1.0)
    swing = Swing(0, setup.share, takeaway, turn, impact=_doubted(track, impact), kind=kind, slow=slow)
    swing.top, swing.top_range_s = top_of(takeaway, turn, impact, slow)
    swing.setup = Moment(setup.begin_s, "pressure", 0.15)
    swing.waggles = waggles_in(track, setup, takeaway.t_s)
    swing.finish, swing.end_s = _finish(track, impact.t_s, slow)
    return swing


def _doubted(track: Track, moment: Moment) -> Moment:
    return Moment(moment.t_s, moment.source, math.hypot(moment.doubt_s, track.gap_u_s(moment.t_s)))


def _turn(track: Track, i: int) -> Moment:
    """The lowest lead share, by a fit to both sides of it."""
    t, low = track.t_s, track.share[i]
    depth = 0.04
    left = right = i
    while left > 0 and track.share[left] < low + depth and t[i] - t[left] < 0.6:
        left -= 1
    while right < t.size - 1 and track.share[right] < low + depth and t[right] - t[i] < 0.6:
        right += 1
    reach = min(0.10, 0.4 * float(t[right] - t[left]))
    tries = np.arange(t[i] - reach, t[i] + reach, 0.004)
    cut = slice(left, right + 1)
    when, spread = turning(t[cut], track.share[cut], tries)
    if math.isnan(when):
        when, spread = float(t[i]), 0.03
    return _doubted(track, Moment(when, "pressure", math.hypot(0.002, spread)))


def _takeaway(track: Track, setup: Setup, turn: Moment) -> Moment | None:
    """When the share left the setup's, fitted backwards from the first part of the backswing."""
    cut = track.between(setup.end_s - 0.2, turn.t_s)
    t, depth = track.t_s[cut], setup.share - track.share[cut]
    if t.size < 20:
        return None
    whole = float(depth[-1])
    below = np.flatnonzero(depth < 0.40 * whole)
    if not below.size:
        return None
    last = int(below[-1]) + 1
    early = np.flatnonzero(depth[:last] < max(0.10 * whole, 3 * track.noise))
    left_s = float(t[early[-1]]) if early.size else float(t[0])
    span = float(turn.t_s - left_s)
    earliest_s = left_s - 0.4 * span
    begin_s = max(setup.begin_s, left_s - 0.6 * span - 0.1)
    # A forward press or a waggle just before goes the other way; the takeaway follows it, after the flattest place.
    still = track.between(max(setup.begin_s, begin_s - 0.8), begin_s)
    level = float(np.median(track.share[still])) if still.stop - still.start > 40 else setup.share
    before = track.between(begin_s, left_s)
    pressed = np.flatnonzero(track.share[before] > level + PRESS)
    if pressed.size:
        back_s = float(track.t_s[before][pressed[-1]])
        cut = track.between(back_s, max(left_s, back_s + 0.05))
        flattest = int(np.argmax(np.gradient(track.share[cut])))
        begin_s = float(track.t_s[cut][flattest]) - 0.02
        earliest_s = max(earliest_s, begin_s)
    fit = track.between(begin_s, float(t[min(last, t.size - 1)]))
    step = max(0.005, span / 150)
    when, spread = onset(track.t_s[fit], -track.share[fit], np.arange(earliest_s, left_s + 0.05, step))
    if math.isnan(when):
        when, spread = left_s - 0.1 * span, 0.1 * span
    return _doubted(track, Moment(when, "pressure", math.hypot(0.014 * max(1.0, span / 0.7), spread)))


def _rest_s(track: Track, i: int) -> float:
    """For how long the share stays near its lowest value."""
    away = np.flatnonzero(track.share > track.share[i] + d.REST_SHARE)
    k = int(np.searchsorted(away, i))
    first = int(away[k - 1]) if k > 0 else 0
    last = int(away[k]) if k < away.size else track.share.size - 1
    return (last - first) * GRID_S


def _strike(strikes: Sequence[tuple[float, float]], turn_s: float) -> float | None:
    """The strongest strike that a swing with this turn can have made."""
    low, high = d.STRIKE_WINDOW_S
    near = [(peak_, t) for t, peak_ in strikes if low <= t - turn_s <= high]
    return max(near)[1] if near else None


def _force_peak(track: Track, turn_s: float) -> tuple[float, float]:
    """When the vertical force peaks after the turn, and how far above its least about the turn, in body weights."""
    cut = track.between(turn_s + d.PEAK_S[0], turn_s + d.PEAK_S[1])
    if cut.stop - cut.start < 10:
        return math.nan, 0.0
    when, height = peak(track.t_s[cut], track.weights[cut])
    before = track.weights[track.between(turn_s - 0.2, when)]
    return when, height - float(before.min(initial=height))


def _slow_impact(track: Track, turn_s: float, takeaway_s: float, low: float) -> Moment | None:
    """Impact of a slow rehearsal, if it is one: when most of the shift to the lead side has been made."""
    back = turn_s - takeaway_s
    if not SLOW_BACK_S[0] <= back <= SLOW_BACK_S[1]:
        return None
    cut = track.between(turn_s, turn_s + SLOW_FORTH_S)
    t, share = track.t_s[cut], track.share[cut]
    if t.size < 100:
        return None
    high = float(share.max())
    if high < d.SLOW_SHARE:
        return None
    reached = float(t[int(np.argmax(share >= low + 0.85 * (high - low)))])
    if not 0.3 < reached - turn_s < SLOW_FORTH * back:
        return None
    held = track.between(reached + 0.1, reached + SLOW_FINISH_S)
    toes = track.position[held, 1] - track.position[held, 0]
    on_lead = track.share[held] > d.SLOW_SHARE - 0.05
    with np.errstate(invalid="ignore"):
        good = on_lead & (toes >= d.SLOW_TOES)
    if np.count_nonzero(good) * GRID_S < SLOW_HELD_S:
        return None
    return Moment(reached, "estimate", 0.2 * (reached - turn_s))


def _finish(track: Track, impact_s: float, slow: float) -> tuple[Moment | None, float]:
    """When the finish was reached, and when it was over."""
    late = track.between(impact_s + 0.45 * slow, impact_s + 0.75 * slow)
    if late.stop - late.start < 10:
        return None, float(track.t_s[-1])
    level = float(np.median(track.share[late]))
    cut = track.between(impact_s + 0.08, impact_s + 0.75 * slow)
    near = np.abs(track.share[cut] - level) <= 0.03
    reached = float(track.t_s[cut][int(np.argmax(near))]) if near.any() else impact_s + 0.45 * slow
    held = track.between(reached, reached + 20.0)
    leaves = (np.abs(track.share[held] - level) > 0.08) | (np.abs(track.weights[held] - 1.0) > 0.2)
    settled = int(np.argmin(leaves))
    gone = np.flatnonzero(leaves[settled:])
    end_s = float(track.t_s[held][settled + gone[0]]) if gone.size else float(track.t_s[held][-1])
    return Moment(reached, "pressure", 0.08 * slow), end_s
