"""`groundtone build commission`: from a mat that is wired to a mat that can be trusted, step by step with sound."""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Callable, Iterator
from dataclasses import asdict
from pathlib import Path

import click
from rich.console import Console

from groundtone.app.builder.commission_page import draw_page
from groundtone.app.builder.commission_run import Choices
from groundtone.app.builder.commission_run import commission as run_steps
from groundtone.app.click_parts import Number, simulated_layout
from groundtone.app.console import say
from groundtone.app.json_lines import JsonLines, guided, line
from groundtone.app.mat import OpenMat, mat_on_cable, twin_with_hands
from groundtone.app.tones.sounding import GuardedOutput
from groundtone.build.board_limits import limits_of
from groundtone.build.commission import STEPS, Record, as_built, load, orders_of, save, to_text, verdict
from groundtone.build.commission_more import corrected_layout
from groundtone.build.commission_steps import Bench
from groundtone.calibration.own_profile import profile_path
from groundtone.errors import BuildError
from groundtone.files import write_file
from groundtone.mat.layout import Layout, keep_layout, layout_text
from groundtone.tone.player import Player
from groundtone.tone.synth import Synth
from groundtone.twin.wiring import KINDS, fault_form
from groundtone.wire.codec import string
from groundtone.wire.messages import Command

OUTSIDE = 1  # something is to be mended


@click.command()
@click.option("--port", help="Serial port of the mat; without it the one mat that answers is taken.")
@click.option("--twin", "seed", type=click.IntRange(0, 2**31), is_flag=False, flag_value=1, metavar="[SEED]",
              help="Rehearse on the simulated mat; somebody there does what is asked.")  # fmt: skip
@click.option("--fault", "faults", multiple=True, metavar="WORDS",
              help="With --twin: wire it wrong, for example open-row:3 or pulldown:5,10 (column 5's is ten times too "
              "large). Rows and columns count from 0, columns over both panels; a factor is how many times too large. "
              f"There are {', '.join(map(fault_form, KINDS))}.")  # fmt: skip
@simulated_layout
@click.option("--out", type=click.Path(file_okay=False, path_type=Path), help="Folder of the result; without it beside "
              "the mat's profile.")  # fmt: skip
@click.option("--soak", "soak_s", type=Number(1, 86400, "s"), default=600.0, show_default=True, help="Length of the "
              "last step, s.")  # fmt: skip
@click.option("--walk", is_flag=True, help="Slide a finger over each panel in any order instead of row by row.")
@click.option("--again", type=click.Choice(STEPS), help="Do this step and all after it again.")
@click.option("--skip", multiple=True, type=click.Choice(STEPS), help="Leave a step out; it is recorded as not done.")
@click.option("--keep-order", is_flag=True, help="Keep wires that are exchanged: correct the mat's layout instead.")
@click.option("--json", "as_json", is_flag=True, help="The steps' results as JSON.")
@guided
def commission(
    port: str | None, seed: int | None, faults: tuple[str, ...], layout_id: str, out: Path | None, soak_s: float,
    walk: bool, again: str | None, skip: tuple[str, ...], keep_order: bool, as_json: bool,
    console: Console, device_time: bool,
) -> None:  # fmt: skip
    """Find what is wired wrong, name it, and say when the mat can be trusted. Ctrl-C stops; the same again goes on."""
    if faults and seed is None:
        raise click.UsageError("--fault is for the simulated mat: name --twin as well.")
    if as_json and not isinstance(console, JsonLines):
        console = Console(stderr=True)
    choices = Choices(soak_s, walk, skip)
    with (
        mat_on_cable(port, device_time=device_time) if seed is None else twin_with_hands(seed, layout_id, faults) as mat
    ):
        record, path = _record(mat, out, faults)
        if again is not None:
            for key in STEPS[STEPS.index(again) :]:
                record.done.pop(key, None)
                record.skipped.pop(key, None)
        tell: Callable[[str], None] = lambda text: say(console, text)  # noqa: E731
        layout = record.bench.layout
        tell(f"Mat {mat.link.hello.name} {mat.place}, id {record.uid}: {layout.id}, {layout.rows} rows by "
             f"{layout.columns_per_panel} columns a foot. Result: {path}")  # fmt: skip
        try:
            with _sounds(mat, tell) as sound:
                run_steps(mat, record, choices, tell, sound, lambda r: save(path, r), console)
        except KeyboardInterrupt:
            tell("Stopped. Say the same again and it goes on with the step that was left.")
        if keep_order:
            _keep_order(mat, record, tell)
            save(path, record)
    _write(record, path, tell)
    code = 0 if record.commissioned() else OUTSIDE
    steps = [asdict(each) for each in record.results()]
    if line(console, "result", verdict(record), exit=code, steps=steps, file=str(path)):
        sys.exit(code)
    if as_json:
        click.echo(json.dumps({"verdict": verdict(record), "steps": steps}, indent=1))
    else:
        for text in ("", *to_text(record).rstrip().splitlines()):
            say(console, text)
    sys.exit(code)


def _record(mat: OpenMat, out: Path | None, faults: tuple[str, ...]) -> tuple[Record, Path]:
    """The mat's record as far as it has come, and its file."""
    hello = mat.link.hello
    layout = mat.layout
    beside = profile_path(hello.uid)
    path = (out or beside.parent) / f"{hello.uid}.commissioning.json"
    record = load(path, hello.uid, layout)
    if record is None or record.faults != faults:
        # A simulated mat that was wired otherwise is another mat.
        record = Record(hello.uid, Bench(as_built(layout)), orders=orders_of(layout), faults=faults)
    record.simulated = mat.simulated
    with contextlib.suppress(BuildError):
        record.bench.pin_ma = limits_of(hello.board).pin_ma
    return record, path


@contextlib.contextmanager
def _sounds(mat: OpenMat, tell: Callable[[str], None]) -> Iterator[Callable[[str], None]]:
    """What sounds: the sound card on a real mat; nothing where time is not ours, faster than any tone."""
    if mat.fast:
        yield lambda _: None
        return
    output = GuardedOutput(Player(Synth()))
    output.start()
    # There are no cues to watch over here: the watch is ended at once.
    output.rest()
    try:
        yield output.signal
    finally:
        output.drain()
        output.close()
        if output.trouble is not None:
            tell(f"Without sound: {output.trouble}.")


def _keep_order(mat: OpenMat, record: Record, tell: Callable[[str], None]) -> None:
    """Make a layout of the order that was found, and set it on the mat."""
    if record.bench.evidence.idle is None or not record.bench.evidence.strokes:
        tell("There is no order to keep: the presses have not been done yet.")
        return
    built = record.bench.layout
    layout = corrected_layout(
        record.bench, record.diagnosis(), f"mat-{record.uid[-6:]}-{built.rows}x{built.columns_per_panel}"
    )
    if orders_of(layout) == ((), (), ()):
        tell("The wires are in order: the layout stays as it is.")
        return
    path = keep_layout(layout)
    mat.rest()
    mat.link.request(Command.SET, string("layout") + string(layout.id))
    record.orders = orders_of(layout)
    where = f", written to {path}" if path else ""
    tell(f"The mat's layout is now {layout.id}{where}: its wires may stay as they are.")


def _write(record: Record, path: Path, tell: Callable[[str], None]) -> None:
    """The page as text and as a picture, and the corrected layout beside it."""
    write_file(path.with_suffix(".txt"), to_text(record))
    draw_page(path.with_suffix(".png"), record)
    if record.bench.evidence.idle is None or not record.bench.evidence.strokes:
        return
    layout: Layout = corrected_layout(record.bench, record.diagnosis())
    if orders_of(layout) != ((), (), ()):
        corrected = path.with_suffix(".layout.toml")
        write_file(corrected, layout_text(layout))
        tell(f"The order that was found is in {corrected}; --keep-order puts it into force.")
