"""Follows a plan through a practice by sound alone: block after block as balls are hit, clubs told by their number."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from groundtone.engine.feel_block import FeelWish
from groundtone.engine.practice import Practice
from groundtone.engine.practice_state import Said
from groundtone.feel.plan import Ball


class PlanRun:
    """Begins the blocks of a plan.

    Parameters
    ----------
    practice : Practice
        Just begun; its first block is replaced by the plan's.
    balls : sequence of Ball
        To be hit, in order.
    clubs : sequence of str
        The plan's clubs in the order in which sounds number them.
    hit : callable
        Takes how many of the balls are hit, after each.
    say : callable
        Takes each `Said`.
    over : str
        What is said when all are hit.
    """

    def __init__(
        self,
        practice: Practice,
        balls: Sequence[Ball],
        clubs: Sequence[str],
        hit: Callable[[int], None],
        say: Callable[[Said], None],
        over: str = "All balls of today's plan are hit: q ends it.",
    ) -> None:
        self._over = over
        self._practice, self._balls, self._clubs = practice, balls, clubs
        self._hit, self._say = hit, say
        self._done = 0
        self._swings = self._so_far()
        self._told: Ball | None = None
        self._begin()

    @property
    def over(self) -> bool:
        """All balls are hit."""
        return self._done >= len(self._balls)

    def after(self) -> None:
        """To be called after each frame."""
        swings = self._so_far()
        if self.over or swings == self._swings:
            return
        self._swings = swings
        asks = self._practice.feel
        if self._balls[self._done].asked and asks is not None and not asks.over:
            # What was asked for could not be measured: it is asked for again.
            return
        self._done += 1
        self._hit(self._done)
        if self.over:
            for name in ("change", "say done"):
                self._practice.output.signal(name)
            self._say(Said(self._over))
        else:
            self._begin()

    def _so_far(self) -> int:
        """Balls hit so far: where a strike sensor hears strikes, those that it heard; else all swings."""
        swings = self._practice.session.swings
        struck = [s for s in swings if s.impact is not None and s.impact.source == "strike sensor"]
        return len(struck) if struck else len(swings)

    def _begin(self) -> None:
        ball, before = self._balls[self._done], self._told
        if ball == before and not ball.asked:
            return
        self._told = ball
        feel = FeelWish(moment="impact", places=(ball.asked,)) if ball.asked else None
        self._practice.begin_block(ball.kind, club=ball.club, cues=ball.tone, feel=feel)
        signals, words = [], []
        if before is None or ball.kind != before.kind:
            if ball.kind in ("test", "retention"):
                signals += ["change", f"say {ball.kind}"]
                words.append("a silent test")
            elif ball.asked:
                words.append(f"on purpose to the {ball.asked}")
            elif ball.kind == "baseline" or (before is not None and before.kind == "baseline"):
                signals.append("change")
                words.append("a block with the tone" if ball.tone else "a block without the tone")
        if len(self._clubs) > 1 and (before is None or ball.club != before.club):
            signals += [f"club {list(self._clubs).index(ball.club) + 1}", f"say {ball.club}"]
            words.append(ball.club)
        for name in signals:
            self._practice.output.signal(name)
        if words:
            self._say(Said(f"Next: {', '.join(words)}."))
