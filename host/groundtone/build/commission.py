"""Commissioning as a whole: which steps there are, what came of each, and the file in which it is kept.

The steps in order: what the mat finds out by itself, the empty mat, the test resistor, the presses, two fingers, full
weight, the strike sensor, the radio, the soak. Each can be done again on its own; what was gathered is kept.
"""

from __future__ import annotations

import json
import operator
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from groundtone.build.commission_more import corrected_layout
from groundtone.build.commission_steps import Bench
from groundtone.build.diagnosis import Diagnosis, diagnose
from groundtone.build.evidence import from_json, to_json
from groundtone.build.faults import ORDER_KINDS, Fault, Kind
from groundtone.errors import BuildError
from groundtone.files import write_file
from groundtone.mat.layout import Layout

SCHEMA = 1
STEPS = ("board", "idle", "resistor", "press", "crosstalk", "stand", "strike", "radio", "soak")
TITLES = {
    "board": "What the mat finds out by itself",
    "idle": "The empty mat",
    "resistor": "Test resistor at every row and column",
    "press": "Every cell pressed",
    "crosstalk": "Two fingers at once",
    "stand": "Full weight",
    "strike": "Strike sensor",
    "radio": "Radio range",
    "soak": "Left alone for a while",
}
# The step that shows a fault, and is to be done again when it is mended.
SHOWN_BY = {
    Kind.ROWS_JOINED: "board", Kind.ROW_LOW: "board", Kind.ROW_ON_COLUMN: "board", Kind.FILM_UNCUT: "board",
    Kind.SETTLE: "board", Kind.OTHER: "board", Kind.NO_PULLDOWN: "idle", Kind.DIVIDER: "idle", Kind.TAP_OPEN: "idle",
    Kind.ZERO: "idle", Kind.REFERENCE: "idle", Kind.ADDRESS: "idle", Kind.CELL_STUCK: "idle", Kind.CELL_NOISY: "idle",
    Kind.PULLDOWN: "resistor", Kind.SERIES: "resistor", Kind.MULTIPLEXER: "idle", Kind.UNEXPLAINED: "resistor",
}  # fmt: skip
NOT_DONE = "not done"
OPTIONAL = ("strike", "radio")
"""Parts that a mat need not have: a step that was left out for the want of one holds nothing up."""


Orders = tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]
IN_ORDER: Orders = ((), (), ())


def orders_of(layout: Layout) -> Orders:
    """The orders of a layout."""
    return layout.rows_left, layout.rows_right, layout.columns_order


def as_built(layout: Layout) -> Layout:
    """A layout without its orders: what the plan says, whatever the wires do."""
    return replace(layout, rows_left=(), rows_right=(), columns_order=())


def _plan_digest(layout: Layout) -> str:
    return replace(as_built(layout), id="as built").digest


class CommissionError(BuildError):
    """Commissioning could not go on, or its file cannot be used."""


@dataclass(frozen=True)
class StepResult:
    """What came of a step.

    Attributes
    ----------
    key : str
        One of `STEPS`.
    outcome : str
        "passed", "failed" or "not done".
    causes : tuple of str
        What is wrong and what to do, a sentence or two each; for "not done" the reason.
    """

    key: str
    outcome: str
    causes: tuple[str, ...] = ()
    figures: dict[str, Any] = field(default_factory=dict)


@dataclass
class Record:
    """A commissioning as far as it has come.

    Attributes
    ----------
    uid : str
        The mat's id.
    done : dict of str to str
        Date of each step that has been done, or "" with a reason in `skipped`.
    skipped : dict of str to str
        Why a step was left out.
    orders : tuple of three tuples
        Orders of the left panel's rows, the right one's and the columns in the layout that the mat uses now; empty
        where the wires are in order. Wires in this order are right.
    faults : tuple of str
        How a simulated mat was wired wrong on purpose.
    """

    uid: str
    bench: Bench
    done: dict[str, str] = field(default_factory=dict)
    skipped: dict[str, str] = field(default_factory=dict)
    simulated: bool = False
    orders: Orders = ((), (), ())
    faults: tuple[str, ...] = ()
    _known: tuple[list[Any], Diagnosis] | None = field(default=None, repr=False)

    def diagnosis(self) -> Diagnosis:
        """What all steps together say; worked out anew only when evidence has come or gone."""
        evidence = self.bench.evidence
        parts = [evidence.findings, evidence.idle, *evidence.touches, *evidence.strokes]
        # Identity is enough: evidence is replaced and never changed.
        known = self._known
        if known is None or len(known[0]) != len(parts) or any(map(operator.is_not, known[0], parts)):
            self._known = known = parts, diagnose(evidence, self.bench.layout)
        return known[1]

    def results(self) -> list[StepResult]:
        """Every step's result, in order."""
        faults = self.diagnosis().faults
        return [self._result(key, faults) for key in STEPS]

    def commissioned(self) -> bool:
        """Every step that can be done has passed."""
        results = self.results()
        return all(r.outcome == "passed" or (r.key in OPTIONAL and r.key in self.skipped) for r in results)

    def next_step(self) -> str | None:
        """The first step that has not passed; None where all have."""
        return next((r.key for r in self.results() if r.outcome != "passed" and r.key not in self.skipped), None)

    def _result(self, key: str, faults: Sequence[Fault]) -> StepResult:
        figures = self.bench.figures.get(key, {})
        if key in self.skipped:
            return StepResult(key, NOT_DONE, (self.skipped[key],), figures)
        if key not in self.done:
            return StepResult(key, NOT_DONE, (), figures)
        mine = [f for f in faults if SHOWN_BY.get(f.kind, "press") == key]
        if self.orders != IN_ORDER and orders_of(corrected_layout(self.bench, self.diagnosis())) == self.orders:
            mine = [f for f in mine if f.kind not in ORDER_KINDS]
        causes = [f"{f.sentence} {f.remedy}" for f in mine] + self.bench.causes.get(key, [])
        return StepResult(key, "failed" if causes else "passed", tuple(causes), figures)


def to_text(record: Record) -> str:
    """The result as a page of text."""
    lines = [
        f"Commissioning of mat {record.uid}, layout {record.bench.layout.id}"
        + (" (simulated: no real mat was measured)" if record.simulated else ""),
        "",
    ]
    marks = {"passed": "passed  ", "failed": "FAILED  ", NOT_DONE: "not done"}
    for number, result in enumerate(record.results(), 1):
        lines.append(f"{number}  {marks[result.outcome]}  {TITLES[result.key]}")
        lines += [f"       {cause}" for cause in result.causes]
        lines += [f"       {name}: {value}" for name, value in result.figures.items()]
    lines += ["", verdict(record)]
    untested = record.diagnosis().untested
    if untested:
        lines.append(f"Not looked at because of that: {', '.join(untested)}.")
    return "\n".join(lines) + "\n"


def verdict(record: Record) -> str:
    """One sentence about the whole."""
    if record.commissioned():
        return "Commissioned: every step that can be done has passed. Calibrate the mat next."
    results = record.results()
    failed = [r for r in results if r.outcome == "failed"]
    if failed:
        many = f"{len(failed)} steps have failed" if len(failed) > 1 else "One step has failed"
        return f"Not commissioned: {many}. Mend what is named, then do '{failed[0].key}' and what follows again."
    if (following := record.next_step()) is not None:
        return f"Not finished: '{following}' is next."
    left_out = [key for key in STEPS if key in record.skipped and key not in OPTIONAL]
    return f"Not commissioned: left out was {', '.join(left_out)}. Do it with --again {left_out[0]}."


def save(path: Path, record: Record) -> None:
    """Write the record so that the file is the old one or the whole new one.

    Raises
    ------
    BuildError
        It cannot be written.
    """
    content = {
        "groundtone commissioning": SCHEMA,
        "mat": record.uid,
        "layout": record.bench.layout.id,
        "plan digest": _plan_digest(record.bench.layout),
        "simulated": record.simulated,
        "wired wrong on purpose": list(record.faults),
        "verdict": verdict(record),
        "steps": [asdict(result) for result in record.results()],
        "faults": [
            {"kind": f.kind.value, "lines": list(f.lines), "panel": f.panel, "sentence": f.sentence, "remedy": f.remedy}
            for f in record.diagnosis().faults
        ],
        "done": record.done,
        "skipped": record.skipped,
        "figures": record.bench.figures,
        "causes": record.bench.causes,
        "evidence": to_json(record.bench.evidence),
    }
    write_file(path, json.dumps(content, indent=1) + "\n")


def load(path: Path, uid: str, layout: Layout) -> Record | None:
    """The record of a mat; None where there is none yet.

    Raises
    ------
    CommissionError
        The file is damaged, of a newer program, or another mat's.
    """
    try:
        content = json.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, ValueError, RecursionError) as error:
        raise CommissionError(f"{path} cannot be used ({error}): move it away and begin again") from error
    if not isinstance(content, dict) or content.get("groundtone commissioning") != SCHEMA:
        raise CommissionError(f"{path} is not a commissioning of this program: move it away and begin again")
    if content.get("mat") != uid or content.get("plan digest") != _plan_digest(layout):
        raise CommissionError(
            f"{path} belongs to mat {content.get('mat')} with layout {content.get('layout')}, and this is mat {uid} "
            f"with {layout.id}: name another folder with --out"
        )
    try:
        bench = Bench(
            as_built(layout), from_json(content["evidence"]), dict(content["figures"]), dict(content["causes"])
        )
        return Record(
            uid,
            bench,
            dict(content["done"]),
            dict(content["skipped"]),
            bool(content["simulated"]),
            orders_of(layout),
            tuple(content["wired wrong on purpose"]),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise CommissionError(f"{path} lacks what it needs: move it away and begin again") from error
