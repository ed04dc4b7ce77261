"""Two hours of practice at 200 frames a second over firmware, pseudo-terminal and serial link: frames and memory.

The firmware's clock is the twin's here, and it stands still until the host has taken its frames: two hours pass in as
many minutes as the machine needs. This shows that nothing is lost, counted twice or kept; it cannot show
whether a real computer keeps up: `groundtone latency` runs in real time.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path
from typing import Any

from groundtone.app.mat import OpenMat, twin_mat
from groundtone.app.twin import TwinChoice
from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.engine.live import LiveEngine
from groundtone.engine.practice import Practice
from groundtone.engine.recording import recording
from groundtone.link.base import Stamped
from groundtone.mat.layout import LEFT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.record.reader import open_recording
from groundtone.record.session import About
from groundtone.review.settings import settings_of
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.synth import Synth
from groundtone.twin.scenario import GolferSpec, MatSpec, Scenario, Session, SwingSpec

RATE_HZ = 200
MINUTES = 120
_STYLES = ("good", "good", "toe_drift", "good", "trail_hang")
# One swing with its setup and what follows takes about this long on the twin, s.
_SWING_S = 12.0
# What the process may grow by between a quarter of the time and its end, MiB: the recording's index and the lanes of
# the swings grow with the session, a few kB a swing.
_GROWTH_MIB = 24.0


def session_of(minutes: float) -> Session:
    """A golfer who hits balls for so long."""
    swings = tuple(SwingSpec(_STYLES[i % len(_STYLES)]) for i in range(round(minutes * 60 / _SWING_S)))
    return Session(GolferSpec(), swings, seed=5)


def resident_mib() -> float:
    """Memory of this process that is in use, MiB; NaN where the system does not tell."""
    try:
        pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
    except (OSError, ValueError, IndexError):
        return float("nan")
    return pages * 4096 / 2**20


def followed(minutes: float, folder: Path) -> dict[str, Any]:
    """A practice of so many minutes on the firmware, recorded into `folder`."""
    scenario = Scenario(MatSpec.reference(seed=5), session_of(minutes))
    layout = layout_of(scenario.mat.layout)
    with twin_mat(TwinChoice(scenario.mat, None, True), scenario.act, firmware=True) as mat:
        stance = Stance(LEFT, 400.0)
        engine = LiveEngine(layout, Film(typical_curves(layout.rows, layout.columns)), stance)
        about = About(mat.link.hello, settings_of(stance, RATE_HZ), simulated=True)
        output, path = OfflinePlayer(Synth()), folder / "endurance.mcap"
        with recording(path, about, threaded=False) as log:
            practice = Practice(engine, output, log, about.block, settings=about.settings)
            output.start()
            sizes, took_s = _frames(mat, practice, round(minutes * 60 * RATE_HZ))
        swings, missed = len(practice.session.swings), practice.session.missed
        statistics = mat.link.statistics
    recorded = open_recording(path)
    times = recorded.frames.t_s
    return {
        "frames": statistics.frames,
        "frames lost": missed,
        "frames twice": statistics.repeated,
        "damaged messages": statistics.stream.bad + statistics.stream.oversized,
        "swings": swings,
        "frames in the recording": len(times),
        "sentences about the recording": recorded.lost,
        "memory at a quarter, at the half, at the end, MiB": [round(size, 1) for size in sizes],
        "minutes it took": round(took_s / 60, 1),
    }


def _frames(mat: OpenMat, practice: Practice, count: int) -> tuple[list[float], float]:
    """Takes so many frames; memory at a quarter, half and end, and how long it took, s."""
    marks, sizes = {count // 4, count // 2, count}, []
    mat.begin()
    mat.link.start(RATE_HZ)
    began, taken = time.monotonic(), 0
    for item in mat.link.frames():
        practice.take_item(item)
        if not isinstance(item, Stamped):
            continue
        mat.took()
        taken += 1
        if taken in marks:
            sizes.append(resident_mib())
        if taken >= count:
            break
    return sizes, time.monotonic() - began


def study_endurance(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `seeds` is the number of minutes (120)."""
    minutes = seeds or MINUTES
    with tempfile.TemporaryDirectory() as folder:
        figures = followed(minutes, Path(folder))
    sizes = figures["memory at a quarter, at the half, at the end, MiB"]
    whole = figures["frames"] >= minutes * 60 * RATE_HZ == figures["frames in the recording"]
    figures["ok"] = (
        whole
        and not figures["frames lost"]
        and not figures["frames twice"]
        and not figures["damaged messages"]
        and not figures["sentences about the recording"]
        and not sizes[-1] - sizes[0] > _GROWTH_MIB
    )
    return figures
