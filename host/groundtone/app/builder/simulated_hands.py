"""The simulated hands that do the placements of a bench run."""

from __future__ import annotations

from collections.abc import Sequence

from groundtone.calibration.guided.worklist import Step
from groundtone.twin.scenario import Put


def hands_for(steps: Sequence[Step], fast: bool) -> tuple[Put, ...]:
    """What a simulated helper does for steps: at 8 s a placement, or in fast time as quickly as hands can.

    A heavier load on the cell that was just loaded is added where the puck lies, as a person would.
    """
    hold_s, wait_s = (2.9, 0.6) if fast else (6.0, 2.0)
    out: list[Put] = []
    for before, step in zip([None, *steps], steps, strict=False):
        same = before is not None and before.cell == step.cell
        stay = same and (step.falling or (before is not None and step.force_n > before.force_n and not before.falling))
        out.append(Put(step.cell, step.force_n, bool(stay), None, hold_s, wait_s))
    return tuple(out)
