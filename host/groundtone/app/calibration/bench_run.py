"""`groundtone calibrate bench`: weights in, guided hands, a profile out; nothing that was taken is ever lost."""

from __future__ import annotations

import contextlib
import datetime
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from rich.console import Console

from groundtone.app.calibration.bench_loop import ANSWERS, FAST_HZ, RATE_HZ, BenchLoop, Ending
from groundtone.app.calibration.bench_screen import BenchScreen
from groundtone.app.calibration.strip import without_strip
from groundtone.app.console import say
from groundtone.app.json_lines import keys_for, line
from groundtone.app.mat import real_mat, twin_mat
from groundtone.app.tones.sounding import sound_for
from groundtone.app.twin import TwinChoice
from groundtone.calibration.fitting.fit import Fit, film_from_placements
from groundtone.calibration.fitting.fit_notes import notes_of
from groundtone.calibration.guided.bench_plan import PLACEMENT_S, expected, plan_bench
from groundtone.calibration.guided.guide import BenchGuide
from groundtone.calibration.guided.remarks import What, cell_words, minutes_words, remark_words
from groundtone.calibration.guided.run_log import RunHead, RunLog, read_run
from groundtone.calibration.guided.weight_sets import WeightSet
from groundtone.calibration.guided.worklist import Step, coverage_of, draw_coverage
from groundtone.calibration.own_profile import profile_path, run_path, set_aside
from groundtone.calibration.pooled_films import expected_here
from groundtone.calibration.profile import Profile, write_profile
from groundtone.errors import CalibrationError, LostError, sentence_of
from groundtone.files import try_place
from groundtone.mat.layout import Layout, layout_of
from groundtone.twin.scenario import Bench, Put

SIMULATED = "simulated: made on the twin, by simulated hands"
# How often the simulated hands may begin anew after something was refused or gave no answer.
_ROUNDS = 60

# Cells with two loads or more from which on their agreement means something.
_LEAST_TWICE = 6


@dataclass(frozen=True)
class BenchWish:
    """What was asked for on the command line.

    Attributes
    ----------
    weights : WeightSet or None
        None where a run goes on.
    minutes : float
        No plan is longer.
    profile : Path or None
        Where the profile goes; None is the mat's own place.
    wait_s : float
        How long a lost mat is waited for, s.
    map_path : Path or None
        Where a picture of the coverage goes in the end.
    device_time : bool
        Only the mat's clock counts.
    strip : (str, int) or None
        Panel and column of a strip of film that was replaced: its cells are taken again.
    """

    weights: WeightSet | None
    minutes: float
    port: str | None
    twin: TwinChoice | None
    resume: bool
    anew: bool
    profile: Path | None
    wait_s: float
    map_path: Path | None = None
    device_time: bool = False
    strip: tuple[str, int] | None = None


def bench(console: Console, wish: BenchWish) -> bool:
    """The whole procedure; True where the mat is without fault and everything was taken.

    Raises
    ------
    GroundtoneError
        With one sentence, where it cannot go on; what was taken is in the run's file by then.
    """
    with contextlib.ExitStack() as stack:
        if wish.twin is None:
            opened = stack.enter_context(real_mat(wish.port, device_time=wish.device_time))
            uid, name, layout = opened.link.hello.uid, opened.link.hello.name, opened.layout
        else:
            opened, uid, name, layout = None, wish.twin.mat.uid, "the twin", layout_of(wish.twin.mat.layout)
        profile = wish.profile or profile_path(uid)
        for place in filter(None, (profile, wish.map_path)):
            try_place(place)
        log, guide = _begin(console, wish, run_path(profile), uid, layout)
        stack.callback(log.close)
        output = sound_for(wish.device_time if wish.twin is None else wish.twin.fast)
        stack.callback(output.close)
        output.start()
        say(console, f"Mat {name}. Sound: {output.description}. Ctrl-C ends it; nothing that was taken is lost.")
        with keys_for(console, ANSWERS) as pressed, _screen(console, name, guide, layout) as screen:
            loop = BenchLoop(guide, log, output, screen, pressed, wish.wait_s)
            ending = loop.run(opened, RATE_HZ) if opened is not None else _with_twin(wish, guide, loop)
    return _after(console, wish, guide, log, ending, profile, uid, layout)


def _begin(console: Console, wish: BenchWish, path: Path, uid: str, layout: Layout) -> tuple[RunLog, BenchGuide]:
    """The run's file and its guide: new ones, or those of an earlier part; the cost is said before anything is done."""
    earlier = read_run(path) if path.exists() and not wish.anew else None
    if wish.resume and earlier is None:
        raise CalibrationError(f"there is no run {path} to go on with: begin one without --resume")
    going_on = wish.resume or wish.strip is not None
    if earlier is not None and not going_on and not earlier.finished and earlier.placements:
        raise CalibrationError(
            f"a run of {len(earlier.placements)} placements lies in {path}: go on with it by --resume, "
            "or begin another with --anew (the old file is kept)"
        )
    shape = (layout.rows, layout.columns)
    if wish.strip is not None and earlier is None:
        without_strip(path, earlier, wish.strip, layout)
    if going_on and earlier is not None:
        if earlier.head.uid != uid or layout.as_in(earlier.head.layout_digest) is None:
            raise CalibrationError(f"the run {path} belongs to mat {earlier.head.uid}: name another profile, or --anew")
        if wish.weights is not None:
            raise CalibrationError("a run that goes on keeps its weights: leave --mass and --weights away")
        if earlier.damaged:
            say(
                console, f"{earlier.damaged} damaged lines of the run were left out; what they held is asked for again."
            )
        if wish.strip is not None:
            earlier, aside = without_strip(path, earlier, wish.strip, layout)
            say(console, f"The earlier run was kept as {aside}.")
        guide = BenchGuide(*shape, layout.columns_per_panel, earlier.head.plan, earlier.placements)
        left = len(guide.work.left)
        say(
            console,
            f"{len(earlier.placements)} placements are taken, {left} are left: {minutes_words(left * PLACEMENT_S)}.",
        )
        return RunLog(path), guide
    if wish.weights is None:
        raise CalibrationError("name your weights: --mass 5 --mass 10 in kilograms, or --weights FILE")
    if (kept := set_aside(path)) is not None:
        say(console, f"The earlier run was kept as {kept}.")
    plan = plan_bench(*shape, wish.weights.loads, most_minutes=wish.minutes)
    weights = tuple((load.words, load.force_n, load.u) for load in wish.weights.loads)
    date = datetime.datetime.now().astimezone().isoformat(timespec="seconds")
    note = SIMULATED if wish.twin is not None else ""
    guide = BenchGuide(*shape, layout.columns_per_panel, plan.steps)
    for sentence in plan.said:
        say(console, sentence_of(sentence))
    say(
        console,
        f"That leaves a cell known within {_per_cent(plan.expected.cell_u)} and a foot within "
        f"{_per_cent(plan.expected.foot_u)} (95 %). Any order will do, and you can stop whenever you like.",
    )
    return RunLog(path, RunHead(uid, layout.id, layout.digest, date, shape, weights, plan.steps, note)), guide


def _per_cent(u: float) -> str:
    """A relative standard uncertainty as a person reads it: twice as large covers 95 %."""
    return f"{200 * u:.1f} %"


def _screen(console: Console, name: str, guide: BenchGuide, layout: Layout) -> BenchScreen:
    shape = (layout.rows, layout.columns)
    title = f"groundtone, bench calibration of {name}"
    return BenchScreen(console, title, guide, layout.columns_per_panel, shape, sys.stdin.isatty())


def _with_twin(wish: BenchWish, guide: BenchGuide, loop: BenchLoop) -> Ending:
    """Simulated hands do what is asked; when something is refused they begin anew with what is asked then."""
    assert wish.twin is not None
    mat, ending = wish.twin.mat, Ending.FILM_OVER
    given = wish.twin.act if isinstance(wish.twin.act, Bench) else None
    for number in range(_ROUNDS):
        if given is not None and number == 0:
            act = given
        elif guide.work.left:
            hands = hands_for(guide.work.from_named, wish.twin.fast)
            if guide.silent and guide.taken:
                # A press on a finished cell tells the guide that the named one was tried and gave no answer.
                last = guide.taken[0]
                hands = (hands[0], replace(hands[0], cell=(last.row, last.column), stay=False), *hands[1:])
            puck = (mat.row_pitch_mm, mat.column_pitch_mm)
            act = Bench(plan=hands, lead_in_s=4.0, hand_s=0.3, seed=mat.seed + 1000 * number, puck_mm=puck)
        else:
            break
        with twin_mat(wish.twin, act) as opened:
            # A film that was given goes on whatever is said, as clumsy hands would.
            ending = loop.run(opened, FAST_HZ if wish.twin.fast else RATE_HZ, until_refused=act is not given)
        if ending is not Ending.FILM_OVER:
            break
    return ending


def _after(
    console: Console,
    wish: BenchWish,
    guide: BenchGuide,
    log: RunLog,
    ending: Ending,
    path: Path,
    uid: str,
    layout: Layout,
) -> bool:
    """What came of it: the profile where there is enough for one, what is missing, what is ill, and how to go on."""
    if log.waiting:
        say(console, f"{log.waiting} placements are not on the disk: {log.trouble}.")
    if wish.map_path is not None:
        shape = (layout.rows, layout.columns)
        coverage = coverage_of(shape, guide.taken, guide.work.left, guide.left_out)
        draw_coverage(wish.map_path, coverage, layout.columns_per_panel)
        say(console, f"Map written: {wish.map_path}")
    how = f"groundtone calibrate bench --resume{f' --profile {wish.profile}' if wish.profile else ''}"
    left = len(guide.work.left)
    if ending is Ending.LOST:
        raise LostError(f"the mat did not come back; {len(guide.taken)} placements are kept: plug it in and type {how}")
    dead = sorted({remark.cells[0] for remark in guide.faults if remark.what is What.DEAD})
    try:
        result = film_from_placements(guide.taken, layout.rows, layout.columns, dead=dead, expected=expected_here(uid))
    except CalibrationError as error:
        step = guide.work.named
        place = cell_words(step.cell, layout.columns_per_panel) if step is not None else ""
        following = f", next comes {step.words} on {place}" if step is not None else ""
        raise CalibrationError(
            f"{error} ({len(guide.taken)} placements are kept{following}: go on with {how})"
        ) from error
    alive = [placement for placement in guide.taken if (placement.row, placement.column) not in dead]
    head = read_run(log.path).head
    profile = Profile(
        uid,
        layout.id,
        layout.digest,
        datetime.datetime.now().astimezone().isoformat(timespec="seconds"),
        tuple(force for _, force, _ in head.weights),
        result.scatter,
        result.film,
        SIMULATED if wish.twin is not None else "",
        tuple(words for words, _, _ in head.weights),
        notes=notes_of(result.fit, alive),
    )
    write_profile(path, profile)
    say(console, f"Profile written: {path}")
    say(console, f"{len(guide.taken)} placements; {_kept_words(result.fit)}")
    say(
        console,
        "Weights say nothing of a foot: groundtone check --mass KG, done now, holds the curve against a person.",
    )
    for sentence in result.fit.said:
        say(console, sentence_of(sentence))
    faults = [remark_words(remark, layout.columns_per_panel) for remark in guide.faults]
    for words in faults:
        say(console, f"Fault: {words}")
    shape = (layout.rows, layout.columns)
    now = expected(alive, *shape, dead=dead)
    if left:
        then = expected([*alive, *guide.work.left], *shape, dead=dead)
        say(
            console,
            f"As it is, a cell is known within {_per_cent(now.cell_u)} and a foot within {_per_cent(now.foot_u)} "
            f"(95 %). {left} placements more, {minutes_words(left * PLACEMENT_S)}, would make that "
            f"{_per_cent(then.cell_u)} and {_per_cent(then.foot_u)}: {how}",
        )
    line(
        console, "result", ending.value, exit=int(bool(left or faults)), profile=str(path),
        placements=len(guide.taken), left=left, cell_95=2 * now.cell_u, foot_95=2 * now.foot_u, faults=faults,
    )  # fmt: skip
    return not left and not faults


def _kept_words(fit: Fit) -> str:
    """How well loads on one cell agree; what cannot be known is not said."""
    if int(np.count_nonzero(fit.cell_points >= 2)) < _LEAST_TWICE:
        return (
            "with one load on a cell nothing tells how well it keeps to its curve: lay a second, lighter one on each, "
            "or on a dozen cells at least."
        )
    repeats = float(np.nanmedian(fit.repeatability_panel))
    return (
        f"loads on one cell keep to its curve within {100 * repeats:.1f} % (standard deviation; how far the puck lies "
        "off its cell is in the stated uncertainty)."
    )


def hands_for(steps: Sequence[Step], fast: bool) -> tuple[Put, ...]:
    """What a simulated helper does for steps: at 8 s a placement, or in fast time as quickly as hands can.

    A heavier load on the cell that was just loaded is added where the puck lies, as a person would.
    """
    hold_s, wait_s = (2.9, 0.6) if fast else (6.0, 2.0)
    out: list[Put] = []
    for before, step in zip([None, *steps], steps, strict=False):
        same = before is not None and before.cell == step.cell
        stay = same and (step.falling or (before is not None and step.force_n > before.force_n and not before.falling))
        out.append(Put(step.cell, step.force_n, bool(stay), None, max(hold_s, step.hold_s + 2.0), wait_s))
    return tuple(out)
