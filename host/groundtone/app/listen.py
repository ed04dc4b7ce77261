"""A session on a real mat."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console

from groundtone.app.display import Display, say, sentence_of
from groundtone.app.guarded import GuardedOutput
from groundtone.app.lanes import draw_session
from groundtone.app.session import Session, run
from groundtone.app.tables import session_table
from groundtone.calibration.curve import typical_curves
from groundtone.calibration.film import Film
from groundtone.calibration.profile import read_profile
from groundtone.cue.bands import Bands
from groundtone.cue.live import Live, LiveEngine
from groundtone.errors import GroundtoneError
from groundtone.link.base import LinkStatistics, Stamped
from groundtone.link.find import find_mat
from groundtone.link.serial_link import SerialLink
from groundtone.mat.layout import LEFT, RIGHT, Layout, layout_of
from groundtone.pressure.feet import Stance
from groundtone.tone.errors import ToneError
from groundtone.tone.output import Output
from groundtone.tone.player import Player
from groundtone.tone.synth import Synth
from groundtone.wire.messages import Hello

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


def film_for(hello: Hello, layout: Layout, profile: Path | None, console: Console) -> Film:
    """The mat's film from its profile, or the typical one with a warning."""
    if profile is None:
        say(
            console,
            "No profile was given: forces are a guess from the typical film, cells differ by a quarter. "
            "Calibrate the mat and name its profile with --profile.",
        )
        return Film(typical_curves(layout.rows, layout.columns))
    known = read_profile(profile)
    known.check_mat(hello, layout)
    return known.film


def listen(
    console: Console,
    *,
    port: str | None,
    profile: Path | None,
    hand: str,
    rate_hz: int,
    stance_mm: float,
    shoe_mm: float | None,
    seconds: float | None,
    out: Path | None,
) -> None:
    """Follows a real mat until Ctrl-C, `seconds` have passed, or the mat is lost.

    Raises
    ------
    GroundtoneError
        With one sentence, where it cannot go on; what had been measured has been shown and written by then.
    """
    try:
        stance = Stance(LEFT if hand == "right" else RIGHT, stance_mm)
    except ValueError as error:
        raise GroundtoneError(str(error)) from error
    if out is not None:
        try:
            out.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise GroundtoneError(f"the folder {out} cannot be made ({error.strerror}): choose another") from error
    with SerialLink(port or find_mat()) as link:
        layout = layout_of(link.hello.layout)
        if (layout.rows, layout.columns) != (link.hello.rows, link.hello.columns):
            raise GroundtoneError(
                f"the mat scans {link.hello.rows} x {link.hello.columns} cells and its layout {layout.id} has "
                f"{layout.rows} x {layout.columns}: set the mat's layout"
            )
        engine = LiveEngine(layout, film_for(link.hello, layout, profile, console), stance, Bands(), shoe_mm)
        # A mat that refuses says so before the files of an earlier session are replaced.
        link.start(rate_hz)
        link.stop()
        output = GuardedOutput(Player(Synth(), out / "tones.wav" if out is not None else None))
        say(console, f"Mat {link.hello.name} at {link.port}. Sound: {output.description}. End with Ctrl-C.")
        try:
            link.start(rate_hz)
            output.start()
            with Display(console, f"groundtone, {link.hello.name}") as display:
                session = _follow(link, engine, output, display, rate_hz, seconds)
        finally:
            output.close()
        _report(console, session, link.statistics)
        if out is not None:
            _draw(console, session, out / "lanes.png")
        if session.lost is not None:
            raise session.lost
        if output.trouble is not None:
            raise output.trouble


def _follow(
    link: SerialLink, engine: LiveEngine, output: Output, display: Display, rate_hz: int, seconds: float | None
) -> Session:
    first_us: list[int] = []
    late = LateWatch()
    troubles: list[ToneError] = []

    def on_frame(item: Stamped) -> bool:
        if not first_us:
            first_us.append(item.device_us)
        if (sentence := late.step(item)) is not None:
            display.note(sentence)
        return seconds is not None and (item.device_us - first_us[0]) * 1e-6 >= seconds

    def show(live: Live) -> None:
        display.show(live, engine.ready)
        if output.trouble is not None and not troubles:
            troubles.append(output.trouble)
            display.note(f"{sentence_of(output.trouble)} Measuring goes on.")

    return run(link, engine, output, keep=_KEEP_S * rate_hz, show=show, on_swing=display.swing, on_frame=on_frame)


def _report(console: Console, session: Session, counts: LinkStatistics) -> None:
    for sentence in session.said:
        say(console, f"The mat says: {sentence}")
    if session.swings:
        console.print(session_table(session.swings))
    damaged = counts.stream.bad + counts.stream.oversized
    dropped = f", {damaged} damaged messages dropped (a bad cable or plug makes them)" if damaged else ""
    swings = "1 swing" if len(session.swings) == 1 else f"{len(session.swings)} swings"
    say(console, f"{swings}, {session.missed} frames missed{dropped}.")


def _draw(console: Console, session: Session, path: Path) -> None:
    lanes = session.lanes[-6:]
    try:
        draw_session(path, lanes, Bands(), [f"Swing {lane.summary.number}" for lane in lanes])
    except GroundtoneError as error:
        say(console, sentence_of(error))
