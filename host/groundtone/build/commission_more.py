"""The later steps of commissioning: cross-talk of two fingers, full weight, the strike sensor, and the soak."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from groundtone.build.asking import Ask, gather
from groundtone.build.commission_steps import Bench, Listener
from groundtone.build.diagnosis import Diagnosis, diagnose
from groundtone.build.evidence import Reading
from groundtone.build.faults import PANELS
from groundtone.mat.conductance import ConductanceMeter
from groundtone.mat.layout import Layout
from groundtone.mat.network import SUM_LIMIT, Drivers, pin_current_a
from groundtone.wire.messages import Flag

# A second finger may show up to this part of the weaker press where nobody pressed.
GHOST = 0.03
PRESSED_S = 20e-6
TAPS, TAP_PATIENCE_S = 3, 8.0
SUPPLY_V = 3.3
# Readings until all references have been seen: there are no conductances before.
REFERENCES_IN = 2


def corrected_layout(bench: Bench, diagnosis: Diagnosis | None = None, layout_id: str | None = None) -> Layout:
    """The layout with the orders that the strokes found; the one as built where they found none."""
    orders = (diagnosis or diagnose(bench.evidence, bench.layout)).orders
    if orders is None:
        return bench.layout
    in_order = (tuple(range(bench.layout.rows)),) * 2 + (tuple(range(bench.layout.columns)),)
    left, right, columns = ((() if o == plain else o) for o, plain in zip(orders, in_order, strict=True))
    return replace(
        bench.layout, id=layout_id or bench.layout.id, rows_left=left, rows_right=right, columns_order=columns
    )


def _conductances(readings: tuple[Reading, ...], layout: Layout) -> tuple[np.ndarray, Drivers]:
    """Conductances of each reading at their places, (n, R, C), S; and the drivers."""
    meter = ConductanceMeter(layout)
    cells = np.array([meter.measure(r.frame) for r in readings])
    return cells, meter.drivers


def crosstalk_step(bench: Bench) -> Listener:
    """Two fingers at two corners of a rectangle: nothing may show at the other two."""
    layout = bench.layout
    placed = corrected_layout(bench)
    half = layout.columns_per_panel
    ghosts = []
    causes = []
    for panel in (0, 1):
        rows, columns = (layout.rows // 4, 3 * layout.rows // 4), (panel * half, panel * half + half - 1)
        ask = Ask(
            f"hold {rows[0]} {columns[0]} {rows[1]} {columns[1]}",
            f"{PANELS[panel].capitalize()} panel: press two cells at the same time and hold them for two seconds: row "
            f"{rows[0]}, column {columns[0]} and row {rows[1]}, column {columns[1]}.",
        )
        got = yield from gather(ask, bench.floating())
        if got is None:
            causes.append(f"Nothing was felt on the {PANELS[panel]} panel: see the step before, then try again.")
            continue
        cells, _ = _conductances(got.readings, placed)
        ghost = _ghost(cells, rows, columns)
        if ghost is None:
            causes.append(
                f"The two presses on the {PANELS[panel]} panel did not overlap, or were weak: press both cells firmly, "
                "together, and try again."
            )
        else:
            ghosts.append(ghost)
    bench.figures["crosstalk"] = {"strongest ghost, % of the weaker press": round(100 * max(ghosts, default=np.nan), 2)}
    if ghosts and max(ghosts) > GHOST:
        causes.append(
            f"Two fingers show {100 * max(ghosts):.0f} % of a press where nobody presses: look for film that was not "
            "cut into strips, a wrong series resistor, or damp."
        )
    bench.causes["crosstalk"] = causes


def _ghost(cells: np.ndarray, rows: tuple[int, int], columns: tuple[int, int]) -> float | None:
    """What shows at the two free corners, of the weaker press; None where both were never pressed at once."""
    pressed = np.minimum(cells[:, rows[0], columns[0]], cells[:, rows[1], columns[1]])
    free = np.maximum(np.abs(cells[:, rows[0], columns[1]]), np.abs(cells[:, rows[1], columns[0]]))
    both = pressed > PRESSED_S
    return float(np.median(free[both] / pressed[both])) if both.any() else None


def stand_step(bench: Bench) -> Listener:
    """Both feet, full weight: no column may run out of range, no pin carry too much."""
    ask = Ask("stand", "Step on with both feet and your whole weight, stand still for three seconds, and step off.")
    got = yield from gather(ask, bench.floating(), patience_s=15.0)
    causes: list[str] = []
    if got is None:
        bench.causes["stand"] = ["Nobody was felt on the mat: step on, or see the steps before."]
        return
    cells, drivers = _conductances(got.readings, corrected_layout(bench))
    electrical, _ = _conductances(got.readings, bench.layout)
    heaviest = int(np.nanargmax(np.nansum(cells, axis=(1, 2)))) if np.isfinite(cells).any() else -1
    sums = np.array([r.cells for r in got.readings]).sum(axis=1)
    most = float(sums.max())
    ceiling = any(r.frame.flags & Flag.CEILING for r in got.readings)
    half = bench.layout.columns_per_panel
    left, right = (float("nan"),) * 2
    current = float("nan")
    if heaviest >= 0:
        left, right = (float(cells[heaviest, :, side].sum()) for side in (slice(0, half), slice(half, None)))
        reading = got.readings[heaviest].cells[None]
        high, low = pin_current_a(electrical[heaviest][None], reading, drivers, SUPPLY_V)
        current = float(max(high.max(), low.max()))
    bench.figures["stand"] = {
        "fullest column, of 0.95 at most": round(most, 3),
        "left panel, mS": round(1e3 * left, 2),
        "right panel, mS": round(1e3 * right, 2),
        f"largest pin current, mA of {bench.pin_ma:g}": round(1e3 * current, 2),
    }
    if ceiling or most > SUM_LIMIT:
        causes.append(
            f"A column is full ({most:.2f} of {SUM_LIMIT}): the pull-downs are too large for this film; see "
            "'groundtone build divider' for smaller ones."
        )
    elif not np.isfinite(cells[REFERENCES_IN:]).all():
        causes.append("Some readings belong to no network: look at the step before, then try again.")
    if 1e3 * current > bench.pin_ma:
        causes.append(
            f"A pin would carry {1e3 * current:.0f} mA, and bears {bench.pin_ma:g}: this film conducts too well; see "
            "'groundtone build divider'."
        )
    for name, value in (("left", left), ("right", right)):
        if value < 0.1 * (left + right):
            causes.append(f"The {name} panel felt next to nothing: stand on both, or look at its plug.")
    bench.causes["stand"] = causes


def strike_step(bench: Bench) -> Listener:
    """Taps beside the strike sensor, and none on an empty mat."""
    causes: list[str] = []
    idle = bench.evidence.idle
    if idle is not None and idle.strikes:
        causes.append(
            f"{idle.strikes} strikes were told while nothing was hit: fix the sensor's lead so that it cannot knock."
        )
    heard: list[float] = []
    for number in range(TAPS):
        reading = yield Ask("tap", f"Tap the strike sensor's strip with a club or a coin, tap {number + 1} of {TAPS}.")
        asked_s = reading.t_s
        while reading.t_s - asked_s < TAP_PATIENCE_S:
            if reading.frame.flags & Flag.STRIKE:
                heard.append(reading.frame.strike_peak)
                break
            reading = yield None
        # What rings on belongs to this tap.
        until_s = reading.t_s + 0.5
        while reading.t_s < until_s:
            reading = yield None
    bench.figures["strike"] = {"taps told": len(heard), "asked": TAPS}
    if len(heard) < TAPS:
        causes.append(
            f"{len(heard)} of {TAPS} taps were told: look at the sensor's lead and its plug, the 1 MΩ across it and "
            "the 100 kΩ to the board, and lay it under the edge of the strip."
        )
    bench.causes["strike"] = causes


def soak_step(bench: Bench, seconds: float) -> Listener:
    """Nothing on the mat for a long time: frames that are lost, noise that grows, readings that wander."""
    reading = yield Ask("", f"Leave the mat alone for {_minutes(seconds)}: it is watched for lost frames and noise.")
    began_s = reading.t_s
    frames = missed = strikes = 0
    total = square = np.zeros_like(reading.cells)
    first = last = None
    while reading.t_s - began_s < seconds:
        frames += 1
        missed += reading.missed
        strikes += reading.frame.flags & Flag.STRIKE
        total, square = total + reading.cells, square + reading.cells**2
        last = reading.cells if last is None else 0.98 * last + 0.02 * reading.cells
        first = last if reading.t_s - began_s < 5.0 else first
        reading = yield None
    mean = total / frames
    spread = np.sqrt(np.maximum(square / frames - mean**2, 0.0))
    floating = bench.floating()
    wander = np.abs((last if last is not None else mean) - (first if first is not None else mean))[:, ~floating]
    before = bench.evidence.idle.spread if bench.evidence.idle is not None else spread
    growth = float(np.median(spread) / max(float(np.median(before)), 1e-6))
    bench.figures["soak"] = {
        "seconds": round(reading.t_s - began_s, 1),
        "frames": frames,
        "frames lost": missed,
        "noise against the first look": round(growth, 2),
        "largest wander, % of the range": round(100 * float(wander.max(initial=0.0)), 3),
        "strikes told": int(strikes),
    }
    causes: list[str] = []
    if missed > 0.001 * frames:
        causes.append(f"{missed} of {frames} frames were lost: try another cable or port, and close other programs.")
    if growth > 2.0:
        causes.append(f"The noise grew {growth:.1f} times: look for a loose joint, a charger nearby, or damp.")
    if wander.size and float(wander.max()) > 0.01:
        row, column = np.unravel_index(int(np.argmax(wander)), wander.shape)
        causes.append(
            f"The reading at row {row}, {bench.namer.column(int(np.flatnonzero(~floating)[column]))} wandered by "
            f"{100 * float(wander.max()):.1f} % of the range: look there for damp, or for a cover that is too tight."
        )
    if strikes:
        causes.append(f"{strikes} strikes were told while nothing was hit: fix the sensor's lead.")
    bench.causes["soak"] = causes


def _minutes(seconds: float) -> str:
    return f"{seconds:.0f} seconds" if seconds < 90 else f"{seconds / 60:.0f} minutes"
