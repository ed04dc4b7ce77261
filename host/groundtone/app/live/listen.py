"""A session on a real mat, or on the simulated one in its place."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console

from groundtone.app.display import Display, say, sentence_of
from groundtone.app.live.listen_mat import followed_mat
from groundtone.app.live.recording import Wish, into_library, known_golfer, new_recording_path
from groundtone.app.tables import session_table
from groundtone.app.tones.guarded import GuardedOutput
from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.calibration.profile import Profile, profile_text, read_profile
from groundtone.cue.bands import Bands
from groundtone.cue.personal import bands_for
from groundtone.engine.live import Live, LiveEngine
from groundtone.engine.recording import SessionLog, recording
from groundtone.engine.session import Session, run
from groundtone.errors import GroundtoneError
from groundtone.link.base import Link, LinkStatistics, Stamped
from groundtone.link.rate import RateWatch
from groundtone.mat.layout import LEFT, PANELS, RIGHT, Layout, layout_of
from groundtone.pressure.feet import Stance
from groundtone.record.errors import RecordError
from groundtone.record.session import About
from groundtone.review.settings import settings_of
from groundtone.tone.output import Output
from groundtone.tone.pan import Side
from groundtone.wire.messages import Hello

if TYPE_CHECKING:
    from groundtone.app.opening import TwinChoice

# Frames this late, for this long: what is heard is no longer what happens.
_LATE_S, _LATE_FOR_S = 0.1, 0.5
# Frames kept: the swing under way and the ones before it, never a whole afternoon.
_KEEP_S = 30


class LateWatch:
    """Notices, once, that frames come late and go on doing so."""

    def __init__(self) -> None:
        self._since_us: int | None = None
        self._said = False

    def step(self, item: Stamped) -> str | None:
        """A sentence with the frame at which it is due."""
        if item.age_s <= _LATE_S:
            self._since_us = None
            return None
        if self._since_us is None:
            self._since_us = item.device_us
        if self._said or item.device_us - self._since_us < _LATE_FOR_S * 1e6:
            return None
        self._said = True
        return f"Frames come {item.age_s:.1f} s late: close other programs, or choose a lower --rate."


def profile_for(hello: Hello, layout: Layout, path: Path | None, console: Console) -> Profile | None:
    """The mat's profile; without one a warning is given."""
    if path is None:
        say(
            console,
            "No profile was given: forces are a guess from the typical film, cells differ by a quarter. "
            "Calibrate the mat and name its profile with --profile.",
        )
        return None
    known = read_profile(path)
    known.check_mat(hello, layout)
    from groundtone.app.calibration.check_run import with_newest_check

    return with_newest_check(known, path, console)


def listen(
    console: Console,
    *,
    port: str | None,
    profile: Path | None,
    hand: str | None,
    rate_hz: int,
    stance_mm: float,
    shoe_mm: float | None,
    seconds: float | None,
    out: Path | None,
    wish: Wish | None = None,
    panel: int | None = None,
    twin: TwinChoice | None = None,
    search_s: float = 60.0,
) -> None:
    """Follows a mat until Ctrl-C, `seconds` have passed, the twin's film is over, or the mat is lost.

    With `panel`, the one that is there, one foot stands on it and the other on the ground beside it: only the toes cue
    sounds, and no swing is seen (see `groundtone.engine.one_foot`).

    Raises
    ------
    GroundtoneError
        With one sentence, where it cannot go on; what had been measured has been shown and written by then.
    """
    wish = wish or Wish()
    golfer = known_golfer(wish.golfer, hand, shoe_mm)
    rules = bands_for(golfer.name)
    block = wish.first_block()
    if panel is not None and not block.cues:
        raise GroundtoneError(
            f"a {block.kind} is there to compare swings, and those need both panels: leave --block out"
        )
    try:
        stance = Stance(LEFT if golfer.hand == "right" else RIGHT, stance_mm)
    except ValueError as error:
        raise GroundtoneError(str(error)) from error
    if out is not None:
        try:
            out.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise GroundtoneError(f"the folder {out} cannot be made ({error.strerror}): choose another") from error
    with followed_mat(port, twin, golfer.hand, panel) as mat:
        link = mat.link
        layout = layout_of(link.hello.layout)
        if (layout.rows, layout.columns) != (link.hello.rows, link.hello.columns):
            raise GroundtoneError(
                f"the mat scans {link.hello.rows} x {link.hello.columns} cells and its layout {layout.id} has "
                f"{layout.rows} x {layout.columns}: set the mat's layout"
            )
        known = profile_for(link.hello, layout, profile, console)
        film = known.film if known is not None else Film(typical_curves(layout.rows, layout.columns))
        engine = LiveEngine(layout, film, stance, rules, golfer.shoe_mm, cues=block.cues, panel=panel)
        # A mat that refuses says so before the files of an earlier session are replaced.
        link.start(rate_hz)
        link.stop()
        wav = out / "tones.wav" if out is not None else None
        lead: Side = "left" if stance.lead == LEFT else "right"
        output = GuardedOutput(mat.player(wav, lead, lambda sentence: say(console, sentence)))
        about = About(
            link.hello,
            settings_of(stance, rate_hz, golfer.shoe_mm, rules.as_bands(), panel, rules),
            golfer,
            block,
            profile_text(known) if known is not None else None,
            simulated=mat.simulated,
        )
        path = new_recording_path(about) if wish.record else None
        say(console, f"Mat {link.hello.name} {mat.place}. Sound: {output.description}. End with Ctrl-C.")
        say(console, f"Recording into {path}." if path is not None else "Nothing is recorded (--no-record).")
        if not block.cues:
            say(console, f"A {block.kind} is silent: no cue sounds, only the ticks.")
        if panel is not None:
            say(console, _one_panel_words(panel))
        ends_s = min(filter(None, (seconds, mat.over_s)), default=None)
        try:
            with contextlib.ExitStack() as held:
                log, unrecorded = None, None
                if path is not None:
                    try:
                        log = held.enter_context(recording(path, about, threaded=not mat.fast))
                    except RecordError as error:
                        unrecorded = error
                        say(console, f"{sentence_of(error)} The session goes on without.")
                link.start(rate_hz)
                output.start()
                with Display(console, f"groundtone, {link.hello.name}") as display:
                    session = _follow(link, engine, output, display, rate_hz, ends_s, log, search_s)
        finally:
            output.close()
        if path is not None and unrecorded is None and (sentence := into_library(path)):
            say(console, sentence_of(GroundtoneError(sentence)))
        _report(console, session, link.statistics)
        if out is not None:
            _draw(console, session, rules.as_bands(), out / "lanes.png")
        if session.lost is not None:
            raise session.lost
        if output.trouble is not None:
            raise output.trouble
        if unrecorded is not None:
            raise unrecorded
        if log is not None and log.trouble is not None:
            raise log.trouble


def _one_panel_words(panel: int) -> str:
    return (
        f"Only the {PANELS[panel]} panel is there: stand on it with that foot, the other beside it at the same height. "
        "The toes cue sounds while you stand or rock slowly; the trail side and swings need both panels."
    )


def _follow(
    link: Link,
    engine: LiveEngine,
    output: Output,
    display: Display,
    rate_hz: int,
    seconds: float | None,
    log: SessionLog | None,
    search_s: float,
) -> Session:
    first_us: list[int] = []
    late, quick = LateWatch(), RateWatch()
    troubles: list[GroundtoneError] = []

    def on_frame(item: Stamped) -> bool:
        if not first_us:
            first_us.append(item.device_us)
        for sentence in (late.step(item), quick.step(item)):
            if sentence is not None:
                display.note(sentence)
        return seconds is not None and (item.device_us - first_us[0]) * 1e-6 >= seconds

    def show(live: Live) -> None:
        display.show(live, engine.ready)
        for trouble in (output.trouble, log.trouble if log is not None else None):
            if trouble is not None and not any(type(trouble) is type(told) for told in troubles):
                troubles.append(trouble)
                display.note(f"{sentence_of(trouble)} Measuring goes on.")

    return run(
        link, engine, output, keep=_KEEP_S * rate_hz, show=show, on_swing=display.swing, on_frame=on_frame, log=log,
        search_s=search_s,
    )  # fmt: skip


def _report(console: Console, session: Session, counts: LinkStatistics) -> None:
    for sentence in session.said:
        say(console, f"The mat says: {sentence}")
    for sentence in session.noticed:
        say(console, sentence)
    if session.swings:
        console.print(session_table(session.swings))
    damaged = counts.stream.bad + counts.stream.oversized
    dropped = f", {damaged} damaged messages dropped (a bad cable or plug makes them)" if damaged else ""
    if session.gaps:
        times = "once" if session.gaps == 1 else f"{session.gaps} times"
        say(console, f"The mat was away {times}; what came before and after is in one recording.")
    if counts.surplus:
        say(console, f"{counts.surplus} frames more than asked for were left out: the mat sends faster than it says.")
    swings = "1 swing" if len(session.swings) == 1 else f"{len(session.swings)} swings"
    say(console, f"{swings}, {session.missed} frames missed{dropped}.")


def _draw(console: Console, session: Session, bands: Bands, path: Path) -> None:
    # Drawing is slow to load, and a session must not wait for it.
    from groundtone.app.live.lanes import draw_session

    lanes = session.lanes[-6:]
    try:
        draw_session(path, lanes, bands, [f"Swing {lane.summary.number}" for lane in lanes])
    except GroundtoneError as error:
        say(console, sentence_of(error))
