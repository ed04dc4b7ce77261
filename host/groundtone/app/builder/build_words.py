"""What `groundtone build` found, in words and tables that fit a terminal of 80 columns, in the language in force."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from pathlib import Path

from groundtone.app.language import tr, tr_all
from groundtone.build.board_limits import MULTIPLEXER, limits_of
from groundtone.build.divider import Divider
from groundtone.build.eseries import in_words
from groundtone.build.layout_check import LayoutCheck
from groundtone.build.mat_file import Mat
from groundtone.build.mechanics import GLUE_MPA, SHEAR_PART, PlateCheck
from groundtone.build.scan_budget import ScanBudget
from groundtone.errors import sentence_of
from groundtone.lesson.sentences import Given
from groundtone.wire.messages import MAX_MESSAGE


def text_table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Given:
    """Columns under their heads, the first one to the left, the others to the right."""
    said = [tr_all(line) for line in (heads, *rows)]
    widths = [max(len(line[i]) for line in said) for i in range(len(heads))]
    out = []
    for line in said:
        cells = [cell.rjust(width) for cell, width in zip(line, widths, strict=True)]
        out.append("  " + "  ".join([line[0].ljust(widths[0]), *cells[1:]]).rstrip())
    return Given("\n".join(out))


def markdown(text: str) -> Given:
    """A text with Markdown tables, cell by cell and line by line in the language in force."""
    lines = [line.split("|") if line.startswith("| ") else [line] for line in text.split("\n")]
    return Given("\n".join("|".join(tr_all(parts)) for parts in lines))


def sentences(heading: str, found: Sequence[str]) -> list[Given]:
    """Sentences under a heading, each wrapped; nothing where there are none."""
    if not found:
        return []
    lines = [tr(heading)]
    for text in found:
        lines += textwrap.wrap(tr(sentence_of(text)), 78, initial_indent="- ", subsequent_indent="  ")
    return [Given(line) for line in ("", *lines)]


def newtons(value: float) -> str:
    """A force as a person reads it."""
    return "not reached" if math.isinf(value) else f"{value:.3g} N" if value < 1000 else f"{value:.0f} N"


def divider_words(mat: Mat, found: Divider, *, own_film: bool) -> str:
    """The result of `groundtone.build.divider.divide`."""
    limits = limits_of(mat.board)
    low, high = found.cell_n
    film = "as measured" if own_film else "of the description; measure yours and give --at KG OHM twice"
    lines = [
        f"{mat.layout.id}, board {mat.board}",
        f"Film ({film}):",
        f"  conductance = {found.law.level_s * 1e6:.3g} µS · (force / 1 N)^{found.law.exponent:.3f}",
        f"Pull-down Rs: {in_words(found.e12_ohm)} (E12), {in_words(found.e24_ohm)} (E24); "
        f"by the formula {found.best_ohm:.0f} Ω",
        f"  (from {found.good_ohm[0]:.0f} to {found.good_ohm[1]:.0f} Ω the noise is within a tenth of the least)",
        f"Below: Rs {in_words(found.pulldown_ohm)}, rows {in_words(found.series_ohm)}",
        f"Usable force of one cell: {newtons(low)} (three times the noise) to {newtons(high)}",
        f"One foot on its ball at a noise gain of five: {newtons(found.foot_n)}",
        f"  (the hardest moment of {mat.person.mass_kg:g} kg: {newtons(found.hardest_foot_n)})",
        "",
        "One cell (resolution is one sigma; standing: with the person on the mat)",
        text_table(
            ("force, N", "film, Ω", "reading", "resolution, N", "standing, N"),
            [
                (f"{c.force_n:g}", f"{c.ohm:.0f}", f"{c.reading:.4f}", f"{c.alone_n:.3f}", f"{c.standing_n:.3f}")
                for c in found.cells
            ],
        ),
        "",
        "As a column fills: one foot on its ball, its fullest column",
        text_table(
            ("foot, N", "sum v", "noise gain"),
            [(f"{c.foot_n:g}", f"{c.sum_v:.3f}", f"{c.gain:.2f}") for c in found.columns],
        ),
        "",
        f"Currents, mA. The board bears {limits.pin_ma:g} a pin, {limits.source_ma:g} in all",
        f"({limits.source}).",
        text_table(
            ("state", "high pin", "low pin", "all low pins"),
            [(c.name, f"{c.pin_high_ma:.2f}", f"{c.pin_low_ma:.2f}", f"{c.total_ma:.2f}") for c in found.currents],
        ),
        f"The multiplexer feeds only the ADC: next to nothing of its {MULTIPLEXER.switch_ma:g} mA a switch.",
        *sentences("To know", found.notes),
        *sentences("REFUSED: do not build it so", found.refusals),
    ]
    return "\n".join(tr_all(lines))


def scan_words(mat: Mat, found: ScanBudget) -> str:
    """The result of `groundtone.build.scan_budget.budget`."""
    scan = mat.scan
    lines = [
        f"{mat.layout.id}: {mat.layout.cells} cells, {scan.oversample}x, settle {scan.settle_us:g} µs, "
        f"{scan.rate_hz:g} frames a second",
        text_table(("part of a scan", "µs"), [(name, f"{us:.0f}") for name, us in found.parts if us]),
    ]
    facts = [
        f"one scan {found.scan_us:.0f} µs, its message {found.message_us:.0f} µs",
        f"scanning takes {100 * found.share:.0f} % of the time; at most {found.top_hz:.0f} frames a second, "
        f"{found.half_hz:.0f} with half of the time left for the link",
        f"after a row the columns take {found.settling.row_us:.1f} µs to half a step, by their capacitance, and "
        f"{found.settling.row_wait_us:g} are waited; {100 * found.settling.cell_left:.2f} % of a step are left where "
        "the multiplexer has moved",
        f"a frame has {found.frame_bytes} bytes of {MAX_MESSAGE}; USB {100 * found.usb_part:.1f} % of full speed, "
        f"Bluetooth {100 * found.radio_part:.0f} % of its {found.radio_hz:.0f} frames a second",
        f"a power bank of {mat.power.bank_mah:g} mAh that stays on lasts {found.usb_h:.0f} h with the radio off and "
        f"{found.radio_h:.0f} h with it on (currents from memory)",
    ]
    waits = mat.power.bank_stays_on_ma
    for radio, kept in zip(("off", "on"), found.awake, strict=True):
        if kept is not None:
            facts.append(
                f"one that waits for {waits:g} mA switches off with the radio {radio}: put {kept.ohm:.0f} Ω (1 W, "
                f"{kept.watt:.2f} W of heat) across 5 V behind the fuse, and it lasts {kept.hours:.0f} h"
            )
    lines += sentences("In all", facts)
    return "\n".join(tr_all([*lines, *sentences("NOT RIGHT", found.wrong)]))


def plate_words(mat: Mat, found: PlateCheck, load_n: float) -> str:
    """The result of `groundtone.build.mechanics.plate_check`."""
    base, shear = mat.base, SHEAR_PART * load_n
    facts = [
        f"{mat.layout.id}: {mat.stack.base_mm:g} mm of {base.material}, {mat.base_width_mm:g} mm wide, under "
        f"{load_n:.0f} N",
        f"over {base.span_mm:g} mm between two supports it bends with {found.beam_mpa:.1f} MPa, over a hollow as wide "
        f"with {found.hollow_mpa:.1f}",
        f"allowed are {found.allowed_mpa:.0f} MPa, half of its strength ({found.material.source})",
        f"it bears up to {math.floor(found.widest_mm)} mm that nothing carries",
        f"a swing's shear of {shear:.0f} N is {shear / mat.rim_mm2:.2f} N/mm² on the rim's glue; {GLUE_MPA:g} are "
        "allowed",
    ]
    return "\n".join(
        tr_all([*sentences("The base plate", facts), *sentences("REFUSED: do not build it so", found.refusals)])
    )


def refused(refusals: Sequence[str]) -> str:
    """What must not be built, under its heading."""
    return "\n".join(tr_all(sentences("REFUSED: do not build it so", refusals)))


def layout_words(mat: Mat, found: LayoutCheck, description: Path, layout: Path) -> str:
    """The result of `groundtone.build.layout_check.check`, and where the files are."""
    pins, grid = found.pins, mat.layout
    lines = [
        f"{grid.id}, board {pins.board}: {grid.cells} cells, active {found.active_mm[0]:g} x {found.active_mm[1]:g} mm "
        "a panel",
        f"{grid.rows} of {len(pins.rows)} row pins, {grid.columns} of {pins.columns} multiplexer inputs",
        f"frame {found.frame_bytes} of {MAX_MESSAGE} bytes with {found.bits} bits a value",
        *sentences("To know", found.notes),
        "",
        f"Description: {description}",
        f"Layout, for this program: {layout}",
        f"Onto the mat: groundtone build install --mat {description}",
    ]
    return "\n".join(tr_all(lines))
