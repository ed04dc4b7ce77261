"""Blocks that ask: on purpose (a place is asked for, and done), and guess first (the golfer says where it was).

Both are state machines fed frame by frame, without screen, keys or sound: they say what is to be heard and recorded.
"""

from __future__ import annotations

import math
import uuid
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np

from groundtone.engine.answers import UNDO
from groundtone.engine.live import Live
from groundtone.errors import GroundtoneError
from groundtone.feel.lines import HEIGHT, LINES, MIDDLE, MOMENTS, ORDERS, Line, asks, heights, lines_of, nearness
from groundtone.review.strikes import Strike
from groundtone.swing.events import Phase
from groundtone.swing.ground import left_trail_heel, passed_middle
from groundtone.swing.summary import SwingSummary

ASKING_BLOCKS = ("purpose", "guess")
# What is asked for counts when it is held so still for so long, s; not before so long after the asking.
_HOLD_S, _STILL, _SOONEST_S = 0.8, 0.04, 1.2
# Who has not moved by so much since the asking may be listening still; after so long that is the answer, s.
_MOVED, _WAITED_S = 0.03, 6.0
# Between two askings, s: the sound of the one is over, and the golfer stands as usual again.
REST_S = 2.5
# A guess is waited for so long after the tick, and after a first tap so long for one with the other foot, s.
GUESS_S, OTHER_FOOT_S = 7.0, 4.0
# After a key or a click another one may correct it for so long, s.
SURE_S = 2.0
# So much of the path is kept for what lies on the ground, s.
_PATH_S = 8.0
CALM = (Phase.STANDING, Phase.SETUP)
_FOOT = {"toe": "toes", "heel": "heels", "fat": "trail", "thin": "trail"}
KEYS = {"6": "toes", "4": "heels", "5": MIDDLE, "-": "trail", "+": "lead", "back": "trail"}
"""Keys that guess; a remote's forward button steps through the places of the line."""
NO_SWING = "A guess belongs to a swing: hit a ball first."


@dataclass(frozen=True)
class FeelWish:
    """How a block asks.

    Attributes
    ----------
    lines : str
        "heel-toe", "side" or "both"; "height": low and high on the face, told by the strike.
    moment : str
        What was asked counts at "setup" (held still) or at "impact" (of swings and slow rehearsals).
    order : str
        "blocked" or "random".
    times : int
        How often each place is asked for.
    seed : int
        Draws the order.
    places : tuple of str
        These places instead, in this order.
    """

    lines: str = "heel-toe"
    moment: str = "setup"
    order: str = "random"
    times: int = 5
    seed: int = 1
    places: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for what, value, known in (
            ("line", self.lines, (*LINES, HEIGHT, "both")), ("moment", self.moment, MOMENTS),
            ("order", self.order, ORDERS),
        ):  # fmt: skip
            if value not in known:
                raise GroundtoneError(f"there is no {what} {value!r}: choose from {', '.join(known)}")
        if not 1 <= self.times <= 30:
            raise GroundtoneError(f"each place is asked for 1 to 30 times, not {self.times}")

    def asked(self) -> list[str]:
        """The places, one after the other."""
        if self.lines == HEIGHT:
            return list(self.places) or heights(self.order, self.times, self.seed)
        return list(self.places) or asks(lines_of(self.lines), self.order, self.times, self.seed)


@dataclass(frozen=True)
class Step:
    """What is due with a frame: sounds, an entry to record, sentences, and whether the last swing may be shown now."""

    signals: tuple[str, ...] = ()
    entry: dict[str, Any] | None = None
    said: tuple[str, ...] = ()
    shows: bool = False


NOTHING = Step()
NOT_TOLD = Strike()


class FeelBlock(Protocol):
    """What a practice does with either."""

    @property
    def hides(self) -> bool:
        """A guess is waited for: nothing of the swing is shown, echoed or taken as a strike."""

    @property
    def words(self) -> str:
        """Large words for now; empty: the usual ones."""

    @property
    def over(self) -> bool:
        """Everything has been asked."""

    def take(self, live: Live, swing: SwingSummary | None, strike: Strike = NOT_TOLD) -> Step:
        """One frame, the swing that ended with it, and what has been told of the last swing's strike."""

    def press(self, t_s: float, key: str) -> bool:
        """A key; whether it was meant for this."""


def _means(column: Sequence[float]) -> list[float]:
    """Of eighths of a column, so that the converter's noise is not taken for a movement."""
    each = max(1, len(column) // 8)
    parts = [column[max(0, at - each) : at] for at in range(len(column), 0, -each)]
    return [sum(some) / len(some) for some in reversed(parts)]


def measured(live: Live) -> bool:
    """Share and heel-toe position are known with this frame."""
    return not (math.isnan(live.share) or math.isnan(live.overall))


class Asker:
    """Asks for places, one after the other, and says how near each was done."""

    hides = False

    def __init__(self, wish: FeelWish) -> None:
        self._wish = wish
        self._places = wish.asked()
        self._done = 0
        self._asked_s = math.nan
        self._rest_s = -math.inf
        self._from = (math.nan, math.nan)
        self._moved = False
        self._held: deque[tuple[float, float, float]] = deque()

    @property
    def over(self) -> bool:
        """Everything has been asked and done."""
        return self._done >= len(self._places)

    @property
    def asked(self) -> str:
        """The place that is asked for just now; empty between two askings."""
        return "" if self.over or math.isnan(self._asked_s) else self._places[self._done]

    @property
    def words(self) -> str:
        """The place, in large words."""
        return self.asked

    def press(self, t_s: float, key: str) -> bool:
        """No key is meant for it."""
        return False

    def take(self, live: Live, swing: SwingSummary | None, strike: Strike = NOT_TOLD) -> Step:
        """One frame; see `FeelBlock.take`."""
        if self.over:
            return NOTHING
        if live.phase is Phase.AWAY or not measured(live):
            # Whoever steps off is asked again.
            self._ask_again(live.t_s)
            return NOTHING
        if math.isnan(self._asked_s):
            return self._ask(live) if live.phase in CALM and live.t_s >= self._rest_s else NOTHING
        if self._wish.moment == "impact":
            return self._swung(live, swing) if swing is not None else NOTHING
        if swing is not None:
            # A ball instead: this asking is over.
            self._ask_again(live.t_s)
            return NOTHING
        return self._hold(live)

    def _ask(self, live: Live) -> Step:
        self._asked_s = live.t_s
        self._from, self._moved = (math.nan, math.nan), False
        self._held.clear()
        return Step((f"ask {self.asked}", f"say {self.asked}"))

    def _ask_again(self, t_s: float) -> None:
        self._asked_s, self._rest_s = math.nan, t_s + REST_S

    def _hold(self, live: Live) -> Step:
        if live.phase not in CALM:
            self._held.clear()
            return NOTHING
        held, since = self._held, live.t_s - self._asked_s
        held.append((live.t_s, live.overall, live.share))
        while held[0][0] < live.t_s - _HOLD_S:
            held.popleft()
        columns = list(zip(*held, strict=True))[1:]
        here = tuple(_means(column)[-1] for column in columns)
        if math.isnan(self._from[0]) and held[-1][0] - held[0][0] >= _HOLD_S / 8:
            self._from = here[0], here[1]
        self._moved = self._moved or any(abs(a - b) > _MOVED for a, b in zip(here, self._from, strict=True))
        if since < _SOONEST_S or not (self._moved or since >= _WAITED_S) or held[-1][0] - held[0][0] < 0.9 * _HOLD_S:
            return NOTHING
        if any(max(means) - min(means) > _STILL for means in map(_means, columns)):
            return NOTHING
        # Its second half: in the first one the pressure may still be on its way.
        position, share = (sum(column[len(column) // 2 :]) / (len(column) - len(column) // 2) for column in columns)
        return self._was_done(live.t_s, position, share)

    def _swung(self, live: Live, swing: SwingSummary) -> Step:
        if math.isnan(swing.position_impact) or math.isnan(swing.share_impact):
            self._ask_again(live.t_s)
            return Step(said=("Impact of that swing is not known: once more.",))
        return self._was_done(live.t_s, swing.position_impact, swing.share_impact)

    def _was_done(self, t_s: float, position: float, share: float) -> Step:
        place, moment = self.asked, self._wish.moment
        order = ("near", "nearly", "far")
        near = [
            nearness(line.goal(place, moment), position if line.value == "position" else share)
            for line in lines_of(self._wish.lines)
            if place in line.places
        ]
        entry = entry_of("purpose", place, moment, position, share, line=self._wish.lines)
        self._done += 1
        self._ask_again(t_s)
        signals = (max(near, key=order.index, default="far"),)
        if self.over:
            return Step((*signals, "change", "say done"), entry, ("All has been asked.",))
        return Step(signals, entry)


class OverThing:
    """Says after each swing whether the pressure had passed what lies on the ground before impact."""

    hides, over, words = False, False, ""

    def __init__(self, thing: str, trail: int) -> None:
        self._thing, self._trail = thing, trail
        self._path: deque[tuple[float, float, float]] = deque()

    def press(self, t_s: float, key: str) -> bool:
        """No key is meant for it."""
        return False

    def take(self, live: Live, swing: SwingSummary | None, strike: Strike = NOT_TOLD) -> Step:
        """One frame; see `FeelBlock.take`."""
        path = self._path
        path.append((live.t_s, live.centre_mm[0], live.position[self._trail]))
        while path[0][0] < live.t_s - _PATH_S:
            path.popleft()
        ended = live.ended
        if ended is None or ended.impact is None or (begun := ended.turn or ended.top) is None:
            return NOTHING
        t, x, trail = np.array(path).T
        if self._thing == "middle":
            found = passed_middle(t, x, begun.t_s, ended.impact.t_s)
        else:
            found = left_trail_heel(t, trail, begun.t_s, ended.impact.t_s)
        if found.passed is None:
            return NOTHING
        what = "The middle was passed" if self._thing == "middle" else "The trail heel was left"
        if math.isnan(found.before_s):
            return Step(("far",), said=(f"{what} not at all.",))
        when = f"{abs(found.before_s):.2f} s {'before' if found.passed else 'after'} impact"
        return Step(("near" if found.passed else "far",), said=(f"{what} {when}.",))


class Guesser:
    """Waits after each swing for what the golfer says of it, then says what it was."""

    over = False

    def __init__(self, wish: FeelWish) -> None:
        self._line = LINES["side" if wish.lines == "side" else "heel-toe"]
        self._swing: SwingSummary | None = None
        self._until_s = -math.inf
        self._said, self._how = "", ""
        self._t_s = 0.0
        self._forward = -1

    @property
    def hides(self) -> bool:
        """A guess is waited for."""
        return self._swing is not None

    @property
    def words(self) -> str:
        """The question."""
        return "where was it?" if self.hides else ""

    def take(self, live: Live, swing: SwingSummary | None, strike: Strike = NOT_TOLD) -> Step:
        """One frame; see `FeelBlock.take`."""
        self._t_s = live.t_s
        if swing is not None:
            # What was said of the ball before counts; there is no time to answer it.
            before = self._close()
            return replace(self._open(live.t_s, swing), entry=before.entry)
        if self._swing is None:
            return NOTHING
        if live.answer == UNDO and self._how == "foot":
            self._said = MIDDLE
            return self._close()
        if live.answer in _FOOT:
            side = self._line.name == "side" and live.answer in ("toe", "heel")
            self._guess("lead" if side else _FOOT[live.answer], "foot")
        # Standing on one foot to tap looks like a backswing for a while: only the next swing ends it sooner.
        if live.t_s >= self._until_s:
            return self._close()
        return NOTHING

    def press(self, t_s: float, key: str) -> bool:
        """A key that guesses; a second one in time stands in place of the first."""
        if self._swing is None:
            return False
        place = KEYS.get(key)
        if key == "next":
            self._forward += 1
            place = (MIDDLE, self._line.places[2], self._line.places[0])[self._forward % 3]
        if place is None:
            return False
        self._guess(place, "key")
        return True

    def say(self, place: str) -> bool:
        """The coach's click; False where no guess is waited for."""
        if self._swing is None or place not in {p for line in LINES.values() for p in line.places}:
            return False
        self._guess(place, "click")
        return True

    def _open(self, t_s: float, swing: SwingSummary) -> Step:
        self._swing, self._until_s = swing, t_s + GUESS_S
        self._said, self._how, self._forward = "", "", -1
        if math.isnan(swing.position_impact) or math.isnan(swing.share_impact):
            self._swing = None
            return Step(said=("Impact of that swing is not known: no guess is asked for.",), shows=True)
        return Step(("ask feel", "say where"))

    def _guess(self, place: str, how: str) -> None:
        self._said, self._how = place, how
        self._until_s = self._t_s + (OTHER_FOOT_S if how == "foot" else SURE_S)

    def _close(self) -> Step:
        swing, said, how = self._swing, self._said, self._how
        self._swing = None
        if swing is None or not said:
            return Step(shows=True)
        # What was said may be about the other line: the trail foot where heel and toe were asked about.
        line: Line = next(each for each in (self._line, *LINES.values()) if said in each.places)
        value = swing.position_impact if line.value == "position" else swing.share_impact
        was = line.place(value, "impact")
        entry = entry_of("guess", said, "impact", swing.position_impact, swing.share_impact, how, line.name)
        entry["impact_s"] = swing.impact.t_s if swing.impact is not None else None
        right = "near" if was == said else "far"
        return Step((right, f"ask {was}", f"say {was}"), entry, (f"You said {said}; it was {was}.",), shows=True)


def entry_of(
    what: str, place: str, moment: str, position: float, share: float, how: str = "", line: str = ""
) -> dict[str, Any]:
    """What is recorded of something asked for and done, or guessed; see RECORDING.md."""
    return {
        "id": uuid.uuid4().hex, "what": what, "place": place, "moment": moment, "position": position, "share": share,
        "how": how, "line": line,
    }  # fmt: skip
