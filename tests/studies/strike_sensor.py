"""The strike sensor's firmware on simulated signals: how well strikes are timed, and how often something else is one.

How: firmware/mat/strike.py itself runs on MicroPython. Its clock, ADC and edge pin belong to a simulation that gives it
the signals of `strike_waves` and calls it as mat/brisk_rp2.py does: listening until the scan, a scan of 1.44 ms that
reads the sensor with every cell, then 0.85 ms of packing and USB in which only the edge pin is awake (both as on the
emulated chip; a strike is rung there too, tests/chip/test_strike.py). Each event falls at a random moment of the
period; an interrupt comes 5 to 40 µs late and then reads the ADC for half a millisecond.
"""

from __future__ import annotations

import json
import os
import subprocess
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from groundtone.errors import GroundtoneError
from groundtone.twin.serve import firmware_dir, micropython_command
from studies.strike_waves import KINDS, LENGTH, codes, edges, wave

EVENTS = 1000
PERIOD_US, FAST_PERIOD_US = 10_000, 5_000
SCAN_US, LINK_US = 1440, 850
ASKED_MS = 0.3
ASKED_FALSE = 1e-3

_TIME = """
HALF = 1 << 29
class Clock:
    us = 0
    seen = -1
def ticks_us():
    return (Clock.seen if Clock.seen >= 0 else Clock.us) & ((1 << 30) - 1)
def ticks_diff(a, b):
    return ((a - b + HALF) & ((1 << 30) - 1)) - HALF
def ticks_add(a, n):
    return (a + n) & ((1 << 30) - 1)
def sleep_us(n):
    Clock.us += n
"""

_MACHINE = """
import time
class Signal:
    codes = None
    start = 0
    handler = None
class Pin:
    IN = 0
    OUT = 1
    PULL_UP = 1
    IRQ_FALLING = 4
    def __init__(self, id, mode=-1, pull=None, value=None):
        pass
    def irq(self, handler, trigger, hard=False):
        Signal.handler = handler
class ADC:
    def __init__(self, pin):
        pass
    def read_u16(self):
        return Signal.codes[(time.Clock.us - Signal.start) // 10] << 4
"""

_RUN = """
import json, time
from array import array
import machine, micropython
from mat import board, strike
plan = json.load(open("plan.json"))
length, period, scan, link = plan["length"], plan["period"], plan["scan"], plan["link"]
sensor = strike.Strike(board.here())
sensor.dense = True
clock, signal = time.Clock, machine.Signal
heard = sensor.heard
found = array("i", [0] * 16)
TICKS = (1 << 30) - 1
told = []
pins = []
def on(us):
    # Time goes on; the pin's interrupts come when they come.
    clock.us += us
    while pins and pins[0][1] <= clock.us:
        clock.seen = pins.pop(0)[1]
        signal.handler(None)
        clock.seen = -1
def latch(adc, plan, count):
    at = (clock.seen - signal.start) // 10
    return max(signal.codes[at : at + 50])
sensor.latch = latch
@micropython.native
def listen(end, step, into, sweeps):
    # As the register loops: reading after reading, and what the pin latches meanwhile is dropped.
    codes, begun, now = signal.codes, signal.start, clock.us
    above, level, low = heard[strike.ABOVE], heard[strike.LEVEL], heard[strike.LOW]
    peak, n, k = into[strike.PEAK], into[strike.COUNT], 0
    while now < end:
        code = codes[(now - begun) // 10]
        if code > peak:
            peak = code
        if above:
            if code < low:
                above = 0
        elif code >= level:
            above = 1
            if n < strike.MOST:
                into[strike.AT + n] = k if sweeps else now & TICKS
                n += 1
        k += 1
        now += step
    clock.us = now
    heard[strike.ABOVE] = above
    into[strike.PEAK], into[strike.COUNT] = peak, n
    while pins and pins[0][0] <= now:
        pins.pop(0)
    return k
def turn(until, kept):
    # One turn of mat/brisk_rp2.py: (a strike or None, what of the scan is still to be looked at).
    began = clock.us & TICKS
    found[strike.PEAK] = found[strike.COUNT] = 0
    if kept:
        listen(until - 400, 10, found, False)
        sensor.swept(*kept)
    listen(until, 10, found, False)
    start = clock.us & TICKS
    heard[strike.PEAK] = heard[strike.COUNT] = 0
    size = listen(until + scan, 11, heard, True)
    ended = clock.us & TICKS
    us = time.ticks_diff(ended, start)
    kept = struck = None
    if heard[strike.COUNT] and not (found[strike.COUNT] or sensor.stirred(began, ended)):
        kept = start, us, size
    elif heard[strike.COUNT] or found[strike.COUNT] or sensor.stirred(began, ended):
        sensor.waited(found, began, start)
        if sensor.take(start):
            struck = [until - sensor.offset_us - signal.start, sensor.peak]
        sensor.swept(start, us, size)
    awake = clock.us + link
    while clock.us < awake:
        on(25)
    return struck, kept
with open("waves", "rb") as file:
    buf = array("H", bytes(2 * length))
    for edges in plan["edges"]:
        file.readinto(buf)
        signal.codes = buf
        signal.start = clock.us
        pins = [(t, t + late) for t, late in [(clock.us + t, late) for t, late in edges]]
        end = clock.us + 10 * length - period - 3500
        events, kept = [], None
        until = clock.us + period
        while until < end:
            sensor.calm(clock.us & TICKS)
            struck, kept = turn(until, kept)
            until += period
            if struck:
                events.append(struck)
        told.append(events)
        sensor.clear()
        clock.us += 300000 if plan["calm"] else 10000
print(json.dumps(told))
"""


def run(kind: str, events: int, seed: int, period_us: int = PERIOD_US) -> tuple[list[float], list[int], int]:
    """One kind of event, again and again.

    Parameters
    ----------
    kind : str
        See `strike_waves.KINDS`.
    events : int
    seed : int
    period_us : int
        Of the frames.

    Returns
    -------
    errors_ms : list of float
        For each event in which a strike was told: the first one's time less the true time.
    peaks : list of int
        The same strikes' peaks, 12 bits.
    told : int
        Strikes told in all.
    """
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    starts = rng.integers(12_000, 12_000 + period_us, events)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        pins = []
        with (folder / "waves").open("wb") as file:
            for start in starts:
                volts = wave(kind, rng, int(start))
                file.write(codes(volts).astype("<u2").tobytes())
                falls = edges(volts)
                pins.append(
                    [[int(t), int(late)] for t, late in zip(falls, rng.integers(5, 41, falls.size), strict=True)]
                )
        plan = {"length": LENGTH, "period": period_us, "scan": SCAN_US, "link": LINK_US, "edges": pins, "calm": True}
        (folder / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
        for module, text in (("time", _TIME), ("machine", _MACHINE), ("run", _RUN)):
            (folder / f"{module}.py").write_text(text, encoding="utf-8")
        env = dict(os.environ, MICROPYPATH=f"{folder}:{firmware_dir()}:.frozen")
        done = subprocess.run(
            [micropython_command(), "run.py"], cwd=folder, env=env, capture_output=True, text=True, check=False
        )
    if done.returncode:
        last = (done.stderr or done.stdout).strip().splitlines()[-1:]
        raise GroundtoneError(f"the firmware's strike sensor did not run through: {' '.join(last)}")
    told: list[list[list[int]]] = json.loads(done.stdout)
    first = [(event[0], start) for event, start in zip(told, starts, strict=True) if event]
    errors = [(moment - int(start)) / 1000 for (moment, _), start in first]
    return errors, [peak for (_, peak), _ in first], sum(map(len, told))


def study_strike_sensor(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` is time and false strikes. `seeds` is the number of events of each kind."""
    events = seeds or EVENTS
    errors, _, told = run("strike", events, 1)
    fast, _, _ = run("strike", events, 2, FAST_PERIOD_US)
    worst = max(map(abs, errors + fast), default=float("inf"))
    false = {kind: run(kind, events, 1)[2] for kind in KINDS if kind not in ("strike", "hard tap")}
    share = sum(false.values()) / (events * len(false))
    return {
        "what this is": "firmware/mat/strike.py on MicroPython, fed with invented signals; no piezo was measured",
        "events of each kind": events,
        "strikes found": len(errors),
        "strikes found at 200 Hz": len(fast),
        "strikes told twice": told - len(errors),
        "time error ms (5 %, median, 95 %, largest)": [
            *(round(float(x), 3) for x in np.percentile(errors, [5, 50, 95])), round(worst, 3),
        ],
        "false strikes": false,
        "false strikes, share of all": share,
        "hard taps of the club told as strikes (nobody asks, they look alike)": run("hard tap", events // 5 + 1, 1)[2],
        "hard taps made": events // 5 + 1,
        "ok": len(errors) == told == len(fast) == events and worst <= ASKED_MS and share <= ASKED_FALSE,
    }  # fmt: skip
