"""The drill's band fitted to a pupil from a pair of swings: halfway between what the clean and the poor one showed."""

from __future__ import annotations

import math
from dataclasses import replace

from groundtone.cue.bands import Bands
from groundtone.lesson.pair import Pair

# Which limit of the cues a measure belongs to, and on which side of it is silence.
_LIMITS = {
    "overall_setup": ("toes_before", "below"),
    "overall_most_down": ("toes_after", "below"),
    "overall_down": ("toes_after", "below"),
    "share_impact": ("trail", "above"),
}
# No drill goes beyond what anybody can do (invented).
_LEAST, _MOST = 0.30, 0.90


def fitted(pair: Pair, bands: Bands) -> tuple[Bands, str]:
    """The bands for the drill, and a sentence; the bands as they were where the pair says nothing of a cue.

    Parameters
    ----------
    pair : Pair
    bands : Bands
        In force so far.
    """
    looked = pair.looked
    if looked is None or looked.name not in _LIMITS:
        what = looked.words if looked is not None else "what tells the two apart"
        return bands, f"No tone goes with {what}: the bands stay as they are."
    name, silent = _LIMITS[looked.name]
    clean, poor = (row.values.get(looked.name, math.nan) for row in (pair.clean, pair.poor))
    worse = poor > clean if silent == "below" else poor < clean
    if math.isnan(clean) or math.isnan(poor) or not worse:
        return bands, "The poor swing does not lie on the side where a tone would sound: the bands stay as they are."
    limit = round(min(_MOST, max(_LEAST, (clean + poor) / 2)), 2)
    changed: Bands = replace(bands, **{name: limit})  # type: ignore[arg-type]
    return changed, (
        f"For the drill the tone begins at {looked.told(limit)} of {looked.words}, halfway between the two."
    )
