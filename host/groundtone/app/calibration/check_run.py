"""`groundtone check`: a minute before the lesson, led by words and sounds, and a verdict that is kept."""

from __future__ import annotations

import contextlib
import datetime
import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import click
import numpy as np
from numpy.typing import NDArray
from rich import box
from rich.console import Console
from rich.table import Table

from groundtone.app.calibration.following import Over, PersonScreen, Wanted, follow
from groundtone.app.console import drop_typed, say, turned
from groundtone.app.json_lines import JsonLines, line
from groundtone.app.language import tr
from groundtone.app.mat import real_mat, twin_mat
from groundtone.app.tones.sounding import sound_for
from groundtone.app.twin import TwinChoice
from groundtone.calibration.checking.check_log import KeptCheck, append_check, kept_from, read_checks, strip_trends
from groundtone.calibration.checking.check_result import CheckResult, Verdict
from groundtone.calibration.checking.check_steps import ORDER, CheckRun, Now, Step
from groundtone.calibration.own_profile import checks_path, own_profile, profile_path, set_aside
from groundtone.calibration.profile import Profile, read_profile, write_profile
from groundtone.errors import CalibrationError, GroundtoneError, sentence_of
from groundtone.files import try_place
from groundtone.gravity import STANDARD_GRAVITY
from groundtone.mat.layout import PANELS, Layout
from groundtone.twin.scenario import Check, GolferSpec
from groundtone.wire.messages import Hello

RATE_HZ = 44  # 50 and 60 Hz both turn at this rate, so that hum is told from loads
# A common change of this size with a stated mass is asked about before it is kept.
_MASS_DOUBT = 0.08
YES_OR_NO = {"yes": "yes", "y": "yes", "no": "no", "n": "no"}

_WORDS = {
    Step.EMPTY: ("keep off", "Two seconds with nothing on the mat."),
    Step.MARK_LEFT: ("left mark", "Put the known weight on the left panel's mark, hands off."),
    Step.MARK_RIGHT: ("right mark", "Put it on the right panel's mark, hands off."),
    Step.STAND: ("stand still", "One foot on each panel, in the shoes of the lesson."),
    Step.ROCK: ("rock slowly", "From the heels to the toes and back."),
    Step.LIFT_LEFT: ("left foot up", "Stand on the right foot for four seconds; a hand on a club helps."),
    Step.LIFT_RIGHT: ("right foot up", "Stand on the left foot for four seconds."),
    Step.DONE: ("done", "Step off."),
}


@dataclass(frozen=True)
class CheckWish:
    """What was asked for on the command line.

    Attributes
    ----------
    mass_kg : float or None
        The person's.
    mark_kg : float or None
        A known weight that is laid on each panel's mark.
    hand : str or None
        "right" or "left"; None: asked where somebody can answer.
    profile : Path or None
        None is the mat's own.
    device_time : bool
        Only the mat's clock counts.
    new_board : bool
        The profile is that of this very mat with another board; it becomes this board's when the check is passed.
    """

    mass_kg: float | None
    mark_kg: float | None
    hand: str | None
    port: str | None
    twin: TwinChoice | None
    profile: Path | None
    device_time: bool = False
    new_board: bool = False


def check(console: Console, wish: CheckWish) -> int:
    """The check; the exit code of its verdict: 0 ready, 1 ready with correction, 2 not fit.

    Raises
    ------
    GroundtoneError
        With one sentence, where there is no verdict.
    """
    with contextlib.ExitStack() as stack:
        if wish.twin is None:
            opened = stack.enter_context(real_mat(wish.port, device_time=wish.device_time))
        else:
            opened = stack.enter_context(twin_mat(wish.twin, _act(wish, wish.twin)))
        hello, layout = opened.link.hello, opened.layout
        path = wish.profile or profile_path(hello.uid)
        profile: Profile | None
        if wish.new_board:
            profile, path = _from_old_board(wish, hello, layout), profile_path(hello.uid)
        else:
            profile = own_profile(hello, layout, path)[0] if path.exists() else None
        if profile is None:
            raise CalibrationError(f"there is no profile {path}: calibrate the mat first, or name one with --profile")
        try_place(checks_path(path))
        mark_n = None if wish.mark_kg is None else wish.mark_kg * STANDARD_GRAVITY
        run = CheckRun(layout, profile.film, mass_kg=wish.mass_kg, mark_n=mark_n)
        output = sound_for(opened.fast)
        stack.callback(output.close)
        output.start()

        def take(t_s: float, conductance_s: NDArray[np.float64]) -> Wanted:
            return wanted(run.step(t_s, conductance_s), mark_n is not None)

        with PersonScreen(console, f"groundtone, check of {hello.name}") as screen:
            over = follow(opened, RATE_HZ, take, output, screen)
        if over is Over.ENDED:
            raise CalibrationError("the check was ended before it was done: there is no verdict, and nothing was kept")
        result = run.result()
        output.signal("again" if result.verdict is Verdict.NOT_FIT else "ready")
        output.advance(1.0)
    return _tell(console, wish, path, profile, result)


def _from_old_board(wish: CheckWish, hello: Hello, layout: Layout) -> Profile:
    """The old board's profile in the new one's name; nothing is written yet."""
    if wish.profile is None:
        raise CalibrationError("name the old board's profile with --profile: it is called after that board's id")
    old = read_profile(wish.profile)
    if old.uid == hello.uid:
        raise CalibrationError("the profile is this board's already: leave --new-board away")
    moved = replace(old, uid=hello.uid, note=f"{old.note}; moved from board {old.uid}".strip("; "))
    moved.check_mat(hello, layout)
    return moved


def _act(wish: CheckWish, twin: TwinChoice) -> Check:
    if isinstance(twin.act, Check):
        return twin.act
    weight_n = 0.0 if wish.mark_kg is None else wish.mark_kg * STANDARD_GRAVITY
    mass_kg = 78.4 if wish.mass_kg is None else wish.mass_kg
    golfer = GolferSpec(hand=wish.hand or "right", mass_kg=mass_kg)
    return Check(golfer, seed=twin.mat.seed, weight_n=weight_n)


def wanted(now: Now, marks: bool) -> Wanted:
    """What the person is to do now, in large words; `marks`: a known weight is laid on first."""
    words, sentence = _WORDS[now.step]
    if now.step is Step.EMPTY and now.stands:
        words, sentence = "step off", "Somebody stands on the mat: step off for two seconds."
    elif now.step is Step.STAND and marks:
        sentence = f"Take the weight off. {sentence}"
    steps = [step for step in ORDER if marks or step not in (Step.MARK_LEFT, Step.MARK_RIGHT)]
    progress = (steps.index(now.step) + (0.0 if now.step is Step.DONE else now.done)) / (len(steps) - 1)
    return Wanted(words, sentence, progress, now.step is Step.DONE)


def _tell(console: Console, wish: CheckWish, path: Path, profile: Profile, result: CheckResult) -> int:
    """The verdict, a line a finding, and the check on the disk."""
    for finding in result.findings:
        say(console, f"{'! ' if finding.bad else '- '}{sentence_of(GroundtoneError(finding.text))}")
    _doubt_mass(console, wish, result)
    hand = wish.hand or _ask_hand(console)
    say(console, f"{result.verdict.words.upper()}. {figures(result)}")
    date = datetime.datetime.now().astimezone().isoformat(timespec="seconds")
    moves = not (wish.new_board and result.verdict is Verdict.NOT_FIT)
    if not moves:
        say(console, "The profile does not belong to this mat as it is now: it has not moved.")
    elif wish.new_board:
        set_aside(path)
        write_profile(path, profile)
        say(console, f"The profile is this board's now: {path}")
    if moves:
        append_check(checks_path(path), kept_from(result, profile.film, date, profile, hand))
    if result.verdict is Verdict.CORRECTED:
        say(console, "The correction is kept: whoever practises on this mat has it.")
    line(
        console, "result", result.verdict.words, exit=result.verdict.value,
        findings=[{"kind": f.kind.value, "sentence": sentence_of(GroundtoneError(f.text)), "cells": list(f.cells),
                   "bad": f.bad} for f in result.findings],
        share_95=2 * result.share_u, foot_95=2 * result.foot_u, along_95_mm=2 * result.along_u_mm,
        common=result.common, mass_kg=result.mass_kg, hand=hand,
    )  # fmt: skip
    return result.verdict.value


def figures(result: CheckResult) -> str:
    """How well the mat measures today, in one sentence."""
    if not math.isfinite(result.share_u):
        return "No figures could be made."
    return (
        f"Today the lead share is known within ±{2 * result.share_u:.3f}, a foot within ±{200 * result.foot_u:.0f} %, "
        f"its centre within ±{2 * result.along_u_mm:.0f} mm (95 %, standing)."
    )


def _ask_hand(console: Console) -> str:
    """The golfer's hand, where somebody is there to answer."""
    if isinstance(console, JsonLines):
        return console.question("hand", "Does this golfer play right or left?", {"right": "right", "left": "left"})
    if not _somebody_answers(console):
        return ""
    drop_typed()
    answer: str = click.prompt(tr("Does this golfer play right or left?"), type=click.Choice(["right", "left"]))
    return answer


def _doubt_mass(console: Console, wish: CheckWish, result: CheckResult) -> None:
    """A mass that is not this person's looks like a film that has aged: only the person knows.

    Raises
    ------
    CalibrationError
        It is not this person's.
    """
    if wish.mass_kg is None or abs(result.common) < _MASS_DOUBT or not math.isfinite(result.mass_kg):
        return
    alone = wish.mass_kg / (1.0 + result.common)
    say(console, f"{wish.mass_kg:.1f} kg were stated, and by its calibration the mat says {alone:.0f} kg.")
    asked = f"Is {wish.mass_kg:.1f} kg this person's mass, with clothes and shoes?"
    if isinstance(console, JsonLines):
        told = console.question("mass", asked, YES_OR_NO)
    elif _somebody_answers(console):
        drop_typed()
        told = "yes" if click.confirm(tr(asked), default=None) else "no"
    else:
        told = ""
    if not told:
        say(console, f"If {wish.mass_kg:.1f} kg is not this person's mass, check again with the right one.")
    elif told == "no":
        raise CalibrationError("check again with the right mass in kilograms, or without --mass; nothing was kept")


def _somebody_answers(console: Console) -> bool:
    return sys.stdin.isatty() and console.is_terminal


def history(console: Console, wish: CheckWish) -> None:
    """Prints the checks of a mat.

    Raises
    ------
    GroundtoneError
        There are none, or the mat is not named and does not answer.
    """
    path = wish.profile
    if path is None and wish.twin is not None:
        path = profile_path(wish.twin.mat.uid)
    if path is None:
        with real_mat(wish.port) as opened:
            path = profile_path(opened.link.hello.uid)
    checks = read_checks(checks_path(path))
    if not checks:
        raise CalibrationError(f"no check is kept in {checks_path(path)}: run groundtone check first")
    console.print(turned(history_table(checks)))
    for sentence in strip_sentences(checks):
        say(console, sentence)


# A strip that reads so much less than the others, or beyond one of its places than before it, ln; and since the first.
_WORN, _CRACK, _GROWN = 0.08, 0.12, 0.04


def strip_sentences(checks: Sequence[KeptCheck]) -> list[str]:
    """What the kept checks say of copper and film, strip by strip: those that come to read less, the worst first."""
    trends = strip_trends(checks)
    out = []
    for t in sorted(trends, key=lambda t: min(t.step + _CRACK, t.changes[-1] + _WORN)):
        grown = len(t.changes) == 1 or t.changes[-1] < t.changes[0] - _GROWN or t.step < -2 * _CRACK
        if not grown or (t.changes[-1] > -_WORN and t.step > -_CRACK):
            continue
        strip, across = ("row", "column") if t.is_row else ("column", "row")
        which = f"The {PANELS[t.panel]} panel's {strip} {t.number}"
        series = ", ".join(f"{100 * math.expm1(change):+.0f}" for change in t.changes[-6:])
        if t.step <= -_CRACK:
            out.append(
                f"{which} reads {-100 * math.expm1(t.step):.0f} % less from its {across} {t.beyond} on: a crack may be "
                f"coming there; measure it end to end, bent to and fro ({series} %)."
            )
        else:
            out.append(f"{which} reads less from check to check ({series} %): look at its film and its tail.")
    if trends and not out:
        out.append("No strip comes to read less than the others.")
    return out[:4]


# The mark's line reaches so far to both sides, relative.
_REACH = 0.20
_LINE = 17
_SHORT = {"ready with correction": "corrected"}


def history_table(checks: Sequence[KeptCheck]) -> Table:
    """The checks, the oldest first."""
    # It has to go into 80 columns.
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, padding=(0, 0, 0, 0), pad_edge=False)
    for name in ("checked", "verdict"):
        table.add_column(name, no_wrap=True)
    table.add_column("less    ┊    more", no_wrap=True)
    for name in ("all, %", "drifted", "dead", "share", "kg"):
        table.add_column(name, justify="right", no_wrap=True)
    for kept in checks:
        change = 1.0 / (1.0 + kept.common) - 1.0
        table.add_row(
            kept.date[:16].replace("T", " "),
            _SHORT.get(kept.verdict, kept.verdict),
            mark_line(change),
            "-" if math.isnan(change) else f"{100 * change:+.0f}",
            str(len(kept.drifted) or "-"),
            str(len(kept.dead) or "-"),
            "-" if math.isnan(kept.share_u) else f"{2 * kept.share_u:.3f}",
            "-" if math.isnan(kept.mass_kg) else f"{kept.mass_kg:.1f}",
        )
    table.caption = (
        "less, more, all: what the whole film reads less or more than when it was calibrated; corrected: ready with "
        "correction; drifted, dead: cells; share: the lead share's uncertainty (± 95 %)"
    )
    table.caption_justify = "left"
    return table


def mark_line(change: float) -> str:
    """A change as a mark on a line around nothing.

    Examples
    --------
    >>> mark_line(0.10)
    '········┊···█····'
    """
    line = ["·"] * _LINE
    line[_LINE // 2] = "┊"
    if not math.isnan(change):
        part = min(1.0, max(-1.0, change / _REACH))
        line[round((_LINE // 2) * (1 + part))] = "█"
    return "".join(line)
