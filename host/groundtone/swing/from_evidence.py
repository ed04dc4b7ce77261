"""A swing as the evidence alone tells it: where the phases were not followed, and for struck balls of any shape."""

from __future__ import annotations

from groundtone.swing.definition import (
    DOWNSWING_S,
    PEAK_DOUBT_S,
    PEAK_TO_IMPACT_S,
    STRIKE_DOUBT_S,
    TURN_FALL,
    TURN_TO_IMPACT_S,
)
from groundtone.swing.events import Moment, Swing
from groundtone.swing.evidence import Evidence

# A strike where the swing's impact would be makes it much likelier; the next bay's strikes come at any time, so it is
# no proof. What it adds to the logarithm of the odds, as loud as the golfer's own or fainter, and how near it must be.
STRIKE_ODDS, FAINT_ODDS, STRIKE_NEAR_S = 7.0, 4.5, 0.17
# With less push than this the fastest rise of the share tells impact better than the force's peak.
LEAST_PUSH = 0.06
RISE_TO_IMPACT_S, RISE_DOUBT_S = 0.06, 0.07
# Between the setup and the turn, or the burst, lies the backswing; the setup's end is known to about this.
TAKEAWAY_DOUBT_S = 0.15


def impact_of(at_s: float, seen: Evidence) -> Moment:
    """Impact as pressure tells it: by the force's peak, or by the share's fastest rise where there is little force."""
    if seen.push >= LEAST_PUSH:
        return Moment(at_s + seen.peak_s + PEAK_TO_IMPACT_S, "pressure", PEAK_DOUBT_S)
    return Moment(at_s + seen.fastest_s + RISE_TO_IMPACT_S, "pressure", RISE_DOUBT_S)


def swing_from(number: int, at_s: float, seen: Evidence, strike_s: float | None = None) -> Swing:
    """A swing around a burst of movement.

    Parameters
    ----------
    number : int
    at_s : float
        The burst's middle (or the strike's moment), s of device time.
    seen : Evidence
    strike_s : float, optional
        A strike that belongs to it.
    """
    impact = impact_of(at_s, seen)
    if strike_s is not None:
        impact = Moment(strike_s, "strike sensor", STRIKE_DOUBT_S)
    still_s = at_s + seen.still_s
    takeaway_s = min(max(still_s, impact.t_s - 2.5), impact.t_s - 0.4)
    turn = None
    if seen.fall >= TURN_FALL:
        turn = Moment(min(at_s + seen.least_s, impact.t_s - 0.05), "pressure", 0.03)
        takeaway_s = min(takeaway_s, turn.t_s - 0.15)
    top_s = max(impact.t_s - DOWNSWING_S, turn.t_s if turn is not None else impact.t_s - TURN_TO_IMPACT_S)
    top = Moment(top_s, "estimate", 0.08)
    return Swing(number, seen.setup_share, Moment(takeaway_s, "pressure", TAKEAWAY_DOUBT_S), turn, top, impact)
