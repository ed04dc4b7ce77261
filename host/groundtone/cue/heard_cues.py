"""What the golfer hears of their swings: rules, what of them is let through, and how success changes them."""

from __future__ import annotations

import math

from groundtone.cue.bands import Bands
from groundtone.cue.gate import CueGate, Fading
from groundtone.cue.rulebook import Rulebook
from groundtone.cue.rules import CueRules, CueSizes
from groundtone.cue.stillness import Stillness
from groundtone.cue.tighten import Change, Tightener
from groundtone.swing.definition import TURN_TO_IMPACT_S
from groundtone.swing.events import Phase, Swing

_AFTER_TURN = (Phase.DOWNSWING, Phase.FINISH)
_SWING = (Phase.BACKSWING, Phase.DOWNSWING, Phase.FINISH)


class HeardCues:
    """Follows one golfer's swings.

    Attributes
    ----------
    out : set of str
        Cues that have been out of their band in the swing under way, heard or not.
    rehearsing : bool
        Slow swings sound. Who waits shifts about as slowly, so the engine allows it only to those who rehearse.
    patient : bool
        A drill is practised, at half speed perhaps: the trail side waits until the share has come across or stopped.
    trusting : bool
        Whoever drives this knows by itself when a tone may sound (one panel alone: `groundtone.engine.one_foot`).
    now : CueSizes
        Those that are out with this frame, heard or not.
    """

    def __init__(self, rules: Rulebook | Bands | None = None) -> None:
        self._rules = CueRules(rules)
        self._tightener = Tightener(self._rules.book)
        self._fading = Fading(self._rules.book.fade)
        self._gate = CueGate(self._rules.book, self._fading)
        self._sounding: dict[str, float] = {}
        self._before: list[tuple[str, float, float]] = []
        self.out: set[str] = set()
        self.now: CueSizes = {}
        self.rehearsing, self.trusting, self.patient = True, False, False
        self._stillness = Stillness()

    @property
    def trusted(self) -> bool:
        """The golfer stands still, or what is under way began from standing still: see `groundtone.cue.stillness`."""
        return self.trusting or self._stillness.swings

    @property
    def book(self) -> Rulebook:
        """The rules in force now."""
        return self._rules.book

    @property
    def bands(self) -> Bands:
        """The two main cues' limits now."""
        return self._rules.bands

    @property
    def silent(self) -> bool:
        """The swing under way does not sound (fading)."""
        return self._gate.silent

    def set_rules(self, book: Rulebook) -> None:
        """Other rules from the next frame on; tightening and fading count anew."""
        self._tightener, self._fading = Tightener(book), Fading(book.fade)
        self._gate = CueGate(book, self._fading)
        self._rules.change(book)

    def sizes(
        self,
        t_s: float,
        phase: Phase,
        swing: Swing | None,
        *,
        share: float,
        overall: float,
        lead_foot: float,
        sure: bool,
        slow: float,
        lead_out_mm: float = math.nan,
        weights: float = math.nan,
    ) -> CueSizes:
        """One frame: what is to be heard of it; see `CueRules.sizes_out`.

        Parameters
        ----------
        swing : Swing or None
            The one under way.
        weights : float
            Total vertical force in body weights; NaN: not known.
        """
        self._stillness.step(t_s, phase, swing, share=share, overall=overall, weights=weights)
        turn = swing.turn if swing is not None else None
        impact = swing.impact if swing is not None else None
        after_impact = impact is not None and t_s > impact.t_s
        struck = swing is not None and not swing.impact_unsure
        turn_s = turn.t_s if turn is not None else math.nan
        if turn is None and struck and impact is not None:
            # Pressure did not turn: what counts from the turn on counts from impact on.
            turn_s = impact.t_s - TURN_TO_IMPACT_S
        sizes = self._rules.sizes_out(
            t_s,
            phase,
            share=share,
            overall=overall,
            lead_foot=lead_foot,
            since_turn_s=t_s - turn_s,
            sure=sure,
            after_impact=after_impact,
            slow=slow,
            lead_out_mm=lead_out_mm,
            patient=self.patient,
        )
        moves = struck or phase not in _AFTER_TURN or self._stillness.pushed if slow == 1.0 else self.rehearsing
        steps = struck or self.rehearsing or not self._stillness.stepped
        trusted = self.trusting or (self.trusted and moves and steps)
        self.now = sizes if trusted else {}
        if phase not in _SWING:
            self.out.clear()
        elif trusted:
            self.out.update(sizes)
        number = swing.number if swing is not None else 0
        return self._gate.let_through(t_s, phase, number, sizes, after_impact=after_impact, trusted=trusted)

    def watch(
        self, t_s: float, phase: Phase, swing: Swing | None, *, share: float, overall: float, weights: float
    ) -> None:
        """One frame of which nothing may be heard: so that afterwards it is known how the golfer stood."""
        self.now = {}
        self._stillness.step(t_s, phase, swing, share=share, overall=overall, weights=weights)

    def log(self, t_s: float, sizes: CueSizes, swing: Swing | None, *, over: bool) -> None:
        """Writes down in the swing which cue was heard from when to when.

        A tone of the setup that ended after the takeaway, before it was seen that a swing had begun, is one of its.
        """
        now = {} if over else sizes
        if swing is not None and self._before:
            late = [each for each in self._before if each[2] > swing.takeaway.t_s]
            swing.heard.extend(late)
            self.out.update(name for name, _, _ in late)
            self._before.clear()
        for name in [name for name in self._sounding if name not in now]:
            begin = self._sounding.pop(name)
            if swing is not None:
                swing.heard.append((name, begin, t_s))
            else:
                self._before = [*self._before[-3:], (name, begin, t_s)]
        for name in now:
            self._sounding.setdefault(name, t_s)

    def over(self, out: set[str]) -> list[Change]:
        """A swing has ended in which these cues were out; bands that have moved by that."""
        self._fading.swing(inside=not out)
        changes = self._tightener.swing(dict.fromkeys(out, True))
        if changes:
            self._rules.change(self._tightener.book)
            self._gate.change(self._tightener.book)
        return changes
