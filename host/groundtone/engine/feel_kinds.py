"""Which kinds of blocks ask or tell something, and what does it."""

from __future__ import annotations

from groundtone.engine.feel_block import Asker, FeelBlock, FeelWish, Guesser, OverThing
from groundtone.engine.height_block import HeightAsker
from groundtone.feel.lines import HEIGHT
from groundtone.mat.layout import RIGHT


def feel_block(kind: str, wish: FeelWish, thing: str = "", trail: int = RIGHT) -> FeelBlock | None:
    """What a block of a kind needs; None where it asks and tells nothing.

    Parameters
    ----------
    thing : str
        What lies on the ground in a drill; see `groundtone.swing.ground`.
    trail : int
        The trail foot's panel.
    """
    if kind == "drill" and thing:
        return OverThing(thing, trail)
    if kind == "purpose" and wish.lines == HEIGHT:
        return HeightAsker(wish)
    return Asker(wish) if kind == "purpose" else Guesser(wish) if kind == "guess" else None
