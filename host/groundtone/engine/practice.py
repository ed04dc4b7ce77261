"""One golfer's practice on an open mat: what the link brings goes in; sound, words and a recording come out."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from groundtone.cue.rulebook import Rulebook
from groundtone.engine.echo_timer import EchoTimer, GoodOnes, path_of
from groundtone.engine.feel_block import NO_SWING, FeelBlock, FeelWish, Guesser, Step
from groundtone.engine.feel_kinds import feel_block
from groundtone.engine.live import Live, LiveEngine
from groundtone.engine.practice_state import (
    SILENT_WORDS,
    Counts,
    Now,
    Said,
    State,
    Summary,
    block_of,
    block_totals,
    outside_of,
    state_of,
    words_of,
)
from groundtone.engine.recording import SessionLog
from groundtone.engine.session import Follower, Session
from groundtone.errors import LostError
from groundtone.lesson.answering import Answering
from groundtone.lesson.drills import Drill, rules_in_drill
from groundtone.lesson.outside import Outside
from groundtone.link.base import Gap, LinkStatistics
from groundtone.link.following import Item
from groundtone.mat.layout import PANELS
from groundtone.record.session import SILENT_BLOCKS, Block, Settings
from groundtone.review.settings import rules_in, with_rules
from groundtone.review.strikes import Strike
from groundtone.swing.clubs import club_class
from groundtone.tone.output import Output
from groundtone.wire.messages import Event, EventCode

_KEEP_S = 30  # Frames kept: the swing under way and the ones before it, s.
LOST_S = 0.5
"""Nothing for this long: the mat is shown as lost, s. The tone has stopped by itself before."""


class Practice:
    """Follows one golfer from step-on to the end; the command line and the window both drive it.

    It has no screen, no keys and no thread: whoever owns the link calls `take_item` with all the link brings (None
    where nothing came for a while) and shows `now()`.

    Parameters
    ----------
    engine : LiveEngine
        Its `sounds` is set by the block.
    output : Output
        Started; its owner closes it.
    log : SessionLog or None
        Records; its owner ends it.
    block : Block
        With which it begins.
    settings : Settings
        In force; its rules are the golfer's own.
    drill : Drill or None
        What a block of the kind "drill" practises: its cue is on there, and its limit in force.
    echo : bool
        Plays each swing again, slowed.
    say : callable, optional
        Takes each `Said`.
    lost_s : float
        Nothing for so long by our clock: the mat is shown as lost, s.
    rules_of : callable, optional
        The golfer's own rules with a club; without it the same hold with every club.
    feel : FeelWish, optional
        How a block asks that asks something.
    good : GoodOnes, optional
        The golfer's well-struck swings: the most typical one is heard after each echo. Without it only when asked.

    Attributes
    ----------
    after : callable or None
        Called after each frame: a plan goes on.
    """

    def __init__(
        self,
        engine: LiveEngine,
        output: Output,
        log: SessionLog | None,
        block: Block,
        *,
        settings: Settings,
        drill: Drill | None = None,
        echo: bool = True,
        say: Callable[[Said], None] | None = None,
        lost_s: float = LOST_S,
        by_radio: bool = False,
        rules_of: Callable[[str], Rulebook] | None = None,
        feel: FeelWish | None = None,
        good: GoodOnes | None = None,
    ) -> None:
        self._rules_of, self._by_club = rules_of, dict[str, tuple[Rulebook, Rulebook]]()
        self.engine, self.output, self.log = engine, output, log
        self.block = block
        self._noticed = 0
        self.tightened = 0
        self._lost_s = lost_s
        self._say = say or (lambda said: None)
        self._follower = Follower(engine, output, keep=round(_KEEP_S * settings.rate_hz), log=log, by_radio=by_radio)
        self._good = good or GoodOnes()
        self._echo = EchoTimer(echo, PANELS[engine.stance.lead], good)
        self.after: Callable[[], None] | None = None
        self._live: Live | None = None
        self._blocks = [block]
        self._block_of: list[int] = []
        self._lost = self._paused = self._over = False
        self._began_s = math.nan
        self._settings, self._own = settings, rules_in(settings) or engine.cues.book
        self._begun_with = self._own
        self.drill = drill
        self.feel = self._feel_of(block.kind, feel)
        engine.sounds = block.cues
        self._rules_of_block()

    @property
    def answering(self) -> Answering:
        """The strikes told so far."""
        return self._follower.answering

    @property
    def session(self) -> Session:
        """Swings, lanes and counts so far."""
        return self._follower.session

    @property
    def shown(self) -> int:
        """How many swings may be shown: not one that is to be guessed first."""
        return len(self.session.swings) - (self.feel is not None and self.feel.hides)

    @property
    def over(self) -> bool:
        """The golfer has ended it."""
        return self._over

    @property
    def paused(self) -> bool:
        """The golfer has asked for silence."""
        return self._paused

    def take_item(self, item: Item) -> Live | None:
        """What the link brings; what is known after it, where it was a frame."""
        live = self._follower.take_item(item)
        if isinstance(item, Gap):
            self._gap(item)
        elif isinstance(item, Event):
            self._event(item)
        while self._noticed < len(self.session.noticed):
            self._say(Said(self.session.noticed[self._noticed], trouble=True))
            self._noticed += 1
        if live is None:
            if self._live is not None and time.monotonic() - self._follower.heard_s > self._lost_s:
                self._lost = True
                self._echo.drop()
            return None
        self._live, self._lost = live, False
        if math.isnan(self._began_s):
            self._began_s = live.t_s
        if "tightened" in live.signals:
            self.tightened += 1
        for sentence in live.said:
            self._say(Said(sentence))
        if live.ended is not None:
            self._block_of.append(block_of(self._blocks, live.ended).number)
            self._echo.swing(live.t_s, self.session.lanes[-1], club_class(self.block.club))
            self._learn_good()
        if self.feel is not None:
            self._feel_step(self.feel, live)
        sounding = bool(live.sizes)
        if (sentence_of_good := self._echo.announces(live.t_s)) is not None and not self._paused:
            self.output.signal("good one")
            self._say(Said(sentence_of_good))
        path = self._echo.due(live.t_s, live.phase, sounding=sounding)
        if path is not None and not self._paused:
            self.output.echo(path)
        if self.after is not None:
            self.after()
        return live

    def key(self, key: str) -> bool:
        """A strike's key, "next" or "back" of a remote, "u"; while a guess is waited for, one of `feel_block.KEYS`."""
        if self.feel is not None and self._live is not None and self.feel.press(self._live.t_s, key):
            return True
        if key == "e" and self._live is not None:
            return self._echo.again(self._live.t_s, self._good)
        if isinstance(self.feel, Guesser) and not self.session.swings:
            self._say(Said(NO_SWING))
            return False
        return self._told(self.answering.key(time.monotonic(), key))

    def guess(self, place: str) -> bool:
        """The coach's click: where the golfer says it was; True where a guess was waited for."""
        return isinstance(self.feel, Guesser) and self.feel.say(place)

    def mend(self, number: int, strike: Strike) -> bool:
        """See `Answering.mend`; True where it told something."""
        return self._told(self.answering.mend(number, strike))

    def pause(self, paused: bool | None = None) -> None:
        """Silence, while all is recorded; without an argument the other way round than before."""
        self._paused = not self._paused if paused is None else paused
        self.engine.sounds = self.block.cues and not self._paused
        self._echo.drop()
        if self.log is not None:
            self.log.recorder.event("paused" if self._paused else "goes on")

    def begin_block(
        self,
        kind: str,
        *,
        club: str | None = None,
        lie: str | None = None,
        drill: Drill | None = None,
        feel: FeelWish | None = None,
        cues: bool = True,
    ) -> Block:
        """The next block of swings, one of `BLOCK_KINDS`; what is not told stays as it was.

        `feel` is how it asks, `cues` False keeps the cues of any kind silent.

        Raises
        ------
        RecordError
            There is no such block.
        """
        device_us = round(self._live.t_s * 1e6) if self._live is not None else 0
        block = replace(
            self.block,
            number=self.block.number + 1,
            kind=kind,
            club=self.block.club if club is None else club,
            lie=self.block.lie if lie is None else lie,
            cues=cues and kind not in SILENT_BLOCKS,
            device_us=device_us,
        )
        self._own = self.own_rules()
        if self._rules_of is not None and club_class(block.club) != club_class(self.block.club):
            self._by_club[club_class(self.block.club)] = self._begun_with, self._own
            fresh = self._rules_of(block.club)
            self._begun_with, self._own = self._by_club.get(club_class(block.club), (fresh, fresh))
        self.drill = drill or self.drill
        self.block = block
        self.feel = self._feel_of(kind, feel)
        self._follower.guessing = False
        self._blocks.append(block)
        self.engine.sounds = block.cues and not self._paused
        if self.log is not None:
            self.log.recorder.block(block)
        self._rules_of_block()
        return block

    def note(self, text: str) -> None:
        """Words of golfer or coach, into the recording."""
        if self.log is not None and text.strip():
            self.log.recorder.note(text.strip())

    def end(self) -> None:
        """The golfer is done."""
        if self._over:
            return
        self._over = True
        self._echo.drop()
        self.output.rest()
        if self.log is not None and self.log.trouble is None:
            self.output.signal("saved")

    def lost(self, error: LostError) -> None:
        """The mat is lost for good: that is heard, and it is over."""
        self._over = True
        self._echo.drop()
        self._follower.lost(error)
        self.output.rest()

    def own_rules(self) -> Rulebook:
        """The golfer's own rules as they are now, tightened or not; a drill's are not among them."""
        return self._own if self.block.kind == "drill" and self.drill else self.engine.cues.book

    def rules_by_club(self) -> dict[str, Rulebook]:
        """`own_rules` with each class of clubs in which they have moved."""
        now = {**self._by_club, club_class(self.block.club): (self._begun_with, self.own_rules())}
        return {club: own for club, (begun_with, own) in now.items() if own != begun_with}

    def blocks(self) -> list[tuple[Block, list[int]]]:
        """Every block with the swings (from 0) that belong to it."""
        return [(b, [i for i, number in enumerate(self._block_of) if number == b.number]) for b in self._blocks]

    def outside(self, swings: Sequence[int]) -> Outside:
        """See `outside_of`."""
        return outside_of(self.session.left, self.session.ball, swings)

    def now(self) -> Now:
        """What to show."""
        state = state_of(self._live, ready=self.engine.ready, lost=self._lost, paused=self._paused, over=self._over)
        told, swings, strikes = self.answering.words(), self.session.swings, self.answering.counts()
        out = self.outside(range(self.shown))
        counts = Counts(out.of, out.of - out.n, strikes.placed, strikes.inside)
        asked = self.feel.words if self.feel is not None and state is State.PLAY else ""
        return Now(
            state,
            asked or words_of(state, self._live, told),
            SILENT_WORDS.get(self.block.kind, state.sentence) if state is State.PLAY else state.sentence,
            counts,
            swings[-1] if swings and not (self.feel is not None and self.feel.hides) else None,
            told,
            self._live,
        )

    def summary(self, counts: LinkStatistics | None = None) -> Summary:
        """What came of it; `counts` of the link where they are known."""
        return Summary(
            tuple(block_totals(self.blocks(), self.session.swings, self.answering.strikes, self.outside)),
            minutes=(self._live.t_s - self._began_s) / 60.0 if self._live is not None else 0.0,
            missed=self.session.missed,
            gaps=self.session.gaps,
            tightened=self.tightened,
            counts=counts or LinkStatistics(),
        )

    def _rules_of_block(self) -> None:
        """Puts the block's rules in force: the drill's in a drill, else the golfer's own."""
        self.engine.doing(drill=self.block.kind == "drill", putting=club_class(self.block.club) == "putter")
        book = rules_in_drill(self.drill, self._own) if self.drill and self.block.kind == "drill" else self._own
        if book == self.engine.cues.book:
            return
        self.engine.cues.set_rules(book)
        self._settings = with_rules(self._settings, book)
        if self.log is not None:
            self.log.recorder.settings(self._settings)

    def _feel_of(self, kind: str, feel: FeelWish | None) -> FeelBlock | None:
        thing = self.drill.thing if self.drill is not None else ""
        return feel_block(kind, feel or FeelWish(), thing, self.engine.stance.trail)

    def _feel_step(self, feel: FeelBlock, live: Live) -> None:
        """What a block that asks has to say with a frame."""
        hid = feel.hides
        step: Step = feel.take(live, self.session.swings[-1] if live.ended is not None else None, self.answering.last)
        self._follower.guessing = feel.hides
        if feel.hides:
            # What the golfer hears would tell.
            self._echo.drop()
        elif step.shows and self.session.lanes:
            self._echo.swing(live.t_s, self.session.lanes[-1], club_class(self.block.club))
            if hid:
                self.engine.answers_again(live.t_s)
        if step.entry is not None and self.log is not None:
            self.log.recorder.feel(step.entry)
        for name in step.signals:
            self.output.signal(name)
            if self.log is not None:
                self.log.recorder.heard(name, True)
        for sentence in step.said:
            self._say(Said(sentence))

    def _learn_good(self) -> None:
        """The swing before the one that has just ended: its strike is told by now, and it may be a good one."""
        strikes, at = self.answering.strikes, len(self.session.lanes) - 2
        if at >= 0 and strikes[at].well_struck:
            block = next(each for each in self._blocks if each.number == self._block_of[at])
            if block.kind != "purpose":
                self._good.add(club_class(block.club), path_of(self.session.lanes[at], PANELS[self.engine.stance.lead]))

    def _told(self, entry: tuple[dict[str, Any], str] | None) -> bool:
        if entry is None:
            return False
        table, signal = entry
        if self.log is not None:
            self.log.recorder.strike(table)
        self.output.signal(signal)
        return True

    def _event(self, event: Event) -> None:
        if event.code == EventCode.BUTTON:
            self.pause()
        elif event.code == EventCode.BUTTON_HELD:
            # The press that began it has paused; what is over needs no pause.
            self._paused = False
            self.end()
        elif event.text:
            self._say(Said(f"The mat says: {event.text}"))

    def _gap(self, gap: Gap) -> None:
        self._lost = gap.lost
        self._echo.drop()
        self._say(Said(gap.why, trouble=True) if gap.lost else Said("The mat is back."))
