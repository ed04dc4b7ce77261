"""Foot to ear beside a bare stream into the same sink; the scan beside a plain loop on the same emulated chip."""

from __future__ import annotations

import importlib
import os
import sys
import time
from collections.abc import Generator, Iterator
from pathlib import Path

import miniaudio
import numpy as np
from numpy.typing import NDArray

from groundtone.app.tones.latency_card import RATE_HZ, Underruns, missing_tools, read_stream, readable_card
from groundtone.app.tones.latency_measure import measure
from groundtone.engine.foot_to_ear import Turn, sounded_in_stream
from groundtone.tone.process import QUICK_BUFFER_MS, QUICK_PERIODS
from groundtone.tone.settings import SoundSettings
from studies.beside_parts import Beside

CHIP = Path(__file__).parents[1] / "chip"
IMAGES = Path(__file__).parents[3] / "shared" / "chip"
SCANS = 20
# What somebody would write first: the same pins, the same wait for a cell, one reading of 12 bits each, a line of text.
PLAIN = f"""
from machine import ADC, Pin
import sys, time
rows = [Pin(i, Pin.OUT, value=0) for i in range(16)]
address = [Pin(16 + i, Pin.OUT, value=0) for i in range(4)]
adc = ADC(26)
def scan():
    out = []
    for row in rows:
        row.value(1)
        for column in range(8):
            for bit in range(4):
                address[bit].value(column >> bit & 1)
            time.sleep_us(2)
            out.append(adc.read_u16())
        row.value(0)
    return out
took = []
for told in (0, 1):
    for _ in range({SCANS}):
        began = time.ticks_us()
        values = scan()
        if told:
            sys.stdout.write(",".join(map(str, values)) + "\\n")
        took.append(time.ticks_diff(time.ticks_us(), began))
print("took", *took)
"""


def foot_to_ear(steps: int) -> Iterator[Beside]:
    """The whole way of a step, and of its last part alone, beside a stream that does nothing but wait for a wish."""
    if missing_tools():
        return
    ours = measure(steps, 200, SoundSettings(), "pulse")
    bare = tuple(bare_ms(steps, QUICK_BUFFER_MS, QUICK_PERIODS).tolist())
    name = "a wish in a bare stream, same buffer and sink (no foot, scan, cable or decision)"
    for what, stage in (("a step in force until it is heard", "total"), ("a decision until it is heard", "sound")):
        values = tuple((1e3 * ours.stages[stage]).tolist())
        pairs = min(len(values), len(bare))
        yield Beside("foot to ear", what, "ms", name, values[:pairs], bare[:pairs])


def bare_ms(wishes: int, buffer_ms: int, periods: int, seed: int = 1) -> NDArray[np.float64]:
    """From a wish to the first sample of a tone out of the sink's monitor, ms; what was not heard is left out."""
    wished, marks, rng = [False], [], np.random.default_rng(seed)
    with readable_card(Underruns()) as path:
        device = miniaudio.PlaybackDevice(
            output_format=miniaudio.SampleFormat.FLOAT32, nchannels=1, sample_rate=RATE_HZ,
            buffersize_msec=buffer_ms * periods, callback_periods=2, app_name="bare",
        )  # fmt: skip
        device.start(_begun(wished))
        time.sleep(4.0)  # who listens at the sink is behind at first
        for _ in range(wishes):
            time.sleep(float(rng.uniform(0.20, 0.23)))
            now = time.monotonic()
            marks.append(Turn(now, now, now))
            wished[0] = True
            time.sleep(0.08)
            wished[0] = False
        time.sleep(0.3)
        device.close()
        heard = sounded_in_stream(*read_stream(path), RATE_HZ, marks)
    out: NDArray[np.float64] = 1e3 * (heard - np.array([mark.decided_s for mark in marks]))
    out = out[np.isfinite(out)]
    return out


def _begun(wished: list[bool]) -> Generator[NDArray[np.float32], int, None]:
    """A tone while it is wished for, else silence; as miniaudio asks for it."""

    def blocks() -> Generator[NDArray[np.float32], int, None]:
        at, count = 0, (yield np.zeros(0, np.float32))
        while True:
            tone = 0.3 * np.sin(2 * np.pi * 1000 / RATE_HZ * (np.arange(count) + at))
            at += count
            count = yield (tone if wished[0] else 0 * tone).astype(np.float32)

    out = blocks()
    next(out)
    return out


def scan() -> Iterator[Beside]:
    """A scan of 128 cells by the firmware and by a plain loop, on the emulated chip with its flash's cache."""
    sys.path.insert(0, str(CHIP))
    emulated, flashes, rates, wire_host = (
        importlib.import_module(name) for name in ("emulated", "flashes", "test_rates", "wire_host")
    )
    os.environ.setdefault(emulated.IMAGE, str(IMAGES / "firmware.uf2"))
    os.environ.setdefault(emulated.BOOTROM, str(IMAGES / "bootrom.bin"))
    board = emulated.Board()
    try:
        board.circuit(cells=[[0.0] * 8 for _ in range(16)], noise=0.0, settle=0.3)
        kept = flashes.flash(board)
        board.prompt(kept, cache=True)
        board.paste(rates.SATURATED)
        host = wire_host.Host(board)
        host.hello()
        host.start(200)
        host.follow(50_000)
        came = [frame.came_us for frame in host.follow(150_000)]
        ours = tuple(np.diff(came)[: 2 * SCANS].tolist())
        board.prompt(None, cache=True)
        took = [float(word) for word in board.python(PLAIN).split("took")[1].split()]
    finally:
        board.close()
    silent, told = tuple(took[:SCANS]), tuple(took[SCANS:])
    for name, other in (("a plain machine.ADC loop, nothing sent", silent), ("the same, values sent as text", told)):
        yield Beside("scan", "a frame scanned, packed, sent", "us", name, ours[:SCANS], other)


def chip_is_here() -> bool:
    """Whether the emulator, an image and a boot ROM are there."""
    named = all(name in os.environ for name in ("GROUNDTONE_CHIP_UF2", "GROUNDTONE_CHIP_BOOTROM"))
    images = named or all((IMAGES / name).exists() for name in ("firmware.uf2", "bootrom.bin"))
    return images and (CHIP / "node_modules" / "rp2040js").exists()
