"""The command `groundtone practise`: step on, hit balls, hear it; nothing on the computer has to be touched."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import click
from rich.console import Console

from groundtone.app.arguments import Number
from groundtone.app.keys import keys
from groundtone.app.live.listen_mat import Followed, followed_mat
from groundtone.app.live.practice_screen import PractiseScreen
from groundtone.app.live.practice_setup import PracticeWish, begun
from groundtone.app.live.recording import Wish, known_golfer
from groundtone.app.opening import TwinChoice, twin_choice
from groundtone.app.saying import say, sentence_of
from groundtone.app.tones.guarded import GuardedOutput
from groundtone.cue.personal import bands_for
from groundtone.engine.practice import Practice, Said
from groundtone.engine.practice_state import Now, State
from groundtone.engine.practice_summary import Summary
from groundtone.errors import GroundtoneError, LinkError, LostError
from groundtone.link.base import Link, Stamped
from groundtone.link.uri import split_uri
from groundtone.record.session import BLOCK_KINDS
from groundtone.tone.errors import ToneError
from groundtone.tone.pan import Side
from groundtone.tone.settings import read_settings

# The screen is looked after this often, s.
_SHOW_S = 0.1
# Between two looks for a mat that is not there yet, s.
_LOOK_S = 1.0
_ENDS = ("q", "Q", "escape", "\r", "\n", "\x04")
# On the simulated mat, faster than time, the sound that ends a session gets so long, s.
_LAST_S = 1.0


@click.command()
@click.option("--port", help="Where the mat is (a serial port or a link's address); without it the one that answers.")
@click.option("--profile", type=click.Path(dir_okay=False, path_type=Path), help="A calibration; else the mat's own.")
@click.option("--golfer", default="", help="Code name; bands, shoes and hand are theirs, and the session goes to them.")
@click.option("--hand", type=click.Choice(["right", "left"]), help="Without it as the library has it, else right.")
@click.option("--shoe", type=Number(150, 360, "mm"), help="Outer length of the shoes, mm, where it is known.")
@click.option("--stance", type=Number(100, 900, "mm"), default=400.0, show_default=True, help="Between panels, mm.")
@click.option("--rate", type=click.IntRange(50, 200), default=100, show_default=True, help="Frames a second.")
@click.option("--block", type=click.Choice(BLOCK_KINDS), default="free", show_default=True)
@click.option("--drill", default="", help="Practise this drill (docs/page.md): its cue and its limit are on.")
@click.option("--club", default="", help="The club, in your words.")
@click.option("--lie", type=click.Choice(["mat", "turf", "tee"]), default=None, help="Where the ball lies.")
@click.option("--usual", type=Number(1, 400, "m"), help="Usual distance with this club, m.")
@click.option("--echo/--no-echo", default=None, help="Play each swing again, slowed, or not; else as 'sound' has it.")
@click.option("--record/--no-record", default=True, help="Record the session (the default), or not.")
@click.option("--wav", type=click.Path(dir_okay=False, path_type=Path), help="Write what sounds into this file.")
@click.option("--wait/--no-wait", default=True, help="Wait until a mat is switched on (the default), or give up.")
@click.option("--twin", is_flag=False, flag_value="1", help="Try it on the simulated mat of this seed (or scenario).")
@click.option("--layout", default="reference-16x4", show_default=True, help="Layout of the simulated mat.")
@click.option("--fast", is_flag=True, help="The simulated mat as fast as it can; nothing is heard.")
def practise(
    port: str | None,
    profile: Path | None,
    golfer: str,
    hand: str | None,
    shoe: float | None,
    stance: float,
    rate: int,
    block: str,
    drill: str,
    club: str,
    lie: str | None,
    usual: float | None,
    echo: bool | None,
    record: bool,
    wav: Path | None,
    wait: bool,
    twin: str | None,
    layout: str,
    fast: bool,
) -> None:
    """Practise: step on, rock once, hit balls, and hear each of them.

    It waits for the mat, follows you, records, and goes on by itself when the mat was lost. After the tick of a swing
    tell the strike with a tap of the foot (lead toe: towards the toe, lead heel: the heel, trail foot: fat, trail toe:
    thin; a tap of the other foot takes it back), a key, or a presenter's remote. Step off for a pause; hold the mat's
    button, or press q, to end.
    """
    if twin is not None and port is not None:
        raise GroundtoneError("--port names a real mat and --twin a simulated one: give one of them")
    choice = twin_choice(twin, layout, fast) if twin is not None or fast else None
    told = Wish(record, golfer, "drill" if drill else block, club, lie or "", usual)
    person = known_golfer(golfer, hand, shoe)
    wish = PracticeWish(
        person,
        told.first_block(),
        bands_for(person.name),
        stance_mm=stance,
        rate_hz=rate,
        profile=profile,
        drill=drill,
        record=record,
        echo=_remembered_echo() if echo is None else echo,
    )
    practise_with(Console(), wish, port=port, twin=choice, wav=wav, wait=wait)


def practise_with(
    console: Console,
    wish: PracticeWish,
    *,
    port: str | None = None,
    twin: TwinChoice | None = None,
    wav: Path | None = None,
    wait: bool = True,
) -> Summary:
    """Practises until the golfer ends it.

    Raises
    ------
    GroundtoneError
        With one sentence, where it cannot go on; what had been measured has been shown and written by then.
    """
    if port is not None:
        split_uri(port)  # what names no link is not waited for
    with contextlib.ExitStack() as stack:
        pressed = stack.enter_context(keys())
        screen = stack.enter_context(PractiseScreen(console, "groundtone, practice"))
        mat = _mat(stack, screen, pressed, wish, port, twin, wait=wait)
        lead: Side = "left" if wish.golfer.hand == "right" else "right"
        output = GuardedOutput(mat.player(wav, lead, lambda sentence: screen.say(Said(sentence))))
        stack.callback(output.close)
        summary = _follow(mat, output, wish, screen, pressed)
    for line in summary.lines():
        say(console, line)
    if output.trouble is not None:
        raise output.trouble
    return summary


def _remembered_echo() -> bool:
    """As it is remembered; what cannot be read is told when the sound begins."""
    try:
        return read_settings().echo
    except ToneError:
        return True


def _mat(
    stack: contextlib.ExitStack,
    screen: PractiseScreen,
    pressed: Callable[[], str],
    wish: PracticeWish,
    port: str | None,
    twin: TwinChoice | None,
    *,
    wait: bool,
) -> Followed:
    """The mat, waited for; the stack holds it."""
    told = ""
    while True:
        try:
            return stack.enter_context(followed_mat(port, twin, wish.golfer.hand, None))
        except LinkError as error:
            if not wait or twin is not None or isinstance(error, LostError):
                raise
            if (sentence := sentence_of(error)) != told:
                told = sentence
                screen.say(Said(f"{sentence} Waiting for it."))
        screen.wait("switch the mat on", "It is looked for once a second.")
        until = time.monotonic() + _LOOK_S
        while time.monotonic() < until:
            if pressed() in _ENDS:
                raise GroundtoneError("ended before a mat was there")
            time.sleep(_SHOW_S)


def _follow(
    mat: Followed, output: GuardedOutput, wish: PracticeWish, screen: PractiseScreen, pressed: Callable[[], str]
) -> Summary:
    link = mat.link
    troubles: list[type[GroundtoneError]] = []
    with begun(link, output, wish, simulated=mat.simulated, threaded=not mat.fast, say=screen.say) as under_way:
        practice = under_way.practice
        link.start(wish.rate_hz)
        output.start()
        shown_s, first_us = -1.0, None
        try:
            for item in link.frames():
                practice.take(item)
                if isinstance(item, Stamped):
                    first_us = item.device_us if first_us is None else first_us
                    passed_s = (item.device_us - first_us) * 1e-6
                    if mat.over_s is not None and passed_s >= mat.over_s:
                        practice.end()
                if key := pressed():
                    _key(practice, key)
                if practice.over:
                    break
                now_s = item.device_us * 1e-6 if mat.fast and isinstance(item, Stamped) else time.monotonic()
                if now_s - shown_s >= _SHOW_S:
                    shown_s = now_s
                    screen.show(_with_reason(practice.now(), link))
                    _tell_troubles(practice, output, screen, troubles)
        except KeyboardInterrupt:
            practice.end()
        except LostError as error:
            practice.end()
            screen.say(Said(sentence_of(error), trouble=True))
        output.advance(_LAST_S)
        screen.show(practice.now())
        summary = practice.summary()
        with contextlib.suppress(LinkError):
            link.stop()
    return summary


def _with_reason(now: Now, link: Link) -> Now:
    """A lost mat says why it is not back yet, where that is known."""
    why = getattr(link, "why_not", "")
    return replace(now, sentence=sentence_of(LostError(why))) if now.state is State.LOST and why else now


def _key(practice: Practice, key: str) -> None:
    if key in _ENDS:
        practice.end()
    elif key == " ":
        practice.pause()
    else:
        practice.key(key)


def _tell_troubles(
    practice: Practice, output: GuardedOutput, screen: PractiseScreen, told: list[type[GroundtoneError]]
) -> None:
    """Says once what has gone wrong beside the measuring, which goes on."""
    log = practice.log
    for trouble in (output.trouble, log.trouble if log is not None else None):
        if trouble is not None and type(trouble) not in told:
            told.append(type(trouble))
            screen.say(Said(f"{sentence_of(trouble)} Measuring goes on.", trouble=True))
