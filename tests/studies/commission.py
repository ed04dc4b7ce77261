"""Does commissioning name what is wired wrong, and nothing else? Every part with every wrong value of the bag, on both
builds; every other kind of fault at several places; random pairs; mats that are in order.

The firmware's own self-test runs on MicroPython against the twin's board for every wiring fault and every pair, and for
each tenth of the resistors and of the mats in order; the others take the short path, without it, which knows less.
Where rows may be driven, a simulated person touches and strokes the mat as asked, in this process. What was named is
then mended and the rest looked at once more, as a builder would do: some faults hide others (rows that are joined are
never driven at all).
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from groundtone.app.mat import why_in_process
from groundtone.build.commission_steps import Bench, idle_step, press_step, resistor_step
from groundtone.build.diagnosis import Diagnosis, diagnose
from groundtone.build.evidence import Reading, reading_of
from groundtone.build.faults import ORDER_KINDS, PANELS, Fault, Kind
from groundtone.link.serial_link import SerialLink
from groundtone.mat.layout import Layout, layout_of
from groundtone.twin.inprocess import FRAME_BITS, InProcessMat
from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Hands, MatSpec, Scenario
from groundtone.twin.wiring import WiringFault, make_wiring, parse_fault
from groundtone.wire.codec import findings_from
from groundtone.wire.messages import Command, Finding
from studies.study import study

RATE_HZ = 25
PAIRS, HEALTHY = 300, 500
EVERY = 10
"""Of the resistors and of the mats in order so few go through the firmware."""
BAG_OHM = (100.0, 220.0, 820.0, 1e3, 4.7e3, 1e4, 1e5, 1e6)
"""What lies in the bag of parts beside the right resistor."""
LAYOUTS = ("starter-10x3", "reference-16x4")


@dataclass(frozen=True)
class Case:
    """One mat with its faults, and what was named: at once, and after the first were mended."""

    layout: str
    faults: tuple[str, ...]
    at_once: tuple[str, ...]
    in_the_end: tuple[str, ...]
    exact: bool
    said: tuple[str, ...]
    wrong: tuple[str, ...]


def looked_at(faults: Sequence[str], seed: int, layout: Layout, *, short: bool = False) -> Diagnosis:
    """The diagnosis of a simulated mat with these faults; `short`: without what the firmware finds out by itself."""
    mat = mat_with(faults, seed, layout)
    bench = Bench(layout)
    bench.evidence.findings = () if short else self_test(mat)
    diagnosis = diagnose(bench.evidence, layout)
    if diagnosis.faults:
        return diagnosis
    hands = InProcessMat(Scenario(mat, Hands(seed=seed)))
    frames = hands.frames(RATE_HZ)

    def reading() -> Reading:
        frame = next(frames)
        return reading_of(frame, frame.t_us * 1e-6, layout.rows, FRAME_BITS)

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
    return MatSpec.reference(
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
        "no-tap": (Kind.TAP_OPEN, (), None), "no-zero": (Kind.ZERO, (), None),
        "no-multiplexer": (Kind.MULTIPLEXER, (), None), "address": (Kind.ADDRESS, pair, None),
    }  # fmt: skip
    if true.kind not in keys:
        return any(_is_part(true, f) for f in every)
    kind, lines, panel = keys[true.kind]
    if kind is Kind.COLUMNS_JOINED:
        return _connected([f.lines for f in every if f.kind is kind], *lines)
    return any((f.kind, f.lines, f.panel) == (kind, lines, panel) for f in every)


PART_KINDS = {
    "series": (220.0, {Kind.SERIES, Kind.ROW_OPEN}), "pulldown": (1e3, {Kind.PULLDOWN, Kind.NO_PULLDOWN}),
    "no-pulldown": (1e3, {Kind.NO_PULLDOWN}), "reference": (1e3, {Kind.REFERENCE}),
    "divider": (1e4, {Kind.DIVIDER}), "divider-lower": (1e4, {Kind.DIVIDER}),
}  # fmt: skip
"""What each resistor of the twin should have, Ω, and as what it is named."""


def _is_part(true: WiringFault, fault: Fault) -> bool:
    """Is this the resistor, with a range of values that holds the true one?"""
    nominal, kinds = PART_KINDS[true.kind]
    line = tuple(int(n) for n in true.numbers[:1]) if true.kind in ("series", "pulldown", "no-pulldown") else ()
    ohm = np.inf if true.kind == "no-pulldown" else nominal * true.numbers[-1]
    if fault.kind not in kinds or fault.lines != line or not fault.ohm:
        return False
    return fault.ohm[0] / 1.001 <= ohm <= fault.ohm[-1] * 1.001


def named_exactly(fault: str, found: Sequence[Fault], layout: Layout) -> bool:
    """Is this fault named and nothing else, not even as what may look the same?

    The halves of the divider are one part here: no reading of a voltage can tell them apart.
    """
    every = [*found, *(other for f in found for other in f.alternatives)]
    kinds = {f.kind for f in every}
    one = len(found) == 1 and (len(every) == 1 or kinds == {Kind.DIVIDER})
    return one and named_of((fault,), found, layout) == {fault}


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


def case(faults: Sequence[str], seed: int, layout: Layout, *, short: bool = False) -> Case:
    """Look at a mat; mend what was named; look at what is left."""
    first = looked_at(faults, seed, layout, short=short).faults
    at_once = named_of(faults, first, layout)
    in_the_end = set(at_once)
    left = [f for f in faults if f not in in_the_end]
    if left and in_the_end:
        in_the_end |= named_of(left, looked_at(left, seed, layout).faults, layout)
    exact = named_exactly(faults[0], first, layout) if len(faults) == 1 else not first
    said = tuple(f.sentence for f in first)
    return Case(
        layout.id, tuple(faults), tuple(sorted(at_once)), tuple(sorted(in_the_end)), exact, said,
        tuple(wrong_of(faults, first, layout)),
    )  # fmt: skip


def part_faults(layout: Layout) -> list[str]:
    """Every resistor with every wrong value of the bag."""
    places = [f"series:{row}" for row in range(layout.rows)] + [f"pulldown:{c}" for c in range(layout.columns)]
    out = []
    for place in [*places, "reference:", "divider:", "divider-lower:"]:
        kind, _, line = place.partition(":")
        nominal = PART_KINDS[kind][0]
        out += [f"{kind}:{line}{',' * bool(line)}{ohm / nominal:g}" for ohm in BAG_OHM if ohm != nominal]
    return out


def single_faults(layout: Layout) -> list[str]:
    """Every other kind of fault, at several places."""
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
    out += ["no-tap", "no-zero", "no-multiplexer"]
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


def _singles() -> list[tuple[str, tuple[str, ...]]]:
    layouts = [layout_of(name) for name in LAYOUTS]
    return [(lay.id, (fault,)) for lay in layouts for fault in (*part_faults(lay), *single_faults(lay))]


def _pairs() -> list[tuple[str, tuple[str, ...]]]:
    layout, rng = layout_of(LAYOUTS[1]), np.random.default_rng(20)
    return [(layout.id, random_pair(rng, layout)) for _ in range(PAIRS)]


def _cases() -> list[tuple[str, tuple[str, ...]]]:
    """Single faults, mats in order (both builds in turn), pairs."""
    return [*_singles(), *((LAYOUTS[i % 2], ()) for i in range(HEALTHY)), *_pairs()]


def one(number: int) -> dict[str, Any]:
    """The case of this number, as plain values."""
    layout_id, faults = _cases()[number]
    resistor = len(faults) == 1 and faults[0].partition(":")[0] in PART_KINDS
    short = (resistor or not faults) and number % EVERY != 0
    return asdict(case(faults, 1 + number, layout_of(layout_id), short=short))


def study_commission(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `seeds` draws so many of the single faults and of the mats in order, and a third as many pairs."""
    if (reason := why_in_process()) is not None:
        return {"not measured": reason, "ok": False}
    began = time.monotonic()
    singles, whole = len(_singles()), len(_cases())
    parts = [list(range(singles)), list(range(singles, singles + HEALTHY)), list(range(singles + HEALTHY, whole))]
    if seeds is not None:
        rng = np.random.default_rng(3)
        many = (seeds, seeds, max(1, seeds // 3))
        parts = [
            sorted(rng.choice(p, min(n, len(p)), replace=False).tolist()) for p, n in zip(parts, many, strict=True)
        ]
    done = study("commission", one, [n for part in parts for n in part], ("build", "mat", "twin", "wire"))
    by_part: list[list[Any]] = [[], [], []]
    for number, result in zip(done.seeds, done.results, strict=True):
        by_part[(number >= singles) + (number >= singles + HEALTHY)].append(result)
    single, healthy, pairs = by_part
    exact = float(np.mean([c["exact"] for c in single])) if single else float("nan")
    in_the_end = float(np.mean([len(c["in_the_end"]) == 2 for c in pairs])) if pairs else float("nan")
    faulty = sum(bool(c["said"]) for c in healthy)
    return {
        f"single faults named exactly and nothing else, of {len(single)} (0.98 asked)": round(exact, 4),
        "of which resistors, every one with every value": round(_share(single, resistors=True), 4),
        "and wiring": round(_share(single, resistors=False), 4),
        "not named exactly": [
            f"{c['layout']} {c['faults'][0]}: {' '.join(c['said'])}" for c in single if not c["exact"]
        ],
        f"mats in order of which something was named, of {len(healthy)} (none asked)": faulty,
        "both of two faults named at once": round(float(np.mean([len(c["at_once"]) == 2 for c in pairs])), 4),
        f"both named when the first found were mended, of {len(pairs)} pairs (0.95 asked)": round(in_the_end, 4),
        "pairs with something named that is not so": round(float(np.mean([bool(c["wrong"]) for c in pairs])), 4),
        "pairs not both named": [", ".join(c["faults"]) for c in pairs if len(c["in_the_end"]) < 2],
        "of resistors and mats in order through the firmware": f"each {EVERY}th",
        "minutes": round((time.monotonic() - began) / 60, 1),
        "ok": done.whole and exact >= 0.98 and in_the_end >= 0.95 and not faulty,
    }


def _share(cases: Sequence[Any], *, resistors: bool) -> float:
    mine = [c["exact"] for c in cases if (c["faults"][0].partition(":")[0] in PART_KINDS) == resistors]
    return float(np.mean(mine)) if mine else float("nan")
