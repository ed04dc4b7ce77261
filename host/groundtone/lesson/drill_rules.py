"""The rules of the cues while a drill is practised: the drill's cue is on, and its limit is the drill's."""

from __future__ import annotations

import math

from groundtone.cue.rulebook import Rulebook
from groundtone.cue.rulefile import default_rules
from groundtone.lesson.drills import Drill

# Which band of the rules a drill's measure is watched by while the swing goes on. A held finish has none: its band is
# about how far the share moves, and a drill's about how long it stays.
_WATCHED = {
    ("toes", "overall_most_down"): "toes_after",
    ("toes", "overall_setup"): "toes_before",
    ("trail side", "share_impact"): "trail",
    ("heels", "overall_least_down"): "heels_after",
    ("slide", "side_shift"): "slide",
}


def rules_in_drill(drill: Drill, book: Rulebook) -> Rulebook:
    """A golfer's rules as they are while a drill is practised.

    The drill's cue is switched on. Its limit is set where the golfer has the program's own; a limit that was learnt,
    set or tightened for this golfer stays, and so does a locked one.

    Parameters
    ----------
    drill : Drill
    book : Rulebook
        As `groundtone.cue.personal.bands_for` gives it.
    """
    if not drill.rule:
        return book
    out = book.switched(**{drill.rule.replace(" ", "_"): True})
    name = _WATCHED.get((drill.rule, drill.measure))
    if name is None or name in book.locked or book.band(name).limit != default_rules().band(name).limit:
        return out
    limit = drill.high if math.isfinite(drill.high) else drill.low
    return out.with_limits({name: limit})
