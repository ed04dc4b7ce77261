"""Foot to ear beside stress-ng: how late tones come, what is lost, and whether what is not heard is told."""

from __future__ import annotations

import contextlib
import shutil
import subprocess
from collections.abc import Iterator

import numpy as np

from groundtone.app.tones.latency_card import missing_tools
from groundtone.app.tones.latency_measure import measure
from groundtone.errors import GroundtoneError
from groundtone.tone.settings import SoundSettings

BESIDE = (0, 2, 4, 8)
ASKED_MS = {4: 60.0}
"""Asked of 95 % of the steps, by what runs beside."""


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


def beside(processors: int, steps: int) -> tuple[list[str], str]:
    """What was lost beside so many workers, and what came out in words."""
    if missing_tools() or shutil.which("stress-ng") is None:
        return ["not tried: stress-ng or PulseAudio is not installed"], ""
    with _stressed(processors):
        try:
            found = measure(steps, 200, SoundSettings(), "pulse")
        except GroundtoneError as error:
            return ([] if processors == max(BESIDE) else [str(error)]), f"told: {error}"
    total = found.stages["total"] * 1e3
    median, late, most = (float(v) for v in np.percentile(total, [50, 95, 100]))
    words = (
        f"{median:.0f} ms, 95 % {late:.0f}, most {most:.0f}; {found.missed:,} scans skipped, {found.frames:,} came; "
        f"ran dry {found.dry} times; {'more sound kept, and said' if found.told else 'as much sound kept as wished'}; "
        f"load {found.load[1]:.0f}"
    )
    lost = []
    if late > ASKED_MS.get(processors, np.inf):
        lost.append(f"95 % within {late:.0f} ms where {ASKED_MS[processors]:.0f} were asked")
    if found.unheard and not found.told:
        lost += ["a step was not heard, and nothing was said"] * found.unheard
    return lost, words
