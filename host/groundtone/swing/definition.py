"""What a swing is: one set of numbers for both forms, the live one (`tracker`) and the one for review (`phases`).

A swing leaves a steady setup, goes at least BACK_SHARE towards the trail side, turns, and comes back faster than
shifting from foot to foot does, with more vertical force than standing takes, or the ball is struck. All numbers are
common practice or chosen on the twin; none is a law.
"""

# Setup: the lead share keeps within STEADY_SHARE for STEADY_S, and both feet carry (a held finish is steady too).
STEADY_S = 0.6
STEADY_SHARE = 0.06
SETUP_SHARES = (0.35, 0.70)
# Backswing: it has begun when the share is this far below the setup's, and was one if it came this far.
LEAVE_SHARE = 0.07
BACK_SHARE = 0.12
BACKSWING_LIMIT_S = 9.0
# Full swings do not rest at the turn: the share is this near its lowest value for no longer than this.
REST_SHARE, REST_S = 0.02, 0.55
# Whoever lifts the lead foot walks: the share falls below this.
LEAD_LIFTED = 0.03
# After the turn a swing, not a sway: the share rises by CONFIRM_RISE within CONFIRM_S, or the ball is struck.
CONFIRM_RISE = 0.10
CONFIRM_S = 0.6
# Vertical force of a swing at full speed, from its least about the turn to its peak, in body weights; shifting from
# foot to foot stays well below.
FORCE_SWING = 0.15
# The peak of the vertical force comes this long before impact (from memory: most of it on the lead foot near impact).
# Golfers differ, from 0.1 s before it to after it, and each keeps to a peak of their own: the doubt until that is
# learnt from swings with the sensor (`peak_lead`), and how far a golfer's own peaks are believed to lie apart.
PEAK_TO_IMPACT_S, PEAK_DOUBT_S, OWN_PEAK_S = 0.03, 0.038, 0.012
# At full speed the force peaks this long after the turn.
PEAK_S = (0.10, 0.95)
# A strike counts this long after the turn; the next bay's mostly do not.
STRIKE_WINDOW_S = (0.08, 1.2)
STRIKE_DOUBT_S = 0.002
# The turn leads the top by 0-0.25 s in skilled players; usual length from top to impact (Grober and Cholewicki).
TURN_LEAD_S = (0.0, 0.25)
DOWNSWING_S = 0.25
TURN_TO_IMPACT_S = 0.36
# Backswing over downswing, about 3 in full swings (Grober and Cholewicki) and less in short ones: the middle and the
# spread of its logarithm (from memory and invented).
TEMPO, TEMPO_SPREAD = 2.8, 0.26
# Some turn earlier or later than TURN_LEAD_S: so wide, and so much less likely (invented).
RARE_LEAD_S, RARE_LEAD = (-0.05, 0.45), 0.10
# The swing is over this long after impact.
FINISH_S = 1.3
# Without force it was a slow rehearsal if it ended this far on the lead side, with the trail foot this much further on
# its toes than the lead foot: who shifts from foot to foot stays flat.
SLOW_SHARE = 0.62
SLOW_TOES = 0.20
# It stands there for so long, and comes across no faster than this and no slower than so many times the way back.
SLOW_HELD_S, SLOW_ACROSS_S, SLOW_FORTH = 0.4, 0.22, 1.3
# The share came across so fast that it was a downswing, whatever went before: so much within this time.
QUICK_RISE, QUICK_S = 0.10, 0.22
# And with so much force, body weights.
QUICK_PUSH = 0.08
# Who has stood still for so long in the backswing has settled there: a new setup, not a pause (drills pause up to
# 1.5 s).
SETTLED_S, SETTLED_SHARE = 2.0, 0.03
# Far back, where drills ask for a pause and everything is slow, that takes longer.
FAR_BACK, SETTLED_BACK_S = 0.15, 3.1
# A setup's level follows no share that goes one way by this much within STEADY_S.
DRIFT_SHARE = 0.02
# A quick rise counts from a setup that was left no longer ago than this.
ALSO_STEADY_S = 1.2
# A turn of pressure is claimed where the share fell by so much from the setup's.
TURN_FALL = 0.05
# A burst, a strike and what the phases followed belong to one swing while they lie no further apart than this.
ONE_SWING_S = 0.6
