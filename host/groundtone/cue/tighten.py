"""Bands that follow success: a step tighter when most of the last swings kept to them, a step back when they do not.

The rule is in rules.toml, [tighten]. Each cue is counted for itself; after a change its count begins anew. No limit
goes beyond its `tightest`, none comes back beyond where it began, and a locked band stays where it is.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass

from groundtone.cue.rulebook import Band, Rule, Rulebook

_SAID = {
    "toes_setup": "toes at setup",
    "toes_before": "toes in the backswing",
    "toes_after": "toes, after the turn",
    "toes_lead": "toes of the lead foot",
    "trail": "trail side",
    "heels_before": "heels, up to the turn",
    "heels_after": "heels, after the turn",
    "slide": "slide",
    "finish": "finish",
}


def words_for(band: Band) -> str:
    """What a band is called where a person reads or hears it."""
    return _SAID.get(band.name, band.name)


@dataclass(frozen=True)
class Change:
    """A band that has moved.

    Attributes
    ----------
    before, after : float
        Its limit.
    counted, of : int
        So many of so many swings kept to it (tighter) or did not (wider).
    """

    band: str
    before: float
    after: float
    tighter: bool
    counted: int
    of: int
    sentence: str


class Tightener:
    """Counts swings and moves the bands.

    Parameters
    ----------
    book : Rulebook
        The rules as the session begins; nothing comes back beyond them, or beyond where an earlier session began.
    """

    def __init__(self, book: Rulebook) -> None:
        self._start = {band.name: band.limit if math.isnan(band.start) else band.start for band in book.bands()}
        self.book = book
        self._last: dict[str, deque[bool]] = {}

    def swing(self, out: Mapping[str, bool]) -> list[Change]:
        """A swing is over.

        Parameters
        ----------
        out : mapping of cue to bool
            Whether the cue was out of its band in this swing, heard or not; what is not named was not.

        Returns
        -------
        list of Change
            Bands that have moved by that; `book` holds them.
        """
        settings = self.book.tighten
        changes: list[Change] = []
        if not settings.on:
            return changes
        for rule in self.book.rules:
            if not rule.on:
                continue
            last = self._last.setdefault(rule.name, deque(maxlen=settings.of))
            last.append(not out.get(rule.name, False))
            inside, outside = sum(last), len(last) - sum(last)
            if inside >= settings.inside:
                moved = self._moved(rule, settings.step, inside, len(last))
            elif outside >= settings.outside:
                moved = self._moved(rule, -settings.step, outside, len(last))
            else:
                continue
            # What cannot move any further goes on being counted, so that it eases as soon as it has to.
            if moved:
                last.clear()
                changes += moved
        if changes:
            self.book = self.book.with_limits({change.band: change.after for change in changes})
        return changes

    def _moved(self, rule: Rule, step: float, counted: int, of: int) -> list[Change]:
        out = []
        for band in rule.bands:
            if not band.movable or band.name in self.book.locked:
                continue
            fresh = band.moved(step)
            if step < 0:
                start = self._start[band.name]
                fresh = band.at(min(fresh.limit, start) if band.upper else max(fresh.limit, start))
            if fresh.limit != band.limit:
                sentence = _sentence(band, fresh, step > 0, counted, of)
                out.append(Change(band.name, band.limit, fresh.limit, step > 0, counted, of, sentence))
        return out


def _sentence(before: Band, after: Band, tighter: bool, counted: int, of: int) -> str:
    what = "tightened" if tighter else "eased"
    why = "kept to it" if tighter else "did not keep to it"
    return (
        f"Band {what}: {words_for(before)}, {'at most' if after.upper else 'at least'} {100 * after.limit:.0f} % now, "
        f"{100 * before.limit:.0f} % before; {counted} of the last {of} swings {why}."
    )
