"""Fitting the tone to the pair that Review shows: an act of its own, with what it replaces and how to undo it."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from groundtone.app.window import jobs
from groundtone.app.window.places.place import Common

if TYPE_CHECKING:
    from groundtone.review.swings import RecordedSession


class ToneFit:
    """Puts a fitted tone in force, for the pupil who is here and nobody else."""

    def __init__(self, common: Common) -> None:
        self._common = common

    def of_this_walk_in(self, view: RecordedSession) -> bool:
        """A session of the walk-in who is here: nobody is named, and it is of this lesson."""
        pupil = self._common.pupil
        return not view.golfer and not pupil.name and str(view.path) in pupil.paths

    def fit(self, view: RecordedSession | None, found: jobs.PairView | None) -> None:
        """Fits the tone to a pair of a session; says why where it does not."""
        common = self._common
        if found is None or view is None or found.bands is None:
            common.say("First look at the pair: the tone is fitted halfway between its two swings.", True)
        elif self.of_this_walk_in(view):
            common.undo.add("the tone", partial(setattr, common.pupil, "bands", common.pupil.bands))
            common.pupil.bands = found.bands
            common.say(f"{_replaced(found)} for this walk-in alone; Undo puts it back.", False)
        elif not view.golfer or view.golfer != common.pupil.name:
            who = view.golfer or "a walk-in of another time"
            common.say(f"This is a session of {who}: choose that pupil first, nothing was changed.", True)
        elif common.practising:
            common.say("A practice runs: end it first, then the tone can be fitted.", True)
        else:
            done = partial(self._kept, view.golfer, found)
            common.desk.do(jobs.keep_limits, view.golfer, found.limits, done=done, failed=self._failed)

    def _kept(self, golfer: str, found: jobs.PairView, before: jobs.Limits) -> None:
        self._common.undo.add("the tone", partial(self._put_back, golfer, before))
        self._common.say(f"{_replaced(found)} for {golfer}; Undo puts it back.", False)

    def _put_back(self, golfer: str, limits: jobs.Limits) -> None:
        self._common.desk.do(jobs.keep_limits, golfer, limits, done=lambda _: None, failed=self._failed)

    def _failed(self, text: str) -> None:
        self._common.say(text, True)


def _replaced(found: jobs.PairView) -> str:
    two = [(new, found.before.get(name)) for name, new in found.limits.items()]
    parts = [f"{new:.0%} instead of {old:.0%}" for new, old in two if new is not None and old is not None]
    return f"The tone begins at {', '.join(parts).replace('%', ' %')}"
