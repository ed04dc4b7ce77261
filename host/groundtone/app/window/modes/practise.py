"""A practice: the session itself is `groundtone.engine.practice`; here it is fed, shown and told what is pressed."""

from __future__ import annotations

import contextlib
import secrets
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from groundtone.app.lesson.feel import plan_of
from groundtone.app.live.practice_setup import Begun, PracticeWish, begun, follow_plan, follow_turns
from groundtone.app.live.recording import known_golfer
from groundtone.app.mat import OpenMat
from groundtone.app.tones.sounding import GuardedOutput
from groundtone.app.window.mats import PRACTISE, MatChoice
from groundtone.app.window.modes.mode import Courier, Mode, Tell
from groundtone.app.window.views import LiveSwing, Moment, PractiseView, Said, Saved
from groundtone.cue.bands import Bands
from groundtone.cue.personal import bands_for, read_personal
from groundtone.cue.rulebook import with_bands
from groundtone.engine.feel_block import NO_SWING, FeelWish
from groundtone.engine.live import Live
from groundtone.engine.practice_state import Said as Remark
from groundtone.errors import GroundtoneError, sentence_of
from groundtone.feel.lines import HEIGHT
from groundtone.files import data_folder
from groundtone.lesson.drills import drill_of, words_of
from groundtone.lesson.wording import words
from groundtone.link.base import Gap, Stamped
from groundtone.onboard.switch import switch_for
from groundtone.record.session import SILENT_BLOCKS, Block
from groundtone.swing.events import Phase
from groundtone.tone.output import Output
from groundtone.wire.messages import Event

PLAN = "plan"
"""In place of a block: the pupil's plan is followed."""
TURNS, _BLOCKS = "in turn", 4
"""In place of a block: short blocks without the tone and with it, so many of each."""
_TICKS = {Phase.BACKSWING: "takeaway", Phase.DOWNSWING: "turn of pressure"}


@dataclass(frozen=True)
class PupilWish:
    """Who practises and how.

    Attributes
    ----------
    golfer : str
        Code name; empty: nobody is named.
    hand : str
        "right" or "left"; empty: as the library has it.
    bands : Bands or None
        None: the pupil's own.
    shoe_mm, stance_mm, flare_deg
        Outer length of the shoes; between the panels' centres; None: the pupil's own, else the usual ones.
    drill : str
        Name of the drill that a block of that kind practises; empty: with the pupil's own bands.
    asks : (str, str)
        Line and order of blocks that ask.
    lesson, key : str
        Of a walk-in, and which pupil it is; see `places.pupil`.
    started : str
        By the window's clock, ISO 8601.
    """

    golfer: str = ""
    hand: str = ""
    block: str = "baseline"
    club: str = ""
    lie: str = ""
    shoe_mm: float | None = None
    stance_mm: float | None = None
    flare_deg: tuple[float, float] | None = None
    bands: Bands | None = None
    echo: bool = True
    drill: str = ""
    asks: tuple[str, str] = ("heel-toe", "random")
    lesson: str = ""
    key: str = ""
    started: str = ""


class Practise(Mode):
    """Follows one pupil until it is stopped."""

    name, purpose, rate_hz = "practise", PRACTISE, 200

    def __init__(self, wish: PupilWish) -> None:
        self._wish = wish
        self._frames: list[tuple[float, float, float, bool, bool]] = []
        self._phase = Phase.AWAY

    @contextlib.contextmanager
    def opened(self, choice: MatChoice, tell: Tell) -> Iterator[OpenMat]:
        """See `Mode.opened`; the recording goes into the library at the desk, when this has ended."""
        wish, fast = self._wish, choice.twin is not None and choice.twin.fast
        golfer = known_golfer(wish.golfer, wish.hand or None, wish.shoe_mm, lambda text: tell(Said(text, bad=True)))
        own, book = read_personal(golfer.name), bands_for(golfer.name, club=wish.club)
        if wish.bands is not None:
            book = with_bands(book, wish.bands)
        kind, asks = asking(wish.block, *wish.asks)
        block = Block(1, kind, wish.club, wish.lie, cues=kind not in SILENT_BLOCKS)
        plan = plan_of(golfer.name) if wish.block == PLAN else None
        whole = PracticeWish(
            golfer,
            block,
            book,
            stance_mm=wish.stance_mm or own.stance_mm or PracticeWish.stance_mm,
            flare_deg=wish.flare_deg or own.flare_deg or PracticeWish.flare_deg,
            rate_hz=self.rate_hz,
            echo=wish.echo,
            drill=plan.drill if plan is not None else wish.drill,
            plan=plan,
            turns=_BLOCKS if wish.block == TURNS else 0,
            feel=asks,
            lesson=wish.lesson,
            started=wish.started,
        )

        def remark(said: Remark) -> None:
            tell(Said(said.text, bad=said.trouble))

        with contextlib.ExitStack() as stack:
            mat = stack.enter_context(choice.opened(self.purpose, golfer.hand))
            output = GuardedOutput(_player(fast, golfer.hand, lambda text: tell(Said(text, bad=True))))
            stack.callback(output.close)
            output.start()
            practice = stack.enter_context(
                begun(mat.link, output, whole, simulated=mat.simulated, threaded=not fast, say=remark, library=False)
            )
            self._begun: Begun = practice
            yield mat
            practice.practice.end()
            if output.trouble is not None:
                tell(Said(str(output.trouble), bad=True))
            summary = practice.practice.summary()
            seen = len(practice.practice.session.swings)
        tell(Saved(str(practice.path or ""), golfer.name, tuple(summary.lines()), seen, wish.key))

    def begin(self, mat: OpenMat, tell: Tell, courier: Courier) -> None:
        """See `Mode.begin`."""
        super().begin(mat, tell, courier)
        practice = self._practice = self._begun.practice
        self._switch = switch_for(mat.link, practice.engine, data_folder(), self._begun.about.profile_text)

    def start(self, mat: OpenMat) -> None:
        """See `Mode.start`; a mat that tells of feet goes on doing so."""
        if self._switch is None or not self._switch.on:
            super().start(mat)

    def _over_to(self, live: Live) -> None:
        if self._switch is not None and (sentence := self._switch.look(live)):
            self.tell(Said(sentence))

    def take(self, item: Stamped | Event | Gap | None) -> bool:
        """See `Mode.take`."""
        live = self._practice.take_item(item)
        if live is not None:
            # Where the band is left, whether it sounds or not: a silent block is silent for the pupil alone.
            out = "trail side" in live.out, "toes" in live.out
            self._frames.append((live.t_s, live.share, live.overall, *out))
            self._tick(live)
            if self._switch is not None and self._switch.due(live):
                self.errand = partial(self._over_to, live)
        if self.courier.free and (self._frames or item is None):
            self.courier.give(self._view())
        return self._practice.over

    def command(self, name: str, value: Any) -> None:
        """See `Mode.command`."""
        if name == "strike":
            self._practice.key(str(value))
        elif name == "strike set":
            number, strike = value
            self._practice.mend(number, strike)
        elif name == "guess":
            if not self._practice.guess(str(value)):
                self.tell(Said(NO_SWING, bad=True))
        elif name == "block":
            self._block(*value)
        elif name == "echo":
            self._practice.output.echo(value)
        elif name == "pause":
            self._practice.pause()
        elif name == "note":
            self._practice.note(str(value))
        self._show()

    def _block(self, name: str, club: str, lie: str, drill: str, line: str, order: str) -> None:
        """The next block, or the plan from now on; what it cannot be is said, and the one before goes on."""
        kind, asks = asking(name, line, order)
        self._practice.after = None
        try:
            if name == PLAN:
                plan = plan_of(self._wish.golfer)
                self._practice.drill = drill_of(plan.drill) if plan.drill else self._practice.drill
                follow_plan(plan, self._practice, lambda said: self.tell(Said(said.text, bad=said.trouble)))
                return
            chosen = drill_of(drill) if drill else None
            if name == TURNS:
                # Its blocks are of the club and lie that stand here now.
                self._practice.begin_block("baseline", club=club, lie=lie, drill=chosen)
                follow_turns(_BLOCKS, self._practice, lambda said: self.tell(Said(said.text, bad=said.trouble)))
            else:
                self._practice.begin_block(kind, club=club, lie=lie, drill=chosen, feel=asks)
        except GroundtoneError as error:
            self.tell(Said(sentence_of(error), bad=True))

    def _show(self) -> None:
        """Draws at once what somebody has just told; a held-up window gets it with the next picture."""
        if self.courier.free:
            self.courier.give(self._view())

    def _tick(self, live: Live) -> None:
        if live.phase is not self._phase:
            self._phase = live.phase
            if live.phase in _TICKS:
                self.tell(Moment(live.t_s, _TICKS[live.phase]))
        if live.ended is not None:
            if live.ended.impact is not None:
                self.tell(Moment(live.ended.impact.t_s, "impact"))
            self.tell(Moment(live.t_s, "tick"))

    def _view(self) -> PractiseView:
        practice = self._practice
        now = practice.now()
        frames = np.array(self._frames, np.float64).reshape(-1, 5)
        self._frames.clear()
        if practice.block.kind == "guess":
            # A picture of the swing would tell what is to be guessed.
            frames = frames[:0]
        # As they are now: a drill has its own, and a band may have been tightened.
        bands = practice.engine.cues.bands
        counts, blocks, session = now.counts, practice.blocks(), practice.session
        kinds = {i: block.kind for block, own in blocks for i in own}
        rows = tuple(
            LiveSwing(i + 1, kinds.get(i, ""), strike, left, ball)
            for i, (strike, left, ball) in enumerate(
                zip(practice.answering.strikes, session.left, session.ball, strict=True)
            )
        )[: practice.shown]
        blocks = [(block, [i for i in own if i < practice.shown]) for block, own in blocks]
        silent = not practice.engine.sounds
        sizes = now.live.out if now.live is not None else {}
        mine = blocks[-1][1]
        drill = practice.drill if practice.block.kind == "drill" else None
        title = f": {words_of(drill, words('en')).title}" if drill is not None else ", silent" if silent else ""
        return PractiseView(
            frames[:, 0], frames[:, 1], frames[:, 2], frames[:, 3], frames[:, 4], now.words, now.sentence,
            now.state.value, dict(sizes), practice.block.kind,
            (counts.swings, counts.inside, counts.told, counts.centre), now.told, practice.answering.last,
            practice.shown, (bands.trail, bands.toes_after),
            f"{practice.block.kind.capitalize()}{title}", sum(session.ball[i] for i in mine), practice.outside(mine),
            rows, tuple((block.kind, practice.outside(own)) for block, own in blocks if own), silent,
            practice.feel is not None and practice.feel.hides,
        )  # fmt: skip


def asking(name: str, line: str, order: str) -> tuple[str, FeelWish]:
    """The kind of a block that has a button, and how it asks; a plan brings blocks of its own."""
    moment = "impact" if name == "purpose impact" else "setup"
    kind = {PLAN: "free", TURNS: "baseline"}.get(name, name.partition(" ")[0])
    asked = HEIGHT if name == "purpose height" else line
    return kind, FeelWish(asked, moment, order, seed=secrets.randbelow(2**31))


def _player(fast: bool, hand: str, say: Callable[[str], None]) -> Output:
    # The sound is slow to load, and the window must be there first.
    from groundtone.app.tones.sounding import session_output

    return session_output(fast, None, "left" if hand == "right" else "right", say)
