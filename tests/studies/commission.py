"""Does commissioning find and name what is wired wrong? Single faults at several places, and random pairs of them.

For every mat the firmware's own self-test runs on MicroPython against the twin's board; where it lets rows be driven,
a simulated person touches and strokes the mat as asked, in this process. What was named is then mended and the rest
looked at once more, as a builder would do: some faults hide others (rows that are joined are never driven at all).
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from groundtone.app.simulated import why_in_process
from groundtone.build.commission_steps import Bench, idle_step, press_step, resistor_step
from groundtone.build.diagnosis import Diagnosis, diagnose
from groundtone.build.evidence import Reading, reading_of
from groundtone.build.faults import ORDER_KINDS, PANELS, Fault, Kind
from groundtone.link.serial_link import SerialLink
from groundtone.mat.layout import Layout, layout_of
from groundtone.twin.inprocess import FRAME_BITS, InProcessMat
from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Hands, MatSpec, Scenario
from groundtone.twin.wiring import make_wiring, parse_fault
from groundtone.wire.codec import findings_from
from groundtone.wire.messages import Command, Finding

RATE_HZ = 25
PAIRS = 300


@dataclass(frozen=True)
class Case:
    """One mat with its faults, and what was named: at once, and after the first were mended."""

    faults: tuple[str, ...]
    at_once: frozenset[str]
    in_the_end: frozenset[str]
    found: bool
    wrong: tuple[str, ...]


def looked_at(faults: Sequence[str], seed: int, layout: Layout) -> Diagnosis:
    """The diagnosis of a simulated mat with these faults."""
    mat = mat_with(faults, seed, layout)
    bench = Bench(layout)
    bench.evidence.findings = self_test(mat)
    diagnosis = diagnose(bench.evidence, layout)
    if diagnosis.faults:
        return diagnosis
    hands = InProcessMat(Scenario(mat, Hands(seed=seed)))
    frames = hands.frames(RATE_HZ)

    def reading() -> Reading:
        frame = next(frames)
        return reading_of(frame, frame.t_us * 1e-6, layout.rows, FRAME_BITS)  # type: ignore[arg-type]

    for step in (idle_step, resistor_step, press_step):
        listener = step(bench)
        ask = next(listener)
        while True:
            if ask is not None and ask.do:
                hands.world.do(ask.do)
            try:
                ask = listener.send(reading())
            except StopIteration:
                break
    return diagnose(bench.evidence, layout)


def mat_with(faults: Sequence[str], seed: int, layout: Layout) -> MatSpec:
    """A simulated mat of this layout."""
    return MatSpec(
        seed=seed, layout=layout.id, rows=layout.rows, columns_per_panel=layout.columns_per_panel,
        row_pitch_mm=layout.row_pitch_mm, column_pitch_mm=layout.column_pitch_mm, wiring=tuple(faults),
    )  # fmt: skip


def self_test(mat: MatSpec) -> tuple[Finding, ...]:
    """What the firmware finds out by itself on the empty mat."""
    with (
        MatProcess(Scenario(mat, Hands()), fast=True, start_timeout_s=120.0) as process,
        SerialLink(process.port) as link,
    ):
        process.free()
        return tuple(findings_from(link.request(Command.SELF_TEST, patience_s=10.0)))


def is_named(fault: str, found: Sequence[Fault], layout: Layout) -> bool:
    """Is this fault of the twin among what was found, by kind and line?"""
    every = [*found, *(other for f in found for other in f.alternatives)]
    true = parse_fault(fault)
    n = tuple(int(x) for x in true.numbers)
    pair = tuple(sorted(n))
    keys: dict[str, tuple[Kind, tuple[int, ...], int | None]] = {
        "open-row": (Kind.ROW_OPEN, n, true.panel), "open-column": (Kind.COLUMN_OPEN, n, None),
        "short-rows": (Kind.ROWS_JOINED, pair, None), "short-row-column": (Kind.ROW_ON_COLUMN, n, None),
        "short-columns": (Kind.COLUMNS_JOINED, pair, None), "dead-cell": (Kind.CELL_DEAD, n, None),
        "no-pulldown": (Kind.NO_PULLDOWN, n, None), "pulldown": (Kind.PULLDOWN, n[:1], None),
        "series": (Kind.SERIES, n[:1], None), "reference": (Kind.REFERENCE, (), None),
        "divider": (Kind.DIVIDER, (), None), "address": (Kind.ADDRESS, pair, None), "no-tap": (Kind.TAP_OPEN, (), None),
    }  # fmt: skip
    kind, lines, panel = keys[true.kind]
    if kind is Kind.COLUMNS_JOINED:
        return _connected([f.lines for f in every if f.kind is kind], *lines)
    factor = true.numbers[-1] if true.kind in ("pulldown", "series", "reference", "divider") else None
    for f in every:
        if (f.kind, f.lines, f.panel) == (kind, lines, panel) and (factor is None or 0.5 < f.factor / factor < 2.0):
            return True
    return False


def _connected(pairs: Sequence[tuple[int, ...]], a: int, b: int) -> bool:
    """Are two columns one by way of these pairs? Of three that are one, any two pairs say the same."""
    reached = {a}
    for _ in pairs:
        reached |= {c for pair in pairs if reached & set(pair) for c in pair}
    return b in reached


def orders_named(faults: Sequence[str], found: Sequence[Fault], layout: Layout) -> bool:
    """Do the exchanges that were named, taken together, make the very order that the mat has?"""
    true = make_wiring(tuple(f for f in faults if is_order(f)), layout.rows, layout.columns_per_panel)
    named = make_wiring(tuple(w for f in found for w in _words(f)), layout.rows, layout.columns_per_panel)
    return bool((true.row_line == named.row_line).all() and (true.column_line == named.column_line).all())


def is_order(fault: str) -> bool:
    """Is it an exchange or a reversal?"""
    return fault.startswith(("swap", "reverse"))


def _words(fault: Fault) -> Iterator[str]:
    """A fault of the order in the twin's words."""
    panel = "" if fault.panel is None else PANELS[fault.panel]
    a_b = ",".join(map(str, fault.lines))
    match fault.kind:
        case Kind.ROWS_SWAPPED:
            yield f"swap-rows:{a_b},{panel}"
        case Kind.ROWS_REVERSED:
            yield f"reverse-rows:{panel}"
        case Kind.COLUMNS_SWAPPED:
            yield f"swap-columns:{a_b}"
        case Kind.COLUMNS_REVERSED:
            yield f"reverse-columns:{panel}"
        case Kind.PANELS_SWAPPED:
            yield "swap-panels"


def named_of(faults: Sequence[str], found: Sequence[Fault], layout: Layout) -> frozenset[str]:
    """Those of the mat's faults that were named."""
    out = {f for f in faults if not is_order(f) and is_named(f, found, layout)}
    orders = [f for f in faults if is_order(f)]
    if orders and orders_named(faults, found, layout):
        out |= set(orders)
    return frozenset(out)


def wrong_of(faults: Sequence[str], found: Sequence[Fault], layout: Layout) -> list[str]:
    """What was named and is not so."""
    out = []
    for f in found:
        if f.kind in ORDER_KINDS:
            continue
        if f.kind is Kind.COLUMNS_JOINED:
            true_pairs = [
                tuple(int(n) for n in parse_fault(t).numbers) for t in faults if t.startswith("short-columns")
            ]
            if not _connected(true_pairs, *f.lines):
                out.append(f.sentence)
            continue
        others = [f, *f.alternatives]
        if not any(is_named(true, others, layout) for true in faults if not is_order(true)):
            out.append(f.sentence)
    orders = [f for f in found if f.kind in ORDER_KINDS]
    if orders and not orders_named(faults, found, layout):
        out += [f.sentence for f in orders]
    return out


def case(faults: Sequence[str], seed: int, layout: Layout) -> Case:
    """Look at a mat; mend what was named; look at what is left."""
    first = looked_at(faults, seed, layout).faults
    at_once = named_of(faults, first, layout)
    in_the_end = set(at_once)
    left = [f for f in faults if f not in in_the_end]
    if left and in_the_end:
        in_the_end |= named_of(left, looked_at(left, seed, layout).faults, layout)
    return Case(tuple(faults), at_once, frozenset(in_the_end), bool(first), tuple(wrong_of(faults, first, layout)))


def single_faults(layout: Layout) -> list[str]:
    """Every kind of fault, at several places."""
    last_row, last = layout.rows - 1, layout.columns - 1
    rows = (0, layout.rows // 2, last_row)
    columns = (0, layout.columns_per_panel, last)
    out = [f"open-row:{r}" for r in rows]
    out += [f"open-row:{r},{p}" for r, p in zip(rows, ("left", "right", "left"), strict=True)]
    out += [f"open-column:{c}" for c in columns] + [f"no-pulldown:{c}" for c in columns]
    out += [f"short-rows:{a},{b}" for a, b in ((0, 1), (rows[1], rows[1] + 1), (2, last_row))]
    out += [f"short-columns:{a},{b}" for a, b in ((0, 1), (last - 1, last), (1, last))]
    out += [f"short-row-column:{r},{c}" for r, c in zip(rows, columns, strict=True)]
    out += [f"swap-rows:{a},{b}" for a, b in ((0, 1), (3, last_row))] + ["swap-rows:2,5,left", "swap-rows:0,7,right"]
    out += [f"swap-columns:{a},{b}" for a, b in ((0, 1), (1, last))]
    out += ["reverse-rows", "reverse-rows:left", "reverse-rows:right", "reverse-columns:left", "reverse-columns:right"]
    out += ["swap-panels"] + [f"dead-cell:{r},{c}" for r, c in zip(rows, columns, strict=True)]
    out += [f"pulldown:{c},{f}" for c in columns for f in (10, 0.1)]
    out += [f"series:{r},{f}" for r in rows for f in (10, 0.1)]
    out += ["reference:10", "reference:0.1", "divider:10", "divider:0.1", "no-tap"]
    return out + [f"address:{a},{b}" for a, b in ((0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3))]


def random_pair(rng: np.random.Generator, layout: Layout) -> tuple[str, str]:
    """Two faults of kinds and places drawn at random."""

    def one() -> str:
        r, s = rng.choice(layout.rows, 2, replace=False)
        c, d = rng.choice(layout.columns, 2, replace=False)
        panel = ("left", "right")[rng.integers(2)]
        factor = (10, 0.1)[rng.integers(2)]
        a, b = rng.choice(4, 2, replace=False)
        kinds = (
            f"open-row:{r}", f"open-row:{r},{panel}", f"open-column:{c}", f"short-rows:{r},{s}",
            f"short-columns:{c},{d}", f"short-row-column:{r},{c}", f"swap-rows:{r},{s}", f"swap-columns:{c},{d}",
            f"reverse-rows:{panel}", f"reverse-columns:{panel}", f"dead-cell:{r},{c}", f"no-pulldown:{c}",
            f"pulldown:{c},{factor}", f"series:{r},{factor}", f"reference:{factor}", f"divider:{factor}",
            f"address:{a},{b}", "no-tap",
        )  # fmt: skip
        return kinds[rng.integers(len(kinds))]

    def part(fault: str) -> tuple[str, str]:
        kind, _, rest = fault.partition(":")
        # One part can be wrong in one way only.
        once = kind in ("reference", "divider", "address", "no-tap")
        own = rest.split(",")[0] if kind in ("pulldown", "series", "no-pulldown", "open-row", "open-column") else rest
        return kind.removeprefix("no-"), "" if once else own

    first = one()
    while part(second := one()) == part(first):
        pass
    return first, second


def study_commission(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `seeds` is the number of random pairs."""
    if (reason := why_in_process()) is not None:
        return {"not measured": reason, "ok": False}
    began = time.monotonic()
    layout = layout_of("reference-16x4")
    single = [case((fault,), 1 + i, layout) for i, fault in enumerate(single_faults(layout))]
    rng = np.random.default_rng(20)
    pairs = [case(random_pair(rng, layout), 1 + i, layout) for i in range(seeds or PAIRS)]
    healthy = [looked_at((), seed, layout) for seed in range(1, 21)]
    found = float(np.mean([c.found for c in single]))
    named = float(np.mean([len(c.at_once) == 1 for c in single]))
    at_once = float(np.mean([len(c.at_once) == 2 for c in pairs]))
    in_the_end = float(np.mean([len(c.in_the_end) == 2 for c in pairs]))
    return {
        f"single faults found, of {len(single)} (all asked)": found,
        "single faults named by kind and line": named,
        "single faults not named": [c.faults[0] for c in single if not c.at_once],
        f"both of two faults named at once, of {len(pairs)} pairs": round(at_once, 4),
        "both named when the first found were mended (0.95 asked)": round(in_the_end, 4),
        "pairs of which something was found": float(np.mean([c.found for c in pairs])),
        "pairs with something named that is not so": round(float(np.mean([bool(c.wrong) for c in pairs])), 4),
        "pairs not both named": [", ".join(c.faults) for c in pairs if len(c.in_the_end) < 2],
        "healthy mats called faulty, of 20": sum(bool(d.faults) for d in healthy),
        "minutes": round((time.monotonic() - began) / 60, 1),
        "ok": found == 1.0 and in_the_end >= 0.95 and not any(d.faults for d in healthy),
    }
