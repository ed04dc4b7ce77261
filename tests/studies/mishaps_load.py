"""Foot to ear beside stress-ng: how late tones come, what is lost, and whether what is not heard is told."""

from __future__ import annotations

import contextlib
import shutil
import subprocess
from collections.abc import Iterator

import numpy as np

from groundtone.app.tones.latency_card import missing_tools
from groundtone.app.tones.latency_measure import measure
from groundtone.engine.foot_to_ear import Measured
from groundtone.errors import GroundtoneError
from groundtone.tone.settings import SoundSettings

BESIDE = (0, 2, 4, 8)
ASKED_MS = {0: 60.0, 2: 60.0, 4: 60.0}
"""Asked of 95 % of the steps, by what runs beside: beside fewer no less than beside four."""


@contextlib.contextmanager
def _stressed(processors: int) -> Iterator[None]:
    """So many workers of stress-ng on the processors, as ordinary as this program."""
    if not processors:
        yield
        return
    command = ["stress-ng", "--cpu", str(processors), "--timeout", "600", "--quiet"]
    beside = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        yield
    finally:
        beside.terminate()
        beside.wait()


def beside(processors: int, steps: int) -> tuple[int, list[str], str]:
    """How many steps were measured beside so many workers, what was lost of them, and what came out in words."""
    if missing_tools() or shutil.which("stress-ng") is None:
        return 0, ["not measured: stress-ng or PulseAudio is not installed"], ""
    with _stressed(processors):
        try:
            found = measure(steps, 200, SoundSettings(), "pulse")
        except GroundtoneError as error:
            # That it was told is well; what nobody measured has survived nothing all the same.
            return 0, [f"not measured: {error}"], ""
    return steps, *judged(found, ASKED_MS.get(processors, np.inf))


def judged(found: Measured, asked_ms: float) -> tuple[list[str], str]:
    """What was lost, a sentence a step, and what was measured in words.

    Scans that never came are steps lost in their proportion: nothing that is measured here says so to the golfer.
    """
    total = found.stages["total"] * 1e3
    median, late, most = (float(v) for v in np.percentile(total, [50, 95, 100]))
    scans = found.frames + found.missed
    words = (
        f"{median:.0f} ms, 95 % {late:.0f}, most {most:.0f}; {found.missed:,} scans skipped, {found.frames:,} came; "
        f"ran dry {found.dry} times; {'more sound kept, and said' if found.told else 'as much sound kept as wished'}; "
        f"load {found.load[1]:.0f}"
    )
    lost = [f"{found.missed:,} of {scans:,} scans did not come"] * round(found.steps * found.missed / scans)
    if late > asked_ms:
        lost.append(f"95 % within {late:.0f} ms where {asked_ms:.0f} were asked")
    if found.unheard and not found.told:
        lost += ["a step was not heard, and nothing was said"] * found.unheard
    return lost, words
