"""Sets a practice up on an open link: calibration, engine and recording, and ends it in order."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from groundtone.app.live.recording import expect_filing, into_library, new_recording_path
from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.calibration.own_profile import profile_in_force
from groundtone.calibration.profile import Profile, profile_text
from groundtone.calibration.shoes.body_weight import Gains
from groundtone.cue.personal import bands_for, keep_tightened
from groundtone.cue.rulebook import Rulebook
from groundtone.cue.rulefile import default_rules
from groundtone.engine.echo_timer import GoodOnes
from groundtone.engine.feel_block import FeelWish
from groundtone.engine.live import LiveEngine
from groundtone.engine.plan_follow import PlanRun
from groundtone.engine.practice import LOST_S, Practice
from groundtone.engine.practice_state import Said
from groundtone.engine.recording import SessionLog, recording
from groundtone.errors import AwayError, GroundtoneError, RecordError, sentence_of
from groundtone.feel import plan as plans
from groundtone.feel.plan import Plan, next_of, write_plan
from groundtone.files import data_folder
from groundtone.gravity import STANDARD_GRAVITY
from groundtone.lesson.drills import drill_of
from groundtone.link.base import Link
from groundtone.mat.layout import LEFT, PANELS, RIGHT, Layout, layout_for
from groundtone.pressure.feet import Stance
from groundtone.record.library import Library
from groundtone.record.session import About, Block, Golfer
from groundtone.review.settings import settings_of
from groundtone.swing.clubs import CLUBS, club_class
from groundtone.tone.output import Output

_ONE_PANEL = (
    "Only the {panel} panel is there: stand on it with that foot, the other beside it at the same height. "
    "The toes cue sounds while you stand or rock slowly; the trail side and swings need both panels."
)


@dataclass(frozen=True)
class PracticeWish:
    """How somebody wants to practise.

    Attributes
    ----------
    block : Block
        With which it begins.
    rules : Rulebook
        When which cue sounds; see `groundtone.cue.personal.bands_for`.
    stance_mm, flare_deg : float, (float, float)
        Between the panels' centres; left and right panel, toes outward positive.
    profile : Path or None
        None: the mat's own, where there is one.
    echo : bool
        Plays each swing again, slowed.
    drill : str
        Name of the drill that a block of that kind practises; empty: the golfer's own bands are in force in it.
    gains : Gains or None
        What a check in the same shoes has found.
    lesson : str
        Recordings of one golfer with the same lesson belong together; empty: the day.
    panel : int or None
        The one panel that is there, LEFT or RIGHT: one foot stands on it and the other beside it. Only the toes cue
        sounds then, and no swing is seen (see `groundtone.engine.one_foot`).
    feel : FeelWish
        How a block asks that asks something.
    plan : Plan or None
        Is followed: what it says for today, block after block.
    turns : int
        Blocks of each kind, without the tone and with it, in turn; 0: none.
    good : bool
        After each echo the golfer's own typical good swing is heard.
    started : str
        When it begins, ISO 8601; empty: now, by the computer's clock.
    """

    golfer: Golfer = field(default_factory=Golfer)
    block: Block = field(default_factory=Block)
    rules: Rulebook = field(default_factory=default_rules)
    stance_mm: float = 400.0
    flare_deg: tuple[float, float] = (0.0, 0.0)
    rate_hz: int = 100
    profile: Path | None = None
    record: bool = True
    echo: bool = True
    drill: str = ""
    gains: Gains | None = None
    lesson: str = ""
    panel: int | None = None
    feel: FeelWish = field(default_factory=FeelWish)
    plan: Plan | None = None
    turns: int = 0
    good: bool = False
    started: str = ""


@dataclass(frozen=True)
class Begun:
    """A practice under way.

    Attributes
    ----------
    path : Path or None
        Of its recording; None where nothing is recorded.
    unrecorded : RecordError or None
        Why no recording could be begun.
    """

    practice: Practice
    path: Path | None
    about: About
    unrecorded: RecordError | None = None


def stance_of(wish: PracticeWish) -> Stance:
    """The stance of a practice that can be had.

    Raises
    ------
    GroundtoneError
        There is no such stance, or what is wanted needs both panels.
    """
    if wish.panel is not None and not wish.block.cues:
        raise GroundtoneError(
            f"a {wish.block.kind} is there to compare swings, and those need both panels: leave --block out"
        )
    try:
        return Stance(LEFT if wish.golfer.hand == "right" else RIGHT, wish.stance_mm, flare_deg=wish.flare_deg)
    except ValueError as error:
        raise GroundtoneError(str(error)) from error


@contextlib.contextmanager
def begun(
    link: Link,
    output: Output,
    wish: PracticeWish,
    *,
    simulated: bool = False,
    threaded: bool = True,
    say: Callable[[Said], None] | None = None,
    library: bool = True,
    lost_s: float = LOST_S,
) -> Iterator[Begun]:
    """A practice on an open link that is not started; recorded, and put into the library at the end.

    Parameters
    ----------
    link : Link
        Its owner starts, stops and closes it.
    output : Output
        Its owner starts and closes it.
    simulated : bool
        The mat is the twin.
    threaded : bool
        False where the session is faster than time: the loop itself writes the recording.
    say : callable, optional
        Takes each `Said`.
    library : bool
        False: its owner puts the recording into the library, which takes a while.
    lost_s : float
        See `Practice`.

    Raises
    ------
    GroundtoneError
        The mat's layout or its profile will not do, or the stance.
    """
    tell = say or (lambda said: None)
    drill = drill_of(wish.drill) if wish.drill else None
    layout = layout_for(link.hello)
    stance = stance_of(wish)
    known, sentences = profile_in_force(link.hello, layout, wish.profile)
    if wish.panel is not None:
        sentences.append(_ONE_PANEL.format(panel=PANELS[wish.panel]))
    for sentence in sentences:
        tell(Said(sentence))
    engine = _engine_for(wish, layout, stance, known)
    about = About(
        link.hello,
        settings_of(stance, wish.rate_hz, wish.golfer.shoe_mm, wish.rules.as_bands(), wish.panel, wish.rules),
        wish.golfer,
        wish.block,
        profile_text(known) if known is not None else None,
        lesson=wish.lesson, simulated=simulated, **({"started": wish.started} if wish.started else {}),
    )  # fmt: skip
    path = new_recording_path(about) if wish.record else None
    with contextlib.ExitStack() as held:
        log: SessionLog | None = None
        unrecorded: RecordError | None = None
        if path is not None:
            try:
                expect_filing(path, library)
                log = held.enter_context(recording(path, about, threaded=threaded))
            except RecordError as error:
                tell(Said(f"{sentence_of(error)} The session goes on without.", trouble=True))
                path, unrecorded = None, error
        practice = Practice(
            engine, output, log, wish.block, settings=about.settings, drill=drill, echo=wish.echo, say=say,
            lost_s=lost_s, by_radio=getattr(link, "by_radio", False), rules_of=_rules_by_club(wish), feel=wish.feel,
            good=_good_ones(wish),
        )  # fmt: skip
        follow_plan(wish.plan, practice, tell, wish.turns)
        try:
            yield Begun(practice, path, about, unrecorded)
        finally:
            held.close()
            if wish.golfer.name:
                _keep_bands(wish.golfer.name, practice, tell)
            if library and path is not None and (sentence := into_library(path)):
                tell(Said(sentence_of(GroundtoneError(sentence)), trouble=True))
            if log is not None and log.trouble is not None:
                tell(Said(sentence_of(log.trouble), trouble=True))


def _rules_by_club(wish: PracticeWish) -> Callable[[str], Rulebook] | None:
    """The golfer's rules with a club; None where nobody is named, or where other rules than theirs are wished for."""
    if not wish.golfer.name:
        return None
    own = {club: bands_for(wish.golfer.name, club=club) for club in (wish.block.club, *CLUBS)}
    if own[wish.block.club] != wish.rules:
        return None
    return lambda club: own.get(club, own.get(club_class(club), wish.rules))


def _engine_for(wish: PracticeWish, layout: Layout, stance: Stance, known: Profile | None) -> LiveEngine:
    film = known.film if known is not None else Film(typical_curves(layout.rows, layout.columns))
    mass_kg = wish.golfer.mass_kg
    return LiveEngine(
        layout,
        film,
        stance,
        wish.rules,
        wish.golfer.shoe_mm,
        weight_n=None if mass_kg is None else mass_kg * STANDARD_GRAVITY,
        gains=wish.gains,
        panel=wish.panel,
    )


def _good_ones(wish: PracticeWish) -> GoodOnes | None:
    """The golfer's good swings, those of earlier sessions too where the library knows them; None: not wanted."""
    if not wish.good or not wish.golfer.name:
        return GoodOnes() if wish.good else None
    # It measures what has not been measured yet: half a second to import.
    from groundtone.review.feel_log import good_paths

    with contextlib.suppress(AwayError), Library(data_folder()) as library:
        known = library.knows(wish.golfer.name)
        return GoodOnes(good_paths(library, wish.golfer.name) if known else None)
    return GoodOnes()


def follow_plan(plan: Plan | None, practice: Practice, tell: Callable[[Said], None], turns: int = 0) -> None:
    """Lets a practice go through what a plan says for today; what is hit is kept ball by ball.

    Without a plan `turns` blocks of each kind are followed, if any (`follow_turns`).

    Raises
    ------
    GroundtoneError
        It says nothing for today.
    """
    if plan is None:
        if turns:
            follow_turns(turns, practice, tell)
        return
    day = plans.today()
    now = next_of(plan, day)
    if not now.balls:
        raise GroundtoneError(now.sentence)
    tell(Said(now.sentence))
    latest = max(day, plan.seen)

    def hit(balls: int) -> None:
        whole = balls == len(now.balls)
        if plan.practised:
            fresh = replace(plan, seen=latest, kept=latest if whole else "")
        else:
            fresh = replace(plan, seen=latest, done=plan.done + balls, practised=latest if whole else "")
        try:
            write_plan(fresh)
        except GroundtoneError as error:
            tell(Said(f"{sentence_of(error)} What is hit is not kept.", trouble=True))

    practice.after = PlanRun(practice, now.balls, plan.clubs, hit, tell).after


def follow_turns(blocks: int, practice: Practice, tell: Callable[[Said], None]) -> None:
    """Lets a practice go through short blocks without the tone and with it, in turn.

    Raises
    ------
    GroundtoneError
        There are too few or too many.
    """
    balls = plans.in_turn(blocks, practice.block.club, plans.TURN_BALLS)
    practice.after = PlanRun(
        practice, balls, (practice.block.club,), lambda hit: None, tell,
        "All blocks are hit: what the tone does is in the comparison now.",
    ).after  # fmt: skip
    tell(Said(f"Blocks in turn: {blocks} without the tone and {blocks} with it, {plans.TURN_BALLS} balls each."))


def _keep_bands(golfer: str, practice: Practice, tell: Callable[[Said], None]) -> None:
    """Keeps the limits that tightening has moved; what cannot be written is told and changes nothing."""
    try:
        kept = [keep_tightened(golfer, book, club=club) for club, book in practice.rules_by_club().items()]
        if any(kept):
            tell(Said("The tightened bands are kept for the next time."))
    except GroundtoneError as error:
        tell(Said(f"{sentence_of(error)} The tightened bands are not kept.", trouble=True))
