"""Where the band should be for a golfer, by their own strikes: what is proposed, and putting it in force as an act."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from groundtone.cue.personal import Limits, Own, exchange, read_personal
from groundtone.errors import GroundtoneError
from groundtone.feel.strike_model import BANDS, Proposal, StrikeModel, learn

if TYPE_CHECKING:
    # A quarter of a second to be loaded.
    from groundtone.review.feel_log import StruckBalls

# The cues' bands that are an edge of each axis' band, and which edge: 0 the lower one, 1 the upper one.
_EDGES = {"position": (("toes_after", 1), ("heels_after", 0)), "share": (("trail", 0),)}


@dataclass(frozen=True)
class Proposed:
    """A band that speaks clearly for another place.

    Attributes
    ----------
    club : str
        Class of clubs whose balls say so; empty: the club was not told, it is for all.
    limits : dict of str to float
        Of the cues' bands, as they would be.
    """

    club: str
    proposal: Proposal
    limits: Mapping[str, float]


def models(struck: Mapping[str, StruckBalls]) -> dict[str, StrikeModel]:
    """A golfer's model of strikes by class of clubs."""
    return {club: learn(where, good) for club, (where, good) in struck.items()}


def proposed(found: Mapping[str, StrikeModel]) -> list[Proposed]:
    """What the models propose: often nothing."""
    out = []
    for club, model in found.items():
        for axis, edges in BANDS.items():
            proposal = model.propose(axis) if model.enough else None
            if proposal is not None and proposal.moved:
                by = proposal.proposed - proposal.usual
                limits = {band: round(edges[edge] + by, 4) for band, edge in _EDGES[axis]}
                out.append(Proposed(club, proposal, limits))
    return out


def put_in_force(golfer: str, wanted: Sequence[Proposed]) -> tuple[Limits, list[str]]:
    """Sets a golfer's bands to what is proposed; locked ones stay.

    Returns
    -------
    limits, sentences
        What `exchange` takes to put it back, and what was changed from what to what.

    Raises
    ------
    GroundtoneError
        Nothing is proposed, or all of it is locked; or the file cannot be read or written.
    """
    personal = read_personal(golfer)
    fresh: dict[str, dict[str, Own | None]] = {}
    told, locked = [], []
    for each in wanted:
        before = personal.rules(club=each.club)
        for band, limit in each.limits.items():
            if band in personal.locked:
                locked.append(band)
                continue
            fresh.setdefault(each.club, {})[band] = Own(limit, "coach")
            what = f"{band}{f' with {each.club}s' if each.club else ''}"
            told.append(f"{what}: {100 * limit:.0f} % now, {100 * before.band(band).limit:.0f} % before.")
    if not fresh:
        raise GroundtoneError(
            f"what is proposed is locked ({', '.join(locked)}): free it with 'groundtone bands lock --off'" if locked
            else "nothing speaks clearly for another band: nothing was changed"
        )  # fmt: skip
    told += [f"Locked, so left as they are: {', '.join(locked)}."] if locked else []
    return exchange(golfer, fresh), told


def taken_back(golfer: str) -> list[str]:
    """Puts back what the last act of `put_in_force` took the place of; the bands.

    Raises
    ------
    GroundtoneError
        There is none, or the file cannot be read or written.
    """
    undo = read_personal(golfer).undo
    if not undo:
        raise GroundtoneError(f"no proposed band of {golfer!r} was set: there is nothing to take back")
    exchange(golfer, undo)
    return list(_names(undo))


def _names(limits: Limits) -> Iterable[str]:
    return dict.fromkeys(band for bands in limits.values() for band in bands)
