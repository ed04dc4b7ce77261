"""One session: frames from a link through the live engine to the player and the display. Live and fast alike."""

from __future__ import annotations

import contextlib
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from groundtone.cue.rules import SILENT
from groundtone.engine.live import Live, LiveEngine
from groundtone.engine.recording import SessionLog
from groundtone.errors import GroundtoneError, LostError
from groundtone.lesson.answering import Answering
from groundtone.link.base import Gap, Link, Stamped
from groundtone.link.clock import LateWatch, RateWatch
from groundtone.link.following import SEARCH_S, Item, until_lost
from groundtone.swing.events import Kind
from groundtone.swing.summary import SwingSummary, summarise
from groundtone.tone.output import Output
from groundtone.wire.messages import Event, EventCode

# The screen is looked after this often, s of device time.
_SHOW_S = 0.1
# So long the sound goes on after a loss: 0.25 s of patience, then the sound that tells of it (0.95 s).
_TELL_S = 1.4


@dataclass(frozen=True)
class Sample:
    """What is kept of one frame."""

    t_s: float
    share: float
    overall: float
    centre_y_mm: float
    both_feet: bool


@dataclass(frozen=True)
class Lane:
    """The frames around one swing, for drawing; times in s of device time."""

    summary: SwingSummary
    takeaway_s: float
    turn_s: float
    impact_s: float
    t_s: NDArray[np.float64]
    share: NDArray[np.float64]
    overall: NDArray[np.float64]


@dataclass
class Session:
    """What came out of a session.

    Attributes
    ----------
    samples : deque of Sample
        The newest frames, at most `keep`.
    missed : int
        Frames that did not arrive.
    left : list of tuple of str
        Of each swing: cues whose band it left, heard or not.
    ball : list of bool
        Of each swing: it was at a ball, no practice swing and no rehearsal.
    gaps : int
        How often the mat was lost, found again or not.
    said : list of str
        What the mat told unasked.
    noticed : list of str
        What a person must know of how the frames came.
    lost : LostError or None
        Why it ended, if it ended before its time; what had been measured until then is here all the same.
    unrecorded : GroundtoneError or None
        Why not all of it was recorded, where it was to be.
    """

    samples: deque[Sample]
    swings: list[SwingSummary] = field(default_factory=list)
    lanes: list[Lane] = field(default_factory=list)
    left: list[tuple[str, ...]] = field(default_factory=list)
    ball: list[bool] = field(default_factory=list)
    missed: int = 0
    gaps: int = 0
    said: list[str] = field(default_factory=list)
    noticed: list[str] = field(default_factory=list)
    lost: LostError | None = None
    unrecorded: GroundtoneError | None = None


class Follower:
    """A session's state, fed item by item: what a link brings goes through engine, output and log.

    Parameters
    ----------
    output : Output
        Started.
    keep : int
        How many frames to keep.
    log : SessionLog, optional
        Records the session; its owner ends it.
    by_radio : bool
        Frames come by radio: see `RateWatch`.

    Attributes
    ----------
    session : Session
        What has come out so far.
    answering : Answering
        Takes down the strikes that are told with the foot.
    heard_s : float
        Monotonic host time of the newest frame, s.
    passed_s : float
        Device time between the newest frame and the one before it, s.
    guessing : bool
        A guess is waited for: taps with the foot tell no strike.
    rate, late : RateWatch, LateWatch
        Below 50 frames a second no cue sounds; frames that come late are told of once.
    """

    def __init__(
        self, engine: LiveEngine, output: Output, *, keep: int, log: SessionLog | None = None, by_radio: bool = False
    ) -> None:
        self.engine, self.output, self.log = engine, output, log
        self.session = Session(deque(maxlen=keep))
        self.answering = Answering()
        self.heard_s = time.monotonic()
        self.passed_s = 0.0
        self.rate, self.late = RateWatch(by_radio=by_radio), LateWatch()
        self.guessing = False
        self._last_s: float | None = None
        self._told: str | None = None

    def take_item(self, item: Item) -> Live | None:
        """One item of a link; what the engine knows after it, where it was a frame."""
        if item is None:
            self.output.drain()
            return None
        if isinstance(item, Gap):
            # The sound finds out by itself: it falls silent when nothing comes, and says so when frames come again.
            if self.log is not None:
                self.log.gap(item)
            self.session.gaps += item.lost
            return None
        if isinstance(item, Event):
            if self.log is not None:
                self.log.event(item)
            if item.code != EventCode.BUTTON and item.text:
                self.session.said.append(item.text)
            return None
        return self._frame(item)

    def lost(self, error: LostError) -> None:
        """The mat is lost for good: the output finds out by itself that frames have stopped, and is heard saying so.

        Live this takes until `_TELL_S` after the last frame; an output that is faster than time needs no waiting.
        """
        self.session.lost = error
        if self.log is not None:
            self.log.lost(error)
        with contextlib.suppress(KeyboardInterrupt):
            for _ in range(round(_TELL_S / _SHOW_S)):
                self.output.advance(_SHOW_S)
                if time.monotonic() - self.heard_s < _TELL_S:
                    time.sleep(_SHOW_S)

    def _frame(self, item: Stamped) -> Live:
        session, output, log = self.session, self.output, self.log
        if log is not None:
            log.frame(item)
        live = self.engine.take_frame(item.frame, item.device_us, item.feet)
        if (sentence := self.rate.sentence_at(item)) is not None:
            session.noticed.append(sentence)
            if log is not None:
                log.recorder.event("rate", sentence)
        if (sentence := self.late.sentence_at(item)) is not None:
            session.noticed.append(sentence)
        if output.told is not None and output.told != self._told:
            self._told = output.told
            session.noticed.append(output.told)
        if self.rate.too_slow:
            live = replace(live, sizes=SILENT)
        if self.guessing:
            # The second of two taps means something else here.
            live = replace(live, signals=tuple(name for name in live.signals if name != "undone"))
        if log is not None:
            log.live(live)
        session.missed += item.missed
        self.heard_s = time.monotonic()
        self.passed_s = max(0.0, live.t_s - self._last_s) if self._last_s is not None else 0.0
        self._last_s = live.t_s
        # What was set with the frame before has sounded until this one.
        output.advance(self.passed_s)
        output.heartbeat()
        output.set_cues(live.sizes)
        for name in live.signals:
            output.signal(name)
        both = not (np.isnan(live.feet.u_mm[0]) or np.isnan(live.feet.u_mm[1]))
        session.samples.append(Sample(live.t_s, live.share, live.overall, live.centre_mm[1], both))
        if live.ended is not None:
            summary = _keep_swing(session, live)
            impact = live.ended.impact
            self.answering.swing(impact.t_s if impact is not None else live.ended.end_s)
            if log is not None:
                log.swing(live.ended, summary)
        if (
            live.answer is not None
            and not self.guessing
            and (told := self.answering.foot(live.answer)) is not None
            and log is not None
        ):
            log.recorder.strike(told[0])
        return live


def run(
    link: Link,
    engine: LiveEngine,
    output: Output,
    *,
    keep: int,
    show: Callable[[Live], None] | None = None,
    on_swing: Callable[[SwingSummary], None] | None = None,
    on_frame: Callable[[Stamped], bool] | None = None,
    log: SessionLog | None = None,
    search_s: float = SEARCH_S,
) -> Session:
    """Follows a started link until `on_frame` says so, the mat is lost, or Ctrl-C.

    Parameters
    ----------
    link : Link
        Started; it is stopped by its owner.
    output : Output
        Started.
    keep : int
        How many frames to keep.
    show : callable, optional
        Called about ten times a second.
    on_swing : callable, optional
        Called with every swing that has ended.
    on_frame : callable, optional
        Called after every frame; returns True to end the session.
    log : SessionLog, optional
        Records the session; its owner ends it.
    search_s : float
        How long a link that looks for a lost mat by itself may do so.
    """
    follower = Follower(engine, output, keep=keep, log=log)
    session = follower.session
    since_shown_s = 0.0
    try:
        for item in until_lost(link.frames(), search_s):
            live = follower.take_item(item)
            if live is None:
                continue
            if live.ended is not None and on_swing is not None:
                on_swing(session.swings[-1])
            since_shown_s += follower.passed_s
            if show is not None and since_shown_s >= _SHOW_S:
                since_shown_s = 0.0
                show(live)
            if on_frame is not None and isinstance(item, Stamped) and on_frame(item):
                break
    except LostError as error:
        follower.lost(error)
    except KeyboardInterrupt:
        pass
    output.rest()
    return session


def _keep_swing(session: Session, live: Live) -> SwingSummary:
    swing = live.ended
    assert swing is not None
    since = swing.takeaway.t_s - 1.0
    recent = list(islice(reversed(session.samples), 3000))
    around = [sample for sample in reversed(recent) if sample.t_s >= since]
    t_s = np.array([s.t_s for s in around])
    share = np.array([s.share for s in around])
    overall = np.array([s.overall for s in around])
    summary = summarise(swing, t_s, share, overall)
    turn = swing.turn.t_s if swing.turn else float("nan")
    impact = swing.impact.t_s if swing.impact else float("nan")
    session.swings.append(summary)
    session.left.append(live.left)
    session.ball.append(swing.kind is Kind.SWING)
    session.lanes.append(Lane(summary, swing.takeaway.t_s, turn, impact, t_s, share, overall))
    return summary
