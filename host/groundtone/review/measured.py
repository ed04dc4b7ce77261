"""A recording measured anew: frames to conductances, forces and series, in blocks that carry what the film remembers.

The live path goes frame by frame through `ConductanceMeter` and `ForceMeter`; here the same algebra runs over blocks
and gives the same forces. What is kept of a frame is what the series needs, so that hours fit into memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film, ForceMeter
from groundtone.calibration.force_curve import typical_curves
from groundtone.calibration.profile import Profile, profile_from_text, read_profile
from groundtone.mat.conductance import DRIVER_INTERVAL, FIRST_LOOK, TOLERANCE
from groundtone.mat.hum import Hum
from groundtone.mat.layout import PANELS, Layout
from groundtone.mat.network import conductances
from groundtone.mat.references import SLOW, References, drivers_after
from groundtone.pressure.cell_watch import CellWatch, filled_doubt
from groundtone.pressure.from_feet import forces_from_feet, told_feet
from groundtone.pressure.series import Rows, Series, joined, rows_of, series_from_rows
from groundtone.pressure.stands import NOBODY_N
from groundtone.record.frames import Frames
from groundtone.record.reader import Recording
from groundtone.review.noted import notes_in, sentences_of
from groundtone.review.settings import stance_in
from groundtone.review.shoes import SoleForces
from groundtone.review.stated import KeptFrames, StatedFrames, budgeted
from groundtone.wire.messages import Flag
from groundtone.wire.notes import Note


@dataclass(frozen=True)
class Measured:
    """A recording and its series.

    Attributes
    ----------
    doubts : list of str
        What a reader of the figures must know: what of the recording is lost, that a film was guessed, and which cells
        went ill.
    filled_u : (float, float)
        What filling those adds to the doubt of the share and of a heel-toe position.
    left : float
        By how much the total of a still body changed with the posture, relative: what the calibration does not know.
    stated : StatedFrames or None
        What the mat's budget says frame by frame; None where no cells were recorded, or one panel alone.
    """

    recording: Recording
    series: Series
    doubts: list[str]
    filled_u: tuple[float, float] = (0.0, 0.0)
    left: float = 0.0
    stated: StatedFrames | None = None


def measure(recording: Recording, profile: Path | None = None) -> Measured:
    """The series of a recording.

    Parameters
    ----------
    profile : Path, optional
        A profile to measure with instead of the recorded one.

    Raises
    ------
    ProfileError, LayoutError
        The profile or the layout is not this mat's.
    """
    if notes := notes_in(recording):
        return Measured(recording, _no_frames(recording, notes), sentences_of(recording))
    film, guessed = film_of(recording, profile)
    layout, settings = recording.layout, recording.about.settings
    shoe_mm = settings.shoe_mm if settings.shoe_mm is not None else recording.about.golfer.shoe_mm
    watch = CellWatch(layout, film.dead)
    soles = SoleForces(layout, film, feet=len(recording.feet) > 0)
    kept = KeptFrames() if settings.panel is None else None
    rows, carried_n = rows_of_frames(recording.frames, layout, film, settings.panel, watch, soles, kept)
    strikes = strikes_of(recording.frames)
    if len(recording.feet):
        rows, strikes = _with_feet(recording, rows, strikes, soles)
    handed_over = [rows]
    del rows  # an hour's are 100 MB, and go as soon as they have been read
    series = series_from_rows(
        handed_over.pop(),
        layout,
        stance_in(settings),
        shoe_mm=shoe_mm,
        strikes=strikes,
        panel=settings.panel,
        keep=False,
    )
    alone = "" if settings.panel is None else one_panel_sentence(settings.panel)
    ill = [each.sentence(layout) for each in watch.ill]
    known = read_profile(profile) if profile is not None else profile_of(recording)
    of_class, lent = budgeted(known, replace(film, dead=tuple({*film.dead, *watch.cells})))
    return Measured(
        recording, series, [*recording.lost, *filter(None, [guessed, alone, lent]), *ill],
        filled_doubt(watch.cells, carried_n[None], layout), soles.left,
        kept.stated(layout, of_class, soles.stands, stance_in(settings).lead) if kept is not None else None,
    )  # fmt: skip


def _no_frames(recording: Recording, notes: list[Note]) -> Series:
    # Frames around each swing of which nothing is known: whoever looks into the series finds nothing there.
    layout = recording.layout
    around = [np.arange(note.since_s - note.takeaway_s - 3.0, note.since_s + 4.0, 0.05) for note in notes]
    t_s = np.unique(np.concatenate(around))
    nothing = np.full((t_s.size, 2, layout.rows), math.nan, np.float32)
    rows = Rows(t_s, nothing, nothing[:, :, 0])
    return series_from_rows(rows, layout, stance_in(recording.about.settings))


def _with_feet(
    recording: Recording, rows: Rows, strikes: list[tuple[float, float]], soles: SoleForces
) -> tuple[Rows, list[tuple[float, float]]]:
    """Rows of frames and of what the mat told of the feet, in order of time, both on the soles; strikes of both."""
    feet = recording.feet
    force_n, u, v = told_feet(feet.messages())
    force_n, u = soles.on_feet(feet.t_s, force_n, u)
    own = rows_of(feet.t_s, forces_from_feet(force_n, u, v, recording.layout), recording.layout)
    t_s = np.concatenate([rows.t_s, own.t_s])
    order = np.argsort(t_s, kind="stable")
    both = Rows(
        t_s[order], np.concatenate([rows.row_n, own.row_n])[order],
        np.concatenate([rows.across_nmm, own.across_nmm])[order],
    )  # fmt: skip
    when, peak = feet.strikes()
    told = zip(when.tolist(), (peak / (1 << recording.frames.bits)).tolist(), strict=True)
    return both, sorted([*strikes, *told])


def profile_of(recording: Recording) -> Profile | None:
    """The mat's profile as it was at the time; None where there was none.

    Raises
    ------
    ProfileError
        Its text is damaged, or it is of another mat.
    """
    text = recording.about.profile_text
    return profile_from_text(text, f"in {recording.path.name}") if text is not None else None


def film_of(recording: Recording, profile: Path | None = None) -> tuple[Film, str]:
    """The film to measure with, and a sentence where it is a guess (else empty).

    Parameters
    ----------
    profile : Path, optional
        A profile to take instead of the recorded one.

    Raises
    ------
    ProfileError
        The profile cannot be read, or is of another mat.
    """
    layout = recording.layout
    known = read_profile(profile) if profile is not None else profile_of(recording)
    if known is None:
        return Film(typical_curves(layout.rows, layout.columns)), (
            f"{recording.path.name} was recorded without a profile: forces are a guess from the typical film, cells "
            "differ by a quarter. If the mat has been calibrated since, name its profile with --profile."
        )
    known.check_mat(recording.about.hello, layout)
    return known.film, ""


def one_panel_sentence(panel: int) -> str:
    """What a reader must know of a recording with one panel."""
    return (
        f"Only the {PANELS[panel]} panel was there: one panel alone has no lead share and no swings, "
        "only where the pressure under its foot was."
    )


def rows_of_frames(
    frames: Frames,
    layout: Layout,
    film: Film,
    panel: int | None = None,
    watch: CellWatch | None = None,
    soles: SoleForces | None = None,
    kept: KeptFrames | None = None,
) -> tuple[Rows, NDArray[np.float64]]:
    """What the series needs of every frame, and the mean force of each cell while somebody stood there, N.

    Parameters
    ----------
    panel : int, optional
        The one panel that is there.
    watch : CellWatch, optional
        Notices cells that go ill, and has them filled.
    soles : SoleForces, optional
        Learns the shoes.
    kept : KeptFrames, optional
        Gathers frames for the uncertainty budget.
    """
    carried, count = np.zeros((layout.rows, layout.columns)), 0

    def blocks() -> Iterator[Rows]:
        nonlocal count
        t_s, at = frames.t_s, 0
        for force in force_blocks(frames, layout, film, panel, watch, soles):
            yield rows_of(t_s[at : at + len(force)], force, layout)
            if kept is not None:
                kept.take(t_s[at : at + len(force)], force)
            at += len(force)
            total = force.sum(axis=(1, 2))
            if math.isnan(float(total.sum())):
                force = np.nan_to_num(force)
                total = force.sum(axis=(1, 2))
            there = total > NOBODY_N
            carried[:] += (there.astype(np.float64) @ force.reshape(len(force), carried.size)).reshape(carried.shape)
            count += int(there.sum())

    rows = joined(blocks(), len(frames))
    return rows, carried / max(count, 1)


def force_blocks(
    frames: Frames,
    layout: Layout,
    film: Film,
    panel: int | None = None,
    watch: CellWatch | None = None,
    soles: SoleForces | None = None,
) -> Iterator[NDArray[np.float64]]:
    """Force of each cell on the golfer's soles, N, blocks of shape (n, rows, columns) in order; at least one.

    One panel alone never sees the whole weight, so no shoe can be learnt there, nor a cell judged.
    """
    meter = ForceMeter(film, layout.pitch_mm)
    soles = (soles or SoleForces(layout, film)) if panel is None else None
    watch = (watch or CellWatch(layout, film.dead)) if panel is None else None
    for begin, conductance in conductance_blocks(frames, layout, panel):
        times = frames.t_s[begin : begin + len(conductance)]
        force = meter.forces_n(times, conductance)
        if watch is not None:
            force = watch.take_block(times, force)
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


# Frames whose cells are unpacked at once.
_BLOCK = 2000


def conductance_blocks(
    frames: Frames, layout: Layout, panel: int | None = None
) -> Iterator[tuple[int, NDArray[np.float64]]]:
    """Conductances of all frames, block by block.

    Parameters
    ----------
    panel : int, optional
        The one panel that is there; see `ConductanceMeter`.

    Yields
    ------
    begin : int
        Number of the block's first frame.
    conductance : ndarray, shape (n, rows, columns)
        S; NaN as from `ConductanceMeter.measure`.
    """
    means = _running_means(frames)
    unwired = layout.column_lines(1 - panel) if panel is not None else []
    drivers, known, hum = layout.nominal_drivers(), None, Hum(unwired)
    measured, next_look = 0, FIRST_LOOK
    for begin in range(0, len(frames), _BLOCK):
        end = min(begin + _BLOCK, len(frames))
        reading = _above_zero(hum, frames, slice(begin, end), means[begin:end], layout)
        reading[..., unwired] = 0.0
        out = np.full(reading.shape, math.nan)
        # References are complete from some frame on; what was before is no measurement.
        at = int(np.count_nonzero(~np.isfinite(means[begin:end]).all(1)))
        while at < end - begin:
            due = next_look - measured
            count = min(due if due > 0 else DRIVER_INTERVAL, end - begin - at)
            cells, _ = conductances(reading[at : at + count], drivers, tolerance=TOLERANCE)
            looked = _first_look(cells, due)
            if looked is None:
                out[at : at + count] = cells
                at, measured = at + count, measured + count
            else:
                out[at : at + looked + 1] = cells[: looked + 1]
                at, measured = at + looked + 1, measured + looked + 1
                newest = _references(means[begin + at - 1])
                known = drivers = drivers_after(known, newest, layout, reading[at - 1], cells[looked])
                next_look = measured + DRIVER_INTERVAL
        yield begin, layout.to_places(out)


def _above_zero(
    hum: Hum, frames: Frames, cut: slice, means: NDArray[np.float64], layout: Layout
) -> NDArray[np.float64]:
    """Readings without hum, parts of the supply above zero, shape (n, rows, columns): frame by frame, as live."""
    span = means[:, 1] - means[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = np.where(span > 0, 0.5 / span, math.nan)
    out = (frames.readings(cut.start, cut.stop) * scale[:, None]).reshape(-1, layout.rows, layout.columns)
    zero = (means[:, 0] * scale).tolist()
    supply = np.where(frames.seq[cut] % 2, frames.references[cut, 0] * scale, math.nan).tolist()
    t_us = frames.wrapped_us[cut].tolist()
    for i in np.flatnonzero(np.isfinite(means).all(1)).tolist():
        out[i] = hum.without(out[i], t_us[i], zero[i], supply[i])
    return out


def _first_look(cells: NDArray[np.float64], due: int) -> int | None:
    """The first frame of a block that is due for a look at the drivers and has conductances."""
    finite: NDArray[np.bool_] = np.asarray(np.isfinite(cells).all(axis=(1, 2)))
    finite[: max(0, due - 1)] = False
    return int(np.argmax(finite)) if finite.any() else None


def _references(means: NDArray[np.float64]) -> References:
    zero, supply, tap_high, tap_low = means.tolist()
    return References(zero, supply, tap_high, tap_low, 1, 1)


def _running_means(frames: Frames) -> NDArray[np.float64]:
    """Zero, supply, and the newest taps after each frame as `References.updated` has them, shape (n, 4)."""
    out = np.full((len(frames), 4), math.nan)
    even = frames.seq % 2 == 0
    for parity, columns in ((True, (0, 2)), (False, (1, 3))):
        at = np.flatnonzero(even == parity)
        if not at.size:
            continue
        weight = np.maximum(SLOW, 1 / np.arange(1, at.size + 1))
        last = np.searchsorted(at, np.arange(len(frames)), side="right") - 1
        for which, column in enumerate(columns):
            if which:  # the tap
                out[:, column] = np.append(math.nan, frames.references[at, which])[last + 1]
                continue
            mean, known = 0.0, np.full(at.size + 1, math.nan)
            for begin in range(0, at.size, _BLOCK):
                values = []
                cut = slice(begin, begin + _BLOCK)
                for part, new in zip(weight[cut].tolist(), frames.references[at[cut], which].tolist(), strict=True):
                    mean += part * (new - mean)
                    values.append(mean)
                known[begin + 1 : begin + 1 + len(values)] = values
            out[:, column] = known[last + 1]
    return out
