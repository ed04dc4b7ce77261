"""The board's way from scans to the feet beside the host's floating point, on the same frames of the twin."""

import json
from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np

from groundtone.calibration.film import Film, ForceMeter
from groundtone.calibration.force_curve import typical_curves
from groundtone.engine.live import LiveEngine
from groundtone.mat.conductance import ConductanceMeter
from groundtone.mat.layout import LEFT, RIGHT, layout_of
from groundtone.onboard.make import VOLUME
from groundtone.onboard.pack import LEFT_HANDED, NEVER, OnMat, electrical, packed, places_of
from groundtone.onboard.tables import PLACES, tables_of
from groundtone.pressure.feet import Stance, centres
from groundtone.twin.inprocess import InProcessMat
from groundtone.twin.population import draw_golfer, draw_mat, draw_swings
from groundtone.twin.scenario import Scenario, Session

RATE_HZ, FAMILY = 100, "driver"
EMPTY = 190
"""Frames before anybody steps on, or fewer."""
SCRIPT = """
import json
from array import array
from mat.alone import onmat, pressure
plan = json.loads(open("frames.json").read())
board = onmat.read(bytes.fromhex(plan["uid"]), plan["layout"], "sent.bin").pressure
file = open("frames.bin", "rb")
values = array("H", bytes(2 * (board.cells + 2)))
for seq in plan["seqs"]:
    file.readinto(values)
    known = board.frame(values, seq & 1)
    feet = board.forces.feet
    print(known, feet[0], feet[4], feet[5], feet[8], feet[12], feet[13], board.state[pressure.SHARE])
"""


@dataclass(frozen=True)
class Played:
    """A session of the twin: its frames and whose they are."""

    frames: list
    layout: object
    golfer: object
    uid: str
    mat: object
    act: object


def played(population, seed, count, swings=1):
    """The first `count` frames of a drawn golfer's session on a drawn mat."""
    mat, golfer = draw_mat(population, seed), draw_golfer(population, seed)
    act = Session(golfer, draw_swings(population, seed, [FAMILY] * swings), seed, empty_s=2.0, setup_s=1.0)
    frames = []
    for frame in InProcessMat(Scenario(mat, act)).frames(RATE_HZ):
        frames.append(frame)
        if len(frames) == count:
            break
    return Played(frames, layout_of(mat.layout), golfer, mat.uid, mat, act)


def film_for(session):
    """A film without memory on which this golfer's force is the right one in the middle."""
    curves = typical_curves(session.layout.rows, session.layout.columns)
    force, _, _ = by_host(session, Film(curves))
    weight = session.golfer.mass_kg * 9.81
    total = np.nansum(force, axis=1)
    standing = np.median(total[total > 0.3 * np.nanmax(total)])
    level = curves.level + np.log(weight / standing)
    return Film(type(curves)(level, curves.exponent, curves.bend, curves.x_low, curves.x_high))


class AboveZero:
    """In the place of `groundtone.mat.hum.Hum`: the zero's reading is taken off and nothing else, as on the board.

    Only for a mat without hum; where there is some, the board takes it off too.
    """

    def without(self, reading, t_us, zero, supply):
        return reading - zero


def by_host(session, film, lower_end=True):
    """Force, u and v of each foot, shape (n, 2), N and mm; NaN where the host knows nothing.

    What cells read on the empty mat is taken off, as a review does (`groundtone.pressure.stands.zero_rows`). Without
    `lower_end` nothing is done about hum and the converter's lower end (`AboveZero`).
    """
    meter, forces = ConductanceMeter(session.layout), ForceMeter(film, session.layout.pitch_mm)
    if not lower_end:
        meter.hum = AboveZero()
    seen = []
    for i, frame in enumerate(session.frames):
        seen.append(forces.force_n(i / RATE_HZ, meter.measure(frame)))
    cells = np.array(seen)
    return centres(cells - np.median(cells[100:EMPTY], axis=0), session.layout, 30.0)


def sent(session, film):
    """What goes onto the mat of a test."""
    layout, drivers = session.layout, session.layout.nominal_drivers()
    left = session.golfer.hand == "left"
    return packed(OnMat(
        session.uid, layout.id, LEFT_HANDED * left, VOLUME, 0.0, NEVER, float(drivers.low_ohm[0]),
        float(drivers.high_ohm[0]), layout.series_ohm, layout.reference_ohm, layout.pulldown_ohm,
        (1 << PLACES,) * layout.columns, (), electrical(tables_of(film.curves, layout.pulldown_ohm).force, layout),
        places_of(layout), layout.row_pitch_mm,
    ))  # fmt: skip


def values_of(session):
    """All scans as the board holds them: cells and two references of 16 bits each."""
    return b"".join(np.array([*f.cells, f.ref_a, f.ref_b], "<u2").tobytes() for f in session.frames)


def by_board(mpy, folder, session, film):
    """As `by_host`, and the share, from the firmware's own modules on MicroPython."""
    (folder / "sent.bin").write_bytes(sent(session, film))
    (folder / "frames.bin").write_bytes(values_of(session))
    plan = {"uid": session.uid, "layout": session.layout.id, "seqs": [frame.seq for frame in session.frames]}
    (folder / "frames.json").write_text(json.dumps(plan))
    rows = np.array([line.split() for line in mpy(SCRIPT).splitlines()], float)
    rows[rows == 0x1FFFFFFF] = np.nan
    known, layout = rows[:, :1], session.layout
    force = np.where(known > 0, rows[:, [1, 4]] / 32, np.nan)
    u = (rows[:, [2, 5]] / 256 + 0.5) * layout.row_pitch_mm
    v = (rows[:, [3, 6]] / 256 + 0.5) * layout.column_pitch_mm
    return force, u, v, rows[:, 7] / 16384


def engine(session, film):
    """The overall heel-toe position by the live engine, frame by frame; NaN where it is not known."""
    lead = RIGHT if session.golfer.hand == "left" else LEFT
    live = LiveEngine(session.layout, film, Stance(lead, session.golfer.stance_mm, 0.0, session.golfer.flare_deg))
    period_us = 1_000_000 // RATE_HZ
    return np.array([live.take_frame(f, period_us * (i + 1)).overall for i, f in enumerate(session.frames)])


def apart(session, host, board):
    """How far the board is from the host where a foot has a centre, frame by frame.

    Returns
    -------
    namespace
        `force` (relative), `u_mm`, `v_mm` of each foot, `share`; NaN where either knows nothing.
    """
    (force, u, v), (its_force, its_u, its_v, its_share) = host, board
    lead = RIGHT if session.golfer.hand == "left" else LEFT
    total = force.sum(1)
    share = np.where(total >= 60, force[:, lead] / np.where(total > 0, total, 1), np.nan)
    with np.errstate(invalid="ignore"):
        force_off = np.where(np.isfinite(u), its_force / np.where(force > 0, force, np.nan) - 1, np.nan)
        return SimpleNamespace(force=force_off, u_mm=its_u - u, v_mm=its_v - v, share=its_share - share, total=total)
