"""A thousand disconnects at random moments, by cable and by radio: silence, the way back, and what is in the recording.

What is measured: the firmware on MicroPython in real time, a pseudo-terminal that is pulled or a virtual air that a mat
leaves, the real links, `LastingLink` above them, and the synthesiser in blocks of 10 ms, driven by the
moments at which frames came. Silence is judged on the rendered sound: what is left after the same sound without the cue
has been taken away. What is shortened is only the practice between two losses (a quarter of a second instead of
minutes). What it is not: a real plug, a real radio, a real sound card.
"""

from __future__ import annotations

import tempfile
import time
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from groundtone.engine.recording import recording
from groundtone.errors import LinkError
from groundtone.link.base import Gap, Link, Stamped
from groundtone.link.ble_link import BleLink
from groundtone.link.lasting_link import LastingLink
from groundtone.link.radio import radio_running
from groundtone.link.scan import mats_heard, the_mat
from groundtone.link.serial_link import SerialLink
from groundtone.record.reader import open_recording
from groundtone.record.session import About
from groundtone.review.settings import settings_of
from groundtone.tone.synth import PATIENCE_S, Synth
from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Empty, MatSpec, Scenario

DISCONNECTS = 1000
BLOCK_S = 0.010
_SOUND_HZ = 8000
# Slow enough that four mats and their hosts keep time on two cores; every frame is watched all the same.
_RATE_HZ = 40
_RUNS_S = (0.03, 0.30)
_AWAY_S = (0.30, 0.60)
_BACK_WITHIN_S = 10.0
# A mat that is switched off and on takes seconds to start on the twin: one loss in so many is of that kind.
_POWER_EVERY = 40
_MATS = 2  # of each kind, at once
_STARTER = MatSpec.reference(rows=10, columns_per_panel=3, layout="starter-10x3")


class Ear:
    """A player's blocks, made after the fact from the moments at which frames came."""

    def __init__(self, begin_s: float) -> None:
        self._with, self._without = Synth(_SOUND_HZ), Synth(_SOUND_HZ)
        self._at_s = begin_s
        self._frames: deque[float] = deque()
        self.sounding: deque[float] = deque(maxlen=10_000)
        """Ends of the blocks in which the cue could be heard, s."""

    def frame(self, host_s: float) -> None:
        """A frame, in which the cue is set."""
        self._frames.append(host_s)

    def until(self, host_s: float) -> None:
        """Let the player play on."""
        while self._at_s + BLOCK_S <= host_s:
            while self._frames and self._frames[0] <= self._at_s:
                self._frames.popleft()
                for synth, size in ((self._with, 0.8), (self._without, 0.0)):
                    synth.heartbeat()
                    synth.set_cues({"toes": size})
            n = round(BLOCK_S * _SOUND_HZ)
            cue = self._with.render(n) - self._without.render(n)
            self._at_s += BLOCK_S
            if np.abs(cue).max() > 1e-6:
                self.sounding.append(self._at_s)


class Mat(Protocol):
    """A mat that can be lost in the way of its link."""

    def open(self) -> Link:
        """The link to it, if it is there."""

    def lose(self, power: bool) -> bool:
        """Takes it away; with its power, where `power` asks for it. True: that was done."""

    def bring_back(self) -> None:
        """Puts it where it was."""


@dataclass
class _OnCable:
    process: MatProcess
    scenario: Scenario
    _ticks0: int = 0
    _off: bool = False

    def open(self) -> Link:
        if not self.process.port:
            raise LinkError("no port")
        return SerialLink(self.process.port, hello_s=0.6)

    def lose(self, power: bool) -> bool:
        self._off = power
        if power:
            self.process.close()
        else:
            self.process.unplug()
        return power

    def bring_back(self) -> None:
        if not self._off:
            self.process.plug()
            return
        # The counter begins where it likes after power-up.
        self._ticks0 = (self._ticks0 + 123_456_789) % (1 << 30)
        self.process = MatProcess(self.scenario, ticks0=self._ticks0).start()


@dataclass
class _OnAir:
    process: MatProcess
    radio: Any

    def open(self) -> Link:
        return BleLink(the_mat(mats_heard(self.radio, 2.0, "groundtone"), "groundtone"), self.radio)

    def lose(self, power: bool) -> bool:
        self.process.away()
        return False

    def bring_back(self) -> None:
        self.process.back()


@dataclass
class Outcome:
    """What came of one mat's losses.

    Attributes
    ----------
    lost, found : int
    silent_s : list of float
        From the last frame to the end of the last block with the cue in it, s, for each loss.
    back_s : list of float
        From the moment at which the mat was there again to its first frame, s.
    again : int
        Frames whose time was not after the one before: counted twice.
    switched : int
        How often it was switched off and on as well.
    wrong : list of str
        Whatever else is not as it should be.
    """

    lost: int = 0
    found: int = 0
    silent_s: list[float] = field(default_factory=list)
    back_s: list[float] = field(default_factory=list)
    again: int = 0
    switched: int = 0
    frames: int = 0
    wrong: list[str] = field(default_factory=list)


def lose_often(mat: Mat, count: int, seed: int, folder: Path) -> Outcome:
    """Loses and finds a mat `count` times while its frames are heard and recorded."""
    draw = np.random.default_rng(seed)
    out = Outcome()
    path = folder / f"{seed}.mcap"
    live: list[tuple[int, bytes]] = []
    with ExitStack() as stack:
        pool = stack.enter_context(ThreadPoolExecutor(1))
        link = stack.enter_context(LastingLink(mat.open(), lambda uid: mat.open(), pool))
        about = About(link.hello, settings_of(rate_hz=_RATE_HZ), simulated=True)
        log = stack.enter_context(recording(path, about, threaded=False))
        link.start(_RATE_HZ)
        ear = Ear(time.monotonic())
        newest_s = lost_s = back_s = 0.0
        cut_s = time.monotonic() + draw.uniform(*_RUNS_S)
        away = False
        limit_s = 0.0
        for item in link.frames(0.02):
            now = time.monotonic()
            if isinstance(item, Stamped):
                if live and item.device_us <= live[-1][0]:
                    out.again += 1
                live.append((item.device_us, item.raw))
                log.frame(item)
                ear.frame(item.host_s)
                newest_s = item.host_s
                if back_s and out.found == out.lost:
                    out.back_s.append(item.host_s - back_s)
                    cut_s, back_s = now + draw.uniform(*_RUNS_S), 0.0
                    if out.found >= count:
                        break
            elif isinstance(item, Gap):
                log.gap(item)
                if item.lost:
                    lost_s = newest_s
                    out.lost += 1
                else:
                    out.found += 1
                    ear.until(now)
                    heard = [end for end in ear.sounding if end > lost_s]
                    out.silent_s.append(max(heard, default=lost_s) - lost_s)
            if not away and cut_s and now >= cut_s:
                out.switched += mat.lose(power=out.lost % _POWER_EVERY == _POWER_EVERY - 1)
                away, cut_s, limit_s = True, 0.0, now + draw.uniform(*_AWAY_S)
            elif away and now >= limit_s:
                mat.bring_back()
                away, back_s = False, time.monotonic()
            elif back_s and now - back_s > _BACK_WITHIN_S:
                out.wrong.append(f"not back within {_BACK_WITHIN_S:.0f} s: {link.why_not}")
                break
        counts = link.statistics
    out.frames = len(live)
    out.wrong += _recording_wrong(path, live, out)
    if counts.repeated or counts.dropped:
        out.wrong.append(f"{counts.repeated} repeated, {counts.dropped} dropped")
    return out


def _recording_wrong(path: Path, live: list[tuple[int, bytes]], out: Outcome) -> list[str]:
    """Is everything in the file that came, once, with the times it had?"""
    got = open_recording(path)
    # A mat that was switched off and on begins its clock anew, and the reader says so; it has nothing else to say.
    expected = 0 < len(got.frames.jumps) <= out.switched
    wrong = [text for text in got.lost if not (expected and "clock jumped" in text)]
    if len(got.frames) != len(live):
        return [*wrong, f"{len(got.frames)} frames in the recording and {len(live)} came"]
    if any(got.frames.raw[i].tobytes() != raw for i, (_, raw) in enumerate(live)):
        wrong.append("a frame in the recording is not the one that came")
    apart = np.diff(got.frames.device_us) - np.diff([device_us for device_us, _ in live])
    if len(apart) and np.abs(apart).max() > 2:
        wrong.append(f"times in the recording are {np.abs(apart).max()} us off those of the session")
    told = [entry.table["what"] for entry in got.events]
    if (told.count("lost"), told.count("found again")) != (out.lost, out.found):
        wrong.append("the recording does not tell of every gap")
    return wrong


@contextmanager
def _cable() -> Iterator[Mat]:
    scenario = Scenario(_STARTER, Empty(36_000.0))
    mat = _OnCable(MatProcess(scenario).start(), scenario)
    try:
        yield mat
    finally:
        mat.process.close()


@contextmanager
def _air() -> Iterator[Mat]:
    from groundtone.twin.central import virtual_backends

    scenario = Scenario(_STARTER, Empty(36_000.0))
    with MatProcess(scenario, radio=True) as process, radio_running() as bare:
        ends = bare.do(virtual_backends(process.radio_socket), 10.0, "the virtual central does not start")
        try:
            yield _OnAir(process, replace(bare, scanner=ends.scanner, client=ends.client))
        finally:
            bare.do(ends.close(), 5.0, "the virtual central does not end")


def _one(kind: Callable[[], Any], count: int, seed: int, folder: Path) -> Outcome:
    with kind() as mat:
        return lose_often(mat, count, seed, folder)


def study_disconnects(seeds: int | None = None) -> dict[str, Any]:
    """The figures over `seeds` disconnects (1,000), half by cable and half by radio."""
    each = max(1, (seeds or DISCONNECTS) // (2 * _MATS))
    began = time.monotonic()
    figures: dict[str, Any] = {"at, frames a second": _RATE_HZ, "the cue's block, ms": BLOCK_S * 1e3}
    ok = True
    with tempfile.TemporaryDirectory() as name, ThreadPoolExecutor(2 * _MATS) as pool:
        kinds = {"cable": _cable, "radio": _air}
        running = {
            word: [pool.submit(_one, kind, each, 100 * k + i, Path(name)) for i in range(_MATS)]
            for k, (word, kind) in enumerate(kinds.items())
        }
        for word, tasks in running.items():
            outcomes = [task.result() for task in tasks]
            silent_ms = 1e3 * np.concatenate([outcome.silent_s for outcome in outcomes])
            back_ms = 1e3 * np.concatenate([outcome.back_s for outcome in outcomes])
            lost, found = sum(o.lost for o in outcomes), sum(o.found for o in outcomes)
            wrong = [text for o in outcomes for text in o.wrong]
            twice = sum(o.again for o in outcomes)
            figures[word] = {
                "lost": lost,
                "found again": found,
                "of them switched off and on": sum(o.switched for o in outcomes),
                "cue silent after the last frame, ms: median, most": [round(float(v), 1) for v in (
                    np.median(silent_ms), silent_ms.max())],
                "first frame after it was there again, ms: median, 95 %, most": [round(float(v)) for v in (
                    np.median(back_ms), np.percentile(back_ms, 95), back_ms.max())],
                "frames": sum(o.frames for o in outcomes),
                "frames counted twice": twice,
                "wrong in recordings or on the way": wrong,
            }  # fmt: skip
            ok &= found == lost >= each * _MATS and not twice and not wrong
            ok &= bool(silent_ms.max() <= 1e3 * (PATIENCE_S + BLOCK_S) + 0.5)
    figures["took, s"] = round(time.monotonic() - began)
    figures["ok"] = ok
    return figures
