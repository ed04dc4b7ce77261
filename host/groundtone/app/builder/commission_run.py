"""Runs the steps of a commissioning over an open mat: asks, listens, sounds, and keeps what came of it."""

from __future__ import annotations

import contextlib
import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rich.console import Console

from groundtone.app.builder.build_install import value_of
from groundtone.app.doctor import WEAK_DBM, mat_troubles
from groundtone.app.json_lines import at, ended, frames_begin, line
from groundtone.app.mat import OpenMat
from groundtone.build.asking import Ask
from groundtone.build.commission import STEPS, TITLES, Record, StepResult
from groundtone.build.commission_more import crosstalk_step, soak_step, stand_step, strike_step
from groundtone.build.commission_steps import Listener, idle_step, press_step, resistor_step, walk_step
from groundtone.build.evidence import reading_of
from groundtone.errors import LinkError
from groundtone.link.base import Stamped
from groundtone.link.radio import radio_running
from groundtone.link.scan import mats_heard
from groundtone.mat.layout import Layout, known_layouts
from groundtone.wire.codec import findings_from
from groundtone.wire.messages import Command, Finding

# The empty mat is looked at so often that neither 50 nor 60 Hz of the mains stands still in its frames.
RATES_HZ = {"idle": 47, "resistor": 25, "press": 25, "crosstalk": 50, "stand": 50, "strike": 100, "soak": 100}
WALK_HZ = 50
SELF_TEST_S = 20.0
NO_RADIO = "The simulated mat has no radio here."
NO_PULLDOWN, FREE_MEMORY, SCAN_TIME, COLUMN_OHM, DRIVER_OHM = 8, 17, 16, 20, 22


@dataclass(frozen=True)
class Choices:
    """What the person chose.

    Attributes
    ----------
    soak_s : float
        Length of the soak, s.
    walk : bool
        The panels are walked over freely instead of stroked as asked.
    skip : tuple of str
        Steps to leave out.
    """

    soak_s: float = 600.0
    walk: bool = False
    skip: tuple[str, ...] = ()


def commission(
    mat: OpenMat,
    record: Record,
    choices: Choices,
    tell: Callable[[str], None],
    sound: Callable[[str], None],
    keep: Callable[[Record], None],
    console: Console | None = None,
) -> None:
    """Do every step that has not passed; ends where rows are not proven apart.

    Parameters
    ----------
    record : Record
        Filled as steps are done.
    tell : callable
        Takes a sentence for the person.
    sound : callable
        Takes "tick" (felt), "ready" (passed) or "lost" (failed).
    keep : callable
        Stores the record; called after each step.
    console : Console, optional
        Where lines of JSON go, if they are wanted.
    """
    for number, key in enumerate(STEPS, 1):
        if _result(record, key).outcome == "passed":
            continue
        tell(f"Step {number} of {len(STEPS)}: {TITLES[key]}")
        _do(mat, record, key, choices, tell, sound, console)
        keep(record)
        result = _result(record, key)
        line(console, "seen", "step", step=key, outcome=result.outcome, causes=result.causes, figures=result.figures)
        for cause in result.causes:
            tell(f"  {'!' if result.outcome == 'failed' else '-'} {cause}")
        tell(f"  {result.outcome}")
        sound("lost" if result.outcome == "failed" else "ready")
        if key == "board" and result.outcome == "failed" and record.diagnosis().untested:
            tell("Nothing else can be measured until that is mended: rows not proven apart are never driven.")
            return
        if key == "board" and result.outcome == "failed" and not record.bench.evidence.findings:
            return  # another grid than was built: every further name would be wrong


def other_grid(layout: Layout, findings: Sequence[Finding]) -> str | None:
    """In words, that the mat scans another grid than was built: several columns are not there at all, the last ones."""
    missing = {f.a for f in findings if f.code == NO_PULLDOWN}
    for other in known_layouts().values():
        if other.columns < layout.columns - 1 and missing == set(range(other.columns, layout.columns)):
            return (
                f"The mat is set to {layout.id}, and columns {other.columns} to {layout.columns - 1} have no "
                f"pull-down: if it is a {other.id}, say 'groundtone build settings layout={other.id}' and do this "
                "again; if not, solder these resistors."
            )
    return None


def _result(record: Record, key: str) -> StepResult:
    return next(r for r in record.results() if r.key == key)


def _do(
    mat: OpenMat, record: Record, key: str, choices: Choices, tell: Callable[[str], None], sound: Callable[[str], None],
    console: Console | None = None,
) -> None:  # fmt: skip
    bench = record.bench
    record.skipped.pop(key, None)
    bench.causes.pop(key, None)
    if key in choices.skip:
        record.skipped[key] = "It was left out, as you asked."
    elif key == "radio":
        _radio(mat, record, tell)
    elif key == "board":
        _board(mat, record)
    else:
        steps: dict[str, Callable[[], Listener]] = {
            "idle": lambda: idle_step(bench),
            "resistor": lambda: resistor_step(bench),
            "press": lambda: walk_step(bench) if choices.walk else press_step(bench),
            "crosstalk": lambda: crosstalk_step(bench),
            "stand": lambda: stand_step(bench),
            "strike": lambda: strike_step(bench),
            "soak": lambda: soak_step(bench, choices.soak_s),
        }
        rate = WALK_HZ if choices.walk and key == "press" else RATES_HZ[key]
        _listen(mat, steps[key](), rate, tell, sound, console)
        if key == "soak":
            _memory(mat, record)
    if key not in record.skipped:
        record.done[key] = datetime.datetime.now().astimezone().isoformat(timespec="seconds")


def _board(mat: OpenMat, record: Record) -> None:
    mat.rest()
    bench = record.bench
    bench.causes["board"] = mat_troubles(mat.link.hello) if mat.link.hello.state != 2 else []
    bench.evidence.findings = findings = tuple(
        findings_from(mat.link.request(Command.SELF_TEST, patience_s=SELF_TEST_S))
    )
    if words := other_grid(bench.layout, findings):
        bench.causes["board"].append(words)
        bench.evidence.findings = ()
    ohms = [f.value for f in findings if f.code == COLUMN_OHM]
    bench.figures["board"] = {
        "time of one scan, ms": next((f.value / 1000 for f in findings if f.code == SCAN_TIME), None),
        "free memory, kB": _free_kb(record),
        "row 0 driver, high and low, Ω": [f.value for f in findings if f.code == DRIVER_OHM],
        "columns to 0 V, Ω": ohms,
    }


def _radio(mat: OpenMat, record: Record, tell: Callable[[str], None]) -> None:
    """Is the mat heard by radio, from where the computer will stand?"""
    hello = mat.link.hello
    if mat.simulated:
        record.skipped["radio"] = NO_RADIO
        return
    if value_of(mat.link, "radio") != "on":
        record.skipped["radio"] = "The mat's radio is off: 'groundtone build settings radio=on' if it shall be heard."
        return
    tell("  Put the mat where it will lie and the computer where it will stand: the radio is listened to.")
    try:
        with radio_running() as radio:
            heard = [m for m in mats_heard(radio, wanted=hello.uid) if m.is_called(hello.uid)]
    except LinkError as error:
        record.skipped["radio"] = f"{str(error)[:1].upper()}{str(error)[1:]}; a mat on a cable needs none."
        return
    record.bench.figures["radio"] = {"heard, dBm": heard[0].rssi if heard else None}
    if not heard:
        record.bench.causes["radio"] = ["The mat is not heard on Bluetooth: is its board one with a radio (a W)?"]
    elif heard[0].rssi < WEAK_DBM:
        record.bench.causes["radio"] = [f"The mat is heard weakly ({heard[0].rssi} dBm): bring the computer closer."]


def _free_kb(record: Record) -> float | None:
    return next((round(f.value * 16 / 1024, 1) for f in record.bench.evidence.findings if f.code == FREE_MEMORY), None)


def _memory(mat: OpenMat, record: Record) -> None:
    """Free memory after the soak, beside what it was before."""
    mat.rest()
    before = _free_kb(record)
    after = next(
        (f.value * 16 / 1024 for f in findings_from(mat.link.request(Command.SELF_TEST, patience_s=SELF_TEST_S))
         if f.code == FREE_MEMORY), None,
    )  # fmt: skip
    if before is None or after is None:
        return
    record.bench.figures["soak"]["free memory before and after, kB"] = [before, round(after, 1)]
    if after < 0.9 * before:
        record.bench.causes.setdefault("soak", []).append(
            f"The mat has {after:.0f} kB of memory left of {before:.0f}: install its firmware again and report this."
        )


def _listen(
    mat: OpenMat, listener: Listener, rate_hz: int, tell: Callable[[str], None], sound: Callable[[str], None],
    console: Console | None = None,
) -> None:  # fmt: skip
    """Feed a step with frames until it is done."""
    link = mat.link
    hello = link.hello
    ask: Ask | None = next(listener)
    mat.begin()
    link.start(rate_hz)
    frames_begin(console, hello, mat.layout, rate_hz)
    try:
        for item in mat.items():
            if not isinstance(item, Stamped):
                continue
            at(console, item.device_us * 1e-6)
            if ended(console):
                raise KeyboardInterrupt
            if ask is not None and not line(console, "ask", "do", do=ask.do, sentence=ask.words, again=ask.again):
                tell(f"  {ask.words}{' (nothing was felt: once more)' if ask.again else ''}")
            if ask is not None:
                sound("tick")
                mat.do(ask.do)
            reading = reading_of(item.frame, item.device_us * 1e-6, hello.rows, hello.bits, item.missed)
            mat.took()
            try:
                ask = listener.send(reading)
            except StopIteration:
                return
    finally:
        # Whoever ends it early is told so, and not what a mat says that was left in the middle of a sentence.
        with contextlib.suppress(LinkError):
            mat.rest()
            link.stop()
