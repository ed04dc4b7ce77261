"""A session on a real mat."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console

from groundtone.app.display import Display
from groundtone.app.lanes import draw_session
from groundtone.app.session import run
from groundtone.app.tables import session_table
from groundtone.calibration.curve import typical_curves
from groundtone.calibration.film import Film
from groundtone.calibration.profile import read_profile
from groundtone.cue.bands import Bands
from groundtone.cue.live import LiveEngine
from groundtone.errors import GroundtoneError
from groundtone.link.base import Stamped
from groundtone.link.find import find_mat
from groundtone.link.serial_link import SerialLink
from groundtone.mat.layout import LEFT, RIGHT, Layout, layout_of
from groundtone.pressure.feet import Stance
from groundtone.tone.player import Player
from groundtone.tone.synth import Synth
from groundtone.wire.messages import Hello

# Frames kept: the swing under way and the ones before it, never a whole afternoon.
_KEEP_S = 30


def film_for(hello: Hello, layout: Layout, profile: Path | None, console: Console) -> Film:
    """The mat's film from its profile, or the typical one with a warning."""
    if profile is None:
        console.print(
            "No profile was given: forces are a guess from the typical film, cells differ by a quarter. "
            "Calibrate the mat and name its profile with --profile.",
            highlight=False,
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
) -> int:
    """Follows a real mat until Ctrl-C, `seconds` have passed, or the mat is lost; the number of swings.

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
        output = Player(Synth(), out / "tones.wav" if out is not None else None)
        console.print(f"Mat {link.hello.name} at {link.port}. Sound: {output.description}. End with Ctrl-C.")
        first_us: list[int] = []

        def on_frame(item: Stamped) -> bool:
            first_us.append(item.device_us) if not first_us else None
            return seconds is not None and (item.device_us - first_us[0]) * 1e-6 >= seconds

        try:
            link.start(rate_hz)
            output.start()
            with Display(console, f"groundtone, {link.hello.name}") as display:
                session = run(
                    link,
                    engine,
                    output,
                    keep=_KEEP_S * rate_hz,
                    show=lambda live: display.show(live, engine.ready),
                    on_swing=display.swing,
                    on_frame=on_frame,
                )
        finally:
            output.close()
        for sentence in session.said:
            console.print(f"The mat says: {sentence}", highlight=False)
        if session.swings:
            console.print(session_table(session.swings))
        if out is not None:
            lanes = session.lanes[-6:]
            draw_session(out / "lanes.png", lanes, Bands(), [f"Swing {lane.summary.number}" for lane in lanes])
        console.print(f"{len(session.swings)} swings, {session.missed} frames missed.", highlight=False)
        if session.lost is not None:
            raise session.lost
        return len(session.swings)
