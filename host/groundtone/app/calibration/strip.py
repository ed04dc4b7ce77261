"""A strip of film was replaced: its cells are asked for again, and all others keep what was taken of them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.guided.run_log import Run, RunLog
from groundtone.calibration.own_profile import set_aside
from groundtone.errors import CalibrationError
from groundtone.mat.layout import PANELS, Layout

# What was taken before lies so long ago at least, s, whatever a mat's clock says after another start.
_LONG_AGO_S = 86_400.0


def without_strip(path: Path, earlier: Run | None, strip: tuple[str, int], layout: Layout) -> tuple[Run, Path]:
    """Writes the run anew without one strip's placements: what is left of it, and the other name of the old file.

    Parameters
    ----------
    strip : (str, int)
        Panel, "left" or "right", and the column on it, from 0.

    Raises
    ------
    CalibrationError
        There is no such strip, or no run that knows the other cells.
    """
    panel, number = strip
    if not 0 <= number < layout.columns_per_panel:
        raise CalibrationError(
            f"the {panel} panel has no strip {number}: count its strips from 0 on the left to "
            f"{layout.columns_per_panel - 1}, whatever the map calls the column"
        )
    if earlier is None or not earlier.placements:
        raise CalibrationError(f"there is no run {path} that knows the other cells: calibrate the whole mat")
    column = PANELS.index(panel) * layout.columns_per_panel + number
    kept = [_earlier(p, earlier.placements) for p in earlier.placements if p.column != column]
    aside = set_aside(path) or path
    log = RunLog(path, earlier.head)
    for placement in kept:
        log.placement(placement)
        if placement.lifted_s == placement.lifted_s:
            log.lifted(placement.lifted_s, placement.grew)
    log.close()
    return replace(earlier, placements=tuple(kept), finished=False), aside


def _earlier(placement: Placement, every: tuple[Placement, ...]) -> Placement:
    """The same, before all that is still to come."""
    newest = max((p.t_s for p in every if p.t_s == p.t_s), default=0.0)
    back_s = newest + _LONG_AGO_S
    return replace(placement, t_s=placement.t_s - back_s, lifted_s=placement.lifted_s - back_s)
