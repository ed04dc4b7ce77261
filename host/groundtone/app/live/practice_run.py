"""A practice at a terminal: the mat is waited for, followed until somebody ends it, and summed up."""

from __future__ import annotations

import contextlib
import math
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from rich.console import Console

from groundtone.app.console import say, turned
from groundtone.app.json_lines import ENDS, frames_begin, keys_for, line
from groundtone.app.live.practice_screen import PractiseScreen
from groundtone.app.live.practice_setup import PracticeWish, begun, stance_of
from groundtone.app.live.recording import file_unfiled
from groundtone.app.mat import OpenMat, real_mat, twin_mat
from groundtone.app.tables import session_table
from groundtone.app.tones.sounding import GuardedOutput, session_output
from groundtone.app.twin import TwinChoice, usual_practice, with_one_panel
from groundtone.calibration.own_profile import own_profile
from groundtone.engine.practice import LOST_S, Practice
from groundtone.engine.practice_state import BlockTotal, Now, Said, State, Summary
from groundtone.errors import GroundtoneError, LinkError, LostError, Telling, ToneError, sentence_of
from groundtone.files import data_folder
from groundtone.link.base import Link, Stamped
from groundtone.link.uri import split_uri
from groundtone.onboard.switch import FeetSwitch, switch_for
from groundtone.record.unfiled import filed
from groundtone.review.strikes import CONTACT_KEYS, LINE_KEYS
from groundtone.tone.ear import Side
from groundtone.tone.settings import read_settings

# The screen is looked after this often, s.
_SHOW_S = 0.1
# Between two looks for a mat that is not there yet, s.
_LOOK_S = 1.0
_ENDS = ("q", "Q", "escape", "\r", "\n", "\x04")
ANSWERS = {
    **ENDS, "pause": " ", "next": "next", "back": "back", "u": "u", "take back": "u",
    "echo": "e", **{key: key for key in (*"0123456789d+-", *CONTACT_KEYS, *LINE_KEYS)},
}  # fmt: skip
"""What may be answered while it runs, and the key that this stands for."""
# On the simulated mat, faster than time, the sound that ends a session gets so long, s.
_LAST_S = 1.0
# So many lanes are drawn, the last ones.
_LANES = 6


@dataclass(frozen=True)
class RunWish:
    """With which mat, for how long, and what is written beside the recording.

    Attributes
    ----------
    port : str or None
        See `groundtone.app.mat.real_mat`.
    twin : TwinChoice or None
        The simulated mat instead.
    wav, out : Path or None
        The file of what sounds; a folder for that (tones.wav) and the last lanes (lanes.png).
    wait : bool
        A mat that is not there yet is waited for.
    seconds : float or None
        It ends after so long.
    search_s : float or None
        So long a mat that was lost is looked for; None: until somebody ends it.
    device_time : bool
        Only the mat's clock counts.
    """

    port: str | None = None
    twin: TwinChoice | None = None
    wav: Path | None = None
    out: Path | None = None
    wait: bool = True
    seconds: float | None = None
    search_s: float | None = None
    device_time: bool = False


def remembered_echo() -> bool:
    """As it is remembered; what cannot be read is told when the sound begins."""
    try:
        return read_settings().echo
    except ToneError:
        return True


def practise_with(console: Console, wish: PracticeWish, run: RunWish) -> Summary:
    """Practises until the golfer ends it.

    Raises
    ------
    GroundtoneError
        With one sentence, where it cannot go on; what had been measured has been shown and written by then.
    """
    if run.port is not None:
        split_uri(run.port)  # what names no link is not waited for
    stance_of(wish)
    if run.out is not None:
        _make(run.out)
    with contextlib.ExitStack() as stack:
        pressed = stack.enter_context(keys_for(console, ANSWERS))
        screen = stack.enter_context(PractiseScreen(console, "groundtone, practice"))
        mat = _waited_for(stack, screen, pressed, wish, run)
        # A profile or a mat that will not do says so before the files of an earlier session are replaced.
        own_profile(mat.link.hello, mat.layout, wish.profile)
        mat.link.start(wish.rate_hz)
        mat.link.stop()
        wav = run.out / "tones.wav" if run.out is not None else run.wav
        lead: Side = "left" if wish.golfer.hand == "right" else "right"
        output = GuardedOutput(session_output(mat.fast, wav, lead, lambda sentence: screen.say(Said(sentence))))
        stack.callback(output.close)
        screen.say(Said(f"Mat {mat.link.hello.name} {mat.place}. Sound: {output.description}. End with q or Ctrl-C."))
        practice, path, unrecorded = _follow(mat, output, wish, run, screen, pressed)
    summary = practice.summary(mat.link.statistics)
    if practice.session.swings:
        console.print(turned(session_table(practice.session.swings)))
    for sentence in summary.lines():
        say(console, sentence)
    undrawn = _draw(practice, run.out / "lanes.png") if run.out is not None else None
    if path is not None:
        _say_next(console, path)
    for trouble in (practice.session.lost, output.trouble, unrecorded, undrawn):
        if trouble is not None:
            raise trouble
    line(
        console, "result", "over", exit=0, swings=summary.swings, minutes=summary.minutes, missed=summary.missed,
        gaps=summary.gaps, tightened=summary.tightened, recording=str(path or ""),
        blocks=[_plain(total) for total in summary.blocks],
        cells=[{"row": each.row, "column": each.column, "what": each.what} for each in practice.engine.watch.ill],
    )  # fmt: skip
    return summary


def _plain(total: BlockTotal) -> dict[str, object]:
    return {
        "kind": total.block.kind, "swings": total.swings, "inside": total.inside, "heard": total.heard,
        "strikes": total.strikes.placed, "centred": total.strikes.inside, "contacts": total.strikes.contacts,
    }  # fmt: skip


def _make(folder: Path) -> None:
    with Telling(GroundtoneError, f"the folder {folder} cannot be made", "choose another"):
        folder.mkdir(parents=True, exist_ok=True)


def _opened(wish: PracticeWish, run: RunWish) -> contextlib.AbstractContextManager[OpenMat]:
    twin, panel, hand = run.twin, wish.panel, wish.golfer.hand
    if twin is None:
        return real_mat(run.port, device_time=run.device_time)
    if panel is not None:
        twin = replace(twin, mat=with_one_panel(twin.mat, panel))
    return twin_mat(twin, twin.act or usual_practice(twin.mat.seed, hand, panel))


def _waited_for(
    stack: contextlib.ExitStack,
    screen: PractiseScreen,
    pressed: Callable[[], str],
    wish: PracticeWish,
    run: RunWish,
) -> OpenMat:
    """The mat, waited for; the stack holds it."""
    told = ""
    while True:
        try:
            return stack.enter_context(_opened(wish, run))
        except LinkError as error:
            if not run.wait or run.twin is not None or isinstance(error, LostError):
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
    mat: OpenMat,
    output: GuardedOutput,
    wish: PracticeWish,
    run: RunWish,
    screen: PractiseScreen,
    pressed: Callable[[], str],
) -> tuple[Practice, Path | None, GroundtoneError | None]:
    """The practice from its first frame to its end, its recording, and why not all of it was recorded, if so."""
    link = mat.link
    lost_s = math.inf if run.device_time else LOST_S
    with begun(
        link, output, wish, simulated=mat.simulated, threaded=not mat.fast, say=screen.say, lost_s=lost_s
    ) as under_way:
        practice = under_way.practice
        where = f"Recording into {under_way.path}." if under_way.path else "Nothing is recorded (--no-record)."
        if under_way.path or not wish.record:
            screen.say(Said(where))
        mat.begin()
        link.start(wish.rate_hz)
        frames_begin(screen.console, link.hello, mat.layout, wish.rate_hz)
        output.start()
        try:
            switch = switch_for(link, practice.engine, data_folder(), under_way.about.profile_text)
            _loop(mat, practice, output, run, screen, pressed, switch)
        except KeyboardInterrupt:
            practice.end()
        except LostError as error:
            practice.lost(error)
            screen.say(Said(sentence_of(error), trouble=True))
        output.advance(_LAST_S)
        screen.swings(practice.session.swings)
        screen.show(practice.now())
        with contextlib.suppress(LinkError):
            link.stop()
        # What is written of the sound ends here; putting the recording into the library takes a while.
        output.close()
    trouble = under_way.unrecorded or (practice.log.trouble if practice.log is not None else None)
    return practice, under_way.path, trouble


def _say_next(console: Console, path: Path) -> None:
    """Where it was saved, and what to type next; what earlier sessions left is put into the library by now."""
    file_unfiled(lambda sentence: say(console, sentence))
    named = "last" if filed(data_folder(), path) else str(path)
    say(console, f"Saved in {path}.")
    say(
        console, f"'groundtone review {named}' shows its swings, 'groundtone page {named}' makes the page to take home."
    )


def _loop(
    mat: OpenMat,
    practice: Practice,
    output: GuardedOutput,
    run: RunWish,
    screen: PractiseScreen,
    pressed: Callable[[], str],
    switch: FeetSwitch | None,
) -> None:
    troubles: list[type[GroundtoneError]] = []
    shown_s, first_us = -1.0, None
    search_s = math.inf if run.search_s is None else run.search_s
    for item in mat.items(search_s):
        live = practice.take_item(item)
        if live is not None:
            screen.heard(live)
            if switch is not None and (sentence := switch.look(live)):
                screen.say(Said(sentence))
            screen.swings(practice.session.swings[: practice.shown])
        if isinstance(item, Stamped):
            mat.took()
            first_us = item.device_us if first_us is None else first_us
            passed_s = (item.device_us - first_us) * 1e-6
            if mat.over(item) or (run.seconds is not None and passed_s >= run.seconds):
                practice.end()
        if key := pressed():
            _press(practice, key)
        if practice.over:
            return
        by_mat = mat.fast or run.device_time
        now_s = item.device_us * 1e-6 if by_mat and isinstance(item, Stamped) else time.monotonic()
        if now_s - shown_s >= _SHOW_S:
            shown_s = now_s
            screen.show(_with_reason(practice.now(), mat.link))
            _tell_troubles(practice, output, screen, troubles)


def _with_reason(now: Now, link: Link) -> Now:
    """A lost mat says why it is not back yet, where that is known."""
    why = getattr(link, "why_not", "")
    return replace(now, sentence=sentence_of(LostError(why))) if now.state is State.LOST and why else now


def _press(practice: Practice, key: str) -> None:
    if practice.answering.typing and key in "\r\n":
        practice.key("enter")
    elif key in _ENDS:
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


def _draw(practice: Practice, path: Path) -> GroundtoneError | None:
    """Draws the last lanes; why that could not be, if so."""
    # Drawing is slow to load, and a session must not wait for it.
    from groundtone.app.live.lanes import draw_session

    lanes = practice.session.lanes[-_LANES:]
    try:
        bands = practice.own_rules().as_bands()
        draw_session(path, lanes, bands, [f"Swing {lane.summary.number}" for lane in lanes])
    except GroundtoneError as error:
        return error
    return None
