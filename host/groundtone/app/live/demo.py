"""The demo: a simulated golfer on the simulated mat, through the real firmware, link, analysis and sound."""

from __future__ import annotations

import contextlib
import json
import math
from dataclasses import asdict, replace
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

from groundtone.app.calibration.demo_profile import record_bench
from groundtone.app.console import say, turned
from groundtone.app.display import Display
from groundtone.app.lesson.review import show
from groundtone.app.live.judging import DemoResult, film_us, judge
from groundtone.app.live.lanes import draw_session
from groundtone.app.mat import twin_mat, why_in_process
from groundtone.app.tables import STYLE_WORDS, demo_table
from groundtone.app.tones.sounding import GuardedOutput
from groundtone.app.twin import TwinChoice
from groundtone.calibration.profile import Profile, profile_text, write_profile
from groundtone.cue.bands import Bands
from groundtone.engine.live import LiveEngine
from groundtone.engine.recording import recording
from groundtone.engine.session import Session, run
from groundtone.errors import GroundtoneError, Telling
from groundtone.link.base import Stamped
from groundtone.mat.layout import LEFT, RIGHT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.record.channels import without_nan
from groundtone.record.reader import open_recording
from groundtone.record.session import About, Golfer
from groundtone.review.session_review import Review, review
from groundtone.review.settings import settings_of
from groundtone.swing.events import Kind
from groundtone.tone.output import OfflinePlayer, Output
from groundtone.tone.player import Player
from groundtone.tone.synth import Synth
from groundtone.twin.scenario import Bench, Scenario, demo_scenario
from groundtone.twin.scenario import Session as TwinSession
from groundtone.twin.truth import truth
from groundtone.twin.world import World
from groundtone.wire.messages import Hello

RATE_HZ = 100
# A swing found live and one found in the recording are the same when their impacts are no farther apart.
SAME_SWING_S = 0.6


def calibrate(scenario: Scenario, console: Console | None = None) -> Profile:
    """The profile of the scenario's mat, from a bench run on it in fast time."""
    act = Bench(seed=scenario.mat.seed)
    bench = Scenario(scenario.mat, act)
    duration_s = World(bench).duration_s
    placements = len(act.loads_n) * scenario.mat.rows * 2 * scenario.mat.columns_per_panel
    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeRemainingColumn())
    with (
        twin_mat(TwinChoice(scenario.mat, None, True), act, firmware=True) as mat,
        Progress(*columns, console=console, disable=console is None) as progress,
    ):
        task = progress.add_task(f"calibrating the mat, {placements} simulated placements", total=duration_s)
        mat.begin()

        def on_frame(t_s: float) -> None:
            mat.took()
            progress.update(task, completed=t_s)

        profile = record_bench(mat.link, duration_s, act.loads_n, on_frame)
        progress.update(task, completed=duration_s)
    return profile


def write_result(path: Path, result: DemoResult) -> None:
    """Writes what came out as JSON; what was not measured is null there.

    Raises
    ------
    GroundtoneError
        The file cannot be written.
    """
    content = json.dumps(without_nan(asdict(result)), indent=1, allow_nan=False)
    with Telling(GroundtoneError, f"{path} cannot be written", "check the folder and the disk"):
        path.write_text(content + "\n", encoding="utf-8")


def stance_of(scenario: Scenario) -> Stance:
    """The pose of the panels, as a golfer would read it off the base rule."""
    assert isinstance(scenario.act, TwinSession)
    golfer = scenario.act.golfer
    left, right = golfer.flare_deg
    return Stance(LEFT if golfer.hand == "right" else RIGHT, golfer.stance_mm, 0.0, (left, right))


def play(
    scenario: Scenario,
    profile: Profile,
    output: Output,
    *,
    fast: bool,
    display: Display | None = None,
    record: Path | None = None,
) -> tuple[Session, DemoResult]:
    """Runs a session on the simulated mat and sets what was measured against the truth; records it where a path is."""
    known = truth(scenario)
    end_us = round(World(scenario).duration_s * 1e6)
    with twin_mat(TwinChoice(scenario.mat, None, fast), scenario.act, firmware=True) as mat:
        layout = layout_of(mat.link.hello.layout)
        profile.check_mat(mat.link.hello, layout)
        engine = LiveEngine(layout, profile.film, stance_of(scenario), Bands())

        def on_frame(item: Stamped) -> bool:
            mat.took()
            return film_us(item.device_us, mat.begin_us) >= end_us - 1_500_000 // RATE_HZ

        with contextlib.ExitStack() as held:
            log = None
            if record is not None:
                about = _about(scenario, mat.link.hello, profile)
                log = held.enter_context(recording(record, about, threaded=not fast))
            mat.begin()
            mat.link.start(RATE_HZ)
            output.start()
            session = run(
                mat.link,
                engine,
                output,
                keep=200 * RATE_HZ,
                show=(lambda live: display.show(live, engine.ready)) if display else None,
                on_swing=display.swing if display else None,
                on_frame=on_frame,
                log=log,
            )
        session.unrecorded = log.trouble if log is not None else None
        path = "firmware on MicroPython over a pseudo-terminal" if mat.process else "twin in this process"
        return session, judge(session, known, mat.begin_us, path)


def _about(scenario: Scenario, hello: Hello, profile: Profile) -> About:
    assert isinstance(scenario.act, TwinSession)
    golfer = scenario.act.golfer
    return About(
        hello,
        settings_of(stance_of(scenario), RATE_HZ, None, Bands()),
        Golfer("demo", golfer.hand, golfer.mass_kg, golfer.shoe_mm, "invented"),
        profile_text=profile_text(profile),
        simulated=True,
    )


def reviewed_as_heard(seen: Review, session: Session) -> tuple[bool, str]:
    """Whether the swings found anew in the recording are those that were found live, and a sentence about it."""
    found = [each.swing for each in seen.swings if each.swing.kind is Kind.SWING]
    same = len(found) == len(session.swings) and all(
        one.impact and two.impact and abs(one.impact.t_s - two.impact.t_s) < SAME_SWING_S
        for one, two in zip(found, session.swings, strict=True)
    )
    if same:
        return True, f"Reviewed from the recording: the same {len(found)} swings as heard live."
    return False, f"Reviewed from the recording: {len(found)} swings, but live {len(session.swings)} were heard."


def demo(
    console: Console, *, seed: int, hand: str, weight_kg: float, fast: bool, out: Path, sound: bool = True
) -> DemoResult:
    """The whole demo; writes session.mcap, tones.wav, lanes.png, profile.json and result.json into `out`.

    Raises
    ------
    GroundtoneError
        With one sentence, where it cannot go on.
    """
    try:
        scenario = demo_scenario(seed, hand, weight_kg)
    except ValueError as error:
        raise GroundtoneError(str(error)) from error
    with Telling(GroundtoneError, f"the folder {out} cannot be made", "choose another with --out"):
        out.mkdir(parents=True, exist_ok=True)
        (out / "session.mcap").unlink(missing_ok=True)
    reason = why_in_process()
    if reason is not None:
        say(console, f"The firmware does not run here: {reason} The twin runs in this process.")
    say(console, f"A simulated {hand}-handed golfer of {weight_kg:g} kg (invented) on a simulated mat, seed {seed}.")
    synth, wav = Synth(), out / "tones.wav"
    output = GuardedOutput(
        OfflinePlayer(synth, wav) if fast else Player(synth, wav, backend="auto" if sound else "null")
    )
    try:
        profile = calibrate(scenario, console)
        write_profile(out / "profile.json", profile)
        if not fast:
            say(console, f"Sound: {output.description}.")
        with Display(console, "groundtone demo", live=not fast) as display:
            session, result = play(scenario, profile, output, fast=fast, display=display, record=out / "session.mcap")
    finally:
        output.close()
    console.print(turned(demo_table(result)))
    say(
        console,
        f"{result.frames} frames over {result.path}, {result.missed} missed. 95 % of frames with both feet loaded: "
        f"lead share within {result.share_error:.3f}, centre of pressure along the foot within "
        f"{result.centre_error_mm:.1f} mm of the truth.",
    )
    if session.unrecorded is None:
        seen = review(open_recording(out / "session.mcap"))
        same, sentence = reviewed_as_heard(seen, session)
        say(console, sentence)
        show(console, seen)
        result = replace(result, reviewed=same)
    write_result(out / "result.json", result)
    found = [swing for swing in result.swings if not math.isnan(swing.share_setup[1])]
    titles = [f"Swing {swing.number}, {STYLE_WORDS.get(swing.style, swing.style)}" for swing in found]
    draw_session(out / "lanes.png", session.lanes, Bands(), titles)
    say(console, f"Written to {out}: session.mcap, tones.wav, lanes.png, profile.json, result.json")
    if session.lost is not None:
        raise session.lost
    if session.unrecorded is not None:
        raise session.unrecorded
    if output.trouble is not None:
        raise output.trouble
    return result
