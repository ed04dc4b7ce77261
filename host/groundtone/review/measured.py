"""A recording measured anew: frames to conductances, forces and series, in blocks that carry what the film remembers.

The live path goes frame by frame through `ConductanceMeter` and `ForceMeter`; here the same algebra runs over blocks
and gives the same forces. What is kept of a frame is what the series needs, so that hours fit into memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film, ForceMeter
from groundtone.mat.layout import PANELS, Layout
from groundtone.pressure.series import Rows, Series, joined, rows_of, series_from_rows
from groundtone.record.frames import Frames
from groundtone.record.reader import Recording
from groundtone.review.conductances import conductance_blocks
from groundtone.review.shoes import SoleForces
from groundtone.wire.messages import Flag


@dataclass(frozen=True)
class Measured:
    """A recording and its series.

    Attributes
    ----------
    recording : Recording
    series : Series
    doubts : list of str
        What a reader of the figures must know: what of the recording is lost, and that a film was guessed.
    """

    recording: Recording
    series: Series
    doubts: list[str]


def measure(recording: Recording, profile: Path | None = None) -> Measured:
    """The series of a recording.

    Parameters
    ----------
    recording : Recording
    profile : Path, optional
        A profile to measure with instead of the recorded one.

    Raises
    ------
    ProfileError, LayoutError
        The profile or the layout is not this mat's.
    """
    film, guessed = recording.film(profile)
    layout, settings = recording.layout, recording.about.settings
    shoe_mm = settings.shoe_mm if settings.shoe_mm is not None else recording.about.golfer.shoe_mm
    series = series_from_rows(
        rows_of_frames(recording.frames, layout, film, settings.panel),
        layout,
        settings.stance,
        shoe_mm=shoe_mm,
        strikes=strikes_of(recording.frames),
        panel=settings.panel,
    )
    alone = "" if settings.panel is None else one_panel_sentence(settings.panel)
    return Measured(recording, series, [*recording.lost, *filter(None, [guessed, alone])])


def one_panel_sentence(panel: int) -> str:
    """What a reader must know of a recording with one panel."""
    return (
        f"Only the {PANELS[panel]} panel was there: one panel alone has no lead share and no swings, "
        "only where the pressure under its foot was."
    )


def rows_of_frames(frames: Frames, layout: Layout, film: Film, panel: int | None = None) -> Rows:
    """What the series needs of every frame.

    Parameters
    ----------
    frames : Frames
    layout : Layout
    film : Film
    panel : int, optional
        The one panel that is there.
    """
    t_s, at = frames.t_s, 0
    parts = []
    for force in force_blocks(frames, layout, film, panel):
        parts.append(rows_of(t_s[at : at + len(force)], force, layout))
        at += len(force)
    return joined(parts)


def force_blocks(frames: Frames, layout: Layout, film: Film, panel: int | None = None) -> Iterator[NDArray[np.float64]]:
    """Force of each cell on the golfer's soles, N, blocks of shape (n, rows, columns) in order; at least one.

    One panel alone never sees the whole weight, so no shoe can be learnt there.
    """
    meter = ForceMeter(film, layout.pitch_mm)
    soles = SoleForces(layout, film) if panel is None else None
    for begin, conductance in conductance_blocks(frames, layout, panel):
        times = frames.t_s[begin : begin + len(conductance)]
        force = meter.forces_n(times, conductance)
        yield soles.take(times, force) if soles is not None else force
    yield soles.end() if soles is not None else np.empty((0, layout.rows, layout.columns))


def film_forces(frames: Frames, layout: Layout, film: Film) -> NDArray[np.float64]:
    """Force of each cell by the film alone, N, shape (n, rows, columns): for short recordings, 1 kB a frame."""
    meter = ForceMeter(film, layout.pitch_mm)
    out = np.empty((len(frames), layout.rows, layout.columns))
    for begin, conductance in conductance_blocks(frames, layout):
        cut = slice(begin, begin + len(conductance))
        out[cut] = meter.forces_n(frames.t_s[cut], conductance)
    return out


def strikes_of(frames: Frames) -> list[tuple[float, float]]:
    """Device time in s and peak (0-1 of the sensor's range) of what the strike sensor heard."""
    at = np.flatnonzero(frames.flags & Flag.STRIKE)
    when = frames.t_s[at] - frames.strike_offset_us[at] * 1e-6
    peak = frames.strike_peak[at] / (1 << frames.bits)
    return list(zip(when.tolist(), peak.tolist(), strict=True))
