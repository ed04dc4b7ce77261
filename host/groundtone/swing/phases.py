"""The swings of a recording with their events: the review form (zero-phase) of `swing.definition`.

Which movements were swings the live form says (`swing.tracker`), so that what was ticked is also found. Here the whole
stand is in view: smoothing has no delay, the takeaway is fitted backwards from the backswing, and impact is told by the
peak of the vertical force or by the strike sensor.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from groundtone.pressure.series import Series
from groundtone.swing import definition as d
from groundtone.swing.events import Kind, Moment, Swing
from groundtone.swing.from_evidence import LEAST_PUSH
from groundtone.swing.onset import onset, peak, turning
from groundtone.swing.peak_lead import own_lead
from groundtone.swing.steady import Setup, setup_before, waggles_in
from groundtone.swing.top import top_of
from groundtone.swing.track import GRID_S, Track, track_of
from groundtone.swing.tracker import SwingTracker

SLOW_FORTH_S = 6.0
# Part of the time in which the share has moved as far as it wanders that is left open (chosen on the twin).
UNSEEN = 0.35
# Chosen on the twin: see `_drifted`; how far back a turn and a takeaway may lie at full speed, s.
SQUARE_S, SQUARE_U_S, TURN_BACK_S, LONG_BACK_S = 0.025, 0.012, 1.1, 1.3
# Who settled once more before the ball did so this long before the longest backswing; a rest at the turn is longer, s.
AGAIN_S, RESTS_S = 0.4, 0.3
# Where pressure does not turn, the takeaway is hardly to be seen in it.
UNTURNED_U_S = 0.30
# From a chip's takeaway to impact, s (from memory: 0.5 to 0.8).
CHIP_S = 0.70
_BLOCK = 8192
# The share goes this far above the setup's in a forward press.
PRESS = 0.010


def find_swings(series: Series, putts_s: Sequence[tuple[float, float]] = ()) -> list[Swing]:
    """The swings of a recording, in order of time.

    Which they are the live form decides, from the same frames; their events are then fitted, all of the stand in view.

    Parameters
    ----------
    series : Series
    putts_s : sequence of (float, float)
        From when to when a putter was in hand, s of device time.

    Returns
    -------
    list of Swing
        With strikes in the series, swings at full speed without one are practice swings; without any strike nothing
        tells the two apart and all are swings.
    """
    tracked = follow(series, putts_s)[0]
    swings: list[Swing] = []
    stands = [(stand, track) for stand in series.stands if (track := track_of(series, stand)) is not None]
    inside = [
        [s for s in tracked if s.impact is not None and stand.begin_s <= s.impact.t_s <= stand.end_s]
        for stand, _ in stands
    ]
    lead = own_lead([_lead_of(track, s) for (_, track), own in zip(stands, inside, strict=True) for s in own])
    for (stand, track), own in zip(stands, inside, strict=True):
        found = [_refined(track, swing, lead) for swing in own]
        if found:
            found[-1].step_off = Moment(stand.end_s, "pressure", 0.02)
        swings += found
    heard = any(swing.impact is not None and swing.impact.source == "strike sensor" for swing in swings)
    for number, swing in enumerate(swings, start=1):
        swing.number = number
        if heard and swing.kind is Kind.SWING and swing.impact_unsure:
            swing.kind = Kind.PRACTICE
    return swings


def follow(series: Series, putts_s: Sequence[tuple[float, float]] = ()) -> tuple[list[Swing], list[float]]:
    """What the live form makes of a recording's frames: its swings, and the strikes for which it saw none, s.

    `putts_s` as in `find_swings`.
    """
    tracker = SwingTracker()
    strikes = deque(sorted(series.strikes))
    with np.errstate(invalid="ignore"):
        weights = series.total_n / series.weight_n
    toes = series.position[:, series.trail] - series.position[:, series.lead]
    swings, unseen = [], []
    for t_s, share, weight, toe in _plain(series.t_s, series.share, weights, toes):
        struck, peak_ = strikes.popleft() if strikes and strikes[0][0] <= t_s else (None, math.nan)
        if putts_s:
            tracker.putting = any(begin <= t_s < end for begin, end in putts_s)
        step = tracker.step(t_s, share, strike_s=struck, strike_peak=peak_, weights=weight, toes=toe)
        if step.ended is not None:
            swings.append(step.ended)
        if step.unseen_s is not None and not step.faint:
            unseen.append(step.unseen_s)
    return swings, unseen


def _plain(*columns: NDArray[np.float64]) -> Iterator[tuple[float, ...]]:
    """Rows of plain numbers, quicker one by one than those of an array; in blocks, for they are four times as large."""
    for at in range(0, len(columns[0]), _BLOCK):
        yield from zip(*(column[at : at + _BLOCK].tolist() for column in columns), strict=True)


def _lead_of(track: Track, swing: Swing) -> float:
    """How long before impact the force peaked, where a sensor told impact; NaN elsewhere."""
    if swing.impact is None or swing.impact_unsure:
        return math.nan
    peak_s, range_ = _force_peak(track, swing.impact.t_s)
    return swing.impact.t_s - peak_s if range_ >= LEAST_PUSH else math.nan


def _refined(track: Track, live: Swing, lead: tuple[float, float]) -> Swing:
    """The swing with its events fitted on the smoothed stand; what cannot be fitted stays as the live form told it.

    Parameters
    ----------
    lead : (float, float)
        How long the golfer's force peaks before impact, and the doubt of that, s.
    """
    assert live.impact is not None
    end_s = live.impact.t_s
    setup = setup_before(track, end_s, live)
    turn = _turn_before(track, setup, live)
    takeaway = _takeaway(track, setup, turn) if turn is not None else None
    if turn is not None and takeaway is not None and live.slow == 1.0:
        setup, takeaway = _within_reach(track, setup, takeaway, turn)
    if takeaway is None:
        takeaway = _takeaway_without_turn(track, setup, end_s)
    impact = live.impact
    slow = live.slow
    if impact.source != "strike sensor" and slow == 1.0:
        force_s, range_ = _force_peak(track, impact.t_s)
        if range_ >= LEAST_PUSH:
            impact = Moment(force_s + lead[0], "pressure", lead[1])
    kind = live.kind
    if kind is Kind.PUTT:
        putt = replace(live, setup=Moment(setup.begin_s, "pressure", 0.15), heard=[])
        putt.finish, putt.end_s = _finish(track, impact.t_s, slow)
        return putt
    if kind is Kind.REHEARSAL and turn is not None:
        impact = _slow_impact(track, turn.t_s, float(np.interp(turn.t_s, track.t_s, track.share))) or impact
        slow = max(1.0, impact.t_s - takeaway.t_s)
    swing = Swing(0, setup.share, takeaway, turn, impact=_doubted(track, impact), kind=kind, slow=slow)
    if turn is not None:
        swing.top, swing.top_range_s = top_of(takeaway, turn, impact, slow)
    else:
        swing.top, swing.top_range_s = top_of(takeaway, None, impact, slow)
    swing.setup = Moment(setup.begin_s, "pressure", 0.15)
    swing.waggles = waggles_in(track, setup, takeaway.t_s)
    swing.finish, swing.end_s = _finish(track, impact.t_s, slow)
    return swing


def _turn_before(track: Track, setup: Setup, live: Swing) -> Moment | None:
    """When pressure stopped going to the trail side; None where it hardly went there."""
    assert live.impact is not None
    back_s = 6.0 if live.slow > 1.0 else TURN_BACK_S
    cut = track.between(max(setup.end_s - 0.1, live.impact.t_s - back_s), live.impact.t_s)
    if cut.stop - cut.start < 10:
        return None
    i = cut.start + int(np.argmin(track.share[cut]))
    if setup.share - float(track.share[i]) < d.TURN_FALL or float(track.t_s[i]) > live.impact.t_s - 0.04:
        return None
    # Who rests at the turn, as drills ask for, turns where the rest ends.
    near = np.flatnonzero(track.share[i : cut.stop] > track.share[i] + d.REST_SHARE)
    rest_s = float(near[0]) * GRID_S if near.size else 0.0
    if rest_s > RESTS_S:
        last = track.between(float(track.t_s[i]), float(track.t_s[i]) + rest_s)
        i = last.stop - 1
        return _doubted(track, Moment(float(track.t_s[i]) - 0.05, "pressure", 0.05))
    return _turn(track, i)


def _within_reach(track: Track, setup: Setup, takeaway: Moment, turn: Moment) -> tuple[Setup, Moment]:
    """Setup and takeaway of a swing at full speed, no longer before the turn than the longest backswing.

    What left the setup earlier was no backswing: somebody settled at another share, and began from there. Who rests at
    the turn was as far back as there already.
    """
    latest_s = turn.t_s - LONG_BACK_S
    stood = track.share[track.between(latest_s - AGAIN_S, latest_s)]
    if takeaway.t_s >= latest_s or stood.size < 20:
        return setup, takeaway
    level = float(np.median(stood))
    before, low = np.interp([turn.t_s - RESTS_S, turn.t_s], track.t_s, track.share).tolist()
    if before <= low + d.REST_SHARE or level - low < d.TURN_FALL:
        return setup, takeaway
    again = Setup(latest_s - AGAIN_S, latest_s, level)
    return again, _takeaway(track, again, turn) or takeaway


def _takeaway_without_turn(track: Track, setup: Setup, impact_s: float) -> Moment:
    """When the movement began, where the share did not go to the trail side: when share or force left stillness."""
    cut = track.between(max(setup.end_s - 0.2, impact_s - LONG_BACK_S - d.TURN_TO_IMPACT_S), impact_s)
    t, share, weights = track.t_s[cut], track.share[cut], track.weights[cut]
    if t.size < 20:
        return Moment(impact_s - 1.0, "estimate", 0.25)
    quiet = slice(0, 40)
    noise = max(float(share[quiet].std()), 0.004), max(float(weights[quiet].std()), 0.004)
    moved = np.abs(share - np.median(share[quiet])) / noise[0] + np.abs(weights - np.median(weights[quiet])) / noise[1]
    first = np.flatnonzero(moved > 8.0)
    begin_s = float(t[first[0]]) - 0.15 if first.size else impact_s - 1.0
    # What is seen is a movement well under way: a chip begins about so long before impact, all others earlier.
    return _doubted(track, Moment(min(begin_s, impact_s - CHIP_S), "pressure", UNTURNED_U_S))


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
    return _doubted(track, Moment(when, "pressure", math.hypot(0.0035, spread)))


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
    # Whoever wanders before it may have begun at any time at which the backswing's square of time was still as small as
    # the wandering.
    rest = track.share[track.between(max(setup.begin_s, when - 1.2), when - 0.05)]
    wanders = float(rest.std()) if rest.size > 20 else _scatter(track)
    unseen_s = UNSEEN * span * math.sqrt(wanders / max(whole, 0.03))
    late_s = _drifted(track, when, turn.t_s)
    # Nobody's backswing at full speed is longer than that: something else came before it.
    long_s = max(0.0, turn.t_s - when - LONG_BACK_S)
    u = math.hypot(0.010 * max(1.0, span / 0.7), spread, unseen_s, 1.2 * late_s, long_s)
    return _doubted(track, Moment(when + late_s, "pressure", u))


def _drifted(track: Track, takeaway_s: float, turn_s: float) -> float:
    """How much later the backswing's own speed says that it began, s; 0 where both agree.

    A slow drift just before a takeaway is fitted as its beginning. From a tenth to four tenths of the way a square of
    time tells the same moment again, of the backswing alone: it comes out `SQUARE_S` early when nothing drifted.
    """
    cut = track.between(takeaway_s - 0.1, turn_s)
    t, share = track.t_s[cut], track.share[cut]
    if t.size < 20:
        return 0.0
    depth = float(track.share[track.between(takeaway_s - 0.15, takeaway_s)].mean()) - share
    tenth, more = (np.flatnonzero(depth < part * depth[-1]) for part in (0.1, 0.4))
    if not (tenth.size and more.size):
        return 0.0
    told_s = 2 * float(t[tenth[-1]]) - float(t[more[-1]])
    return float(min(max(told_s + SQUARE_S - takeaway_s - SQUARE_U_S, 0.0), 0.25))


def _scatter(track: Track) -> float:
    """What a share wanders where nobody could stand still before the swing (invented)."""
    return max(0.01, track.noise)


def _force_peak(track: Track, impact_s: float) -> tuple[float, float]:
    """When the vertical force peaks about impact, and how far above its least before, in body weights."""
    cut = track.between(impact_s - 0.22, impact_s + 0.15)
    if cut.stop - cut.start < 10:
        return math.nan, 0.0
    when, height = peak(track.t_s[cut], track.weights[cut])
    before = track.weights[track.between(when - 0.5, when)]
    return when, height - float(before.min(initial=height))


def _slow_impact(track: Track, turn_s: float, low: float) -> Moment | None:
    """Impact of a slow rehearsal: when most of the shift to the lead side has been made."""
    cut = track.between(turn_s, turn_s + SLOW_FORTH_S)
    t, share = track.t_s[cut], track.share[cut]
    if t.size < 100:
        return None
    high = float(share.max())
    reached = float(t[int(np.argmax(share >= low + 0.85 * (high - low)))])
    return Moment(reached, "estimate", 0.2 * (reached - turn_s)) if reached > turn_s + 0.3 else None


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
    # Until the feet carry the body again the force swings back below the weight: that is no leaving.
    settled_by = track.t_s[held] >= impact_s + 0.45 * slow
    leaves = (np.abs(track.share[held] - level) > 0.08) | (settled_by & (np.abs(track.weights[held] - 1.0) > 0.2))
    settled = int(np.argmin(leaves))
    gone = np.flatnonzero(leaves[settled:])
    end_s = float(track.t_s[held][settled + gone[0]]) if gone.size else float(track.t_s[held][-1])
    return Moment(reached, "pressure", 0.08 * slow), end_s
