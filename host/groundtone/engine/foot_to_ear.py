"""The arithmetic of the way from foot to ear: its parts from what was measured, and a radio in the cable's place."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groundtone.tone.settings import SoundSettings
from groundtone.wire.messages import FEET_BYTES

STAGES = ("scan", "link", "queue", "compute", "sound")
_ONSET = 0.02  # part of the cue's peak: half a millisecond into its rise of 8 ms
_SOON_S = 0.150  # a step is answered within this time or not at all
Floats = NDArray[np.float64]

INTERVALS_S = (0.015, 0.030, 0.04875, 0.060)
# Bytes of a link packet, and how many of them fit into one connection event (assumed: systems grant about so many).
PACKETS = ((27, 6), (251, 4))
LOSSES = (0.0, 0.05)
WINDOW, FEET_WINDOW = 6, 12  # frames, or feet messages, that the mat lets be under way, see firmware/WIRE.md
RATES_HZ = (100, 50, 25)
_ARRIVES = 0.98  # a rate is kept while so many frames find credit
_SECONDS = 60.0
_STEPS = 4000

# sent_s, message_bytes, interval_s, packet_bytes, packets_per_event, loss, window, seed -> arrivals_s (NaN: skipped)
Delays = Callable[[NDArray[np.float64], int, float, int, int, float, int, int], NDArray[np.float64]]


@dataclass(frozen=True)
class Turn:
    """One decision to sound: host times, s, at which its frame was read and taken up, and it was made."""

    read_s: float
    taken_s: float
    decided_s: float


@dataclass(frozen=True)
class Measured:
    """What came out.

    Attributes
    ----------
    stages : dict of str to ndarray
        Seconds of each step that was heard, by `STAGES` and "total".
    steps, unheard : int
        Steps in force, and those without a sound within 150 ms.
    frames, missed, dry : int
        Frames read, frames that did not arrive, times the sound ran dry: by the sound server's own account; where a
        clock stands in for it, callbacks later than the buffer lasts.
    card : str
        What played it.
    asks_ms : float
        Sound that the card asks for at a time, ms, in the middle: what the system grants of the buffer that was wished.
    how : str
        How the sample's time was found.
    message_bytes : int
        Of a frame.
    load : (float, float)
        The machine's load average of a minute, before and after.
    told : str or None
        What the player said of itself: more sound is kept than was wished.
    """

    stages: dict[str, Floats]
    steps: int
    unheard: int
    frames: int
    missed: int
    dry: int
    card: str
    asks_ms: float
    how: str
    rate_hz: int
    message_bytes: int
    load: tuple[float, float]
    told: str | None = None


def asks_ms(calls: Floats, rate_hz: int) -> float:
    """The middle of what the card asks for at a time; calls within a millisecond are one."""
    firsts = calls[np.concatenate([[True], np.diff(calls[:, 0]) > 1e-3])]
    return float(1e3 * np.median(np.diff(firsts[:, 1])) / rate_hz)


def sounded_in_stream(
    samples: Floats, arrived_s: Floats, ends: NDArray[np.int64], rate_hz: int, turns: list[Turn]
) -> Floats:
    """Host time at which each turn's first sample had come out of the card's stream, NaN where none did."""
    loud = np.abs(samples) > _ONSET * np.percentile(np.abs(samples), 99.9)
    out = np.full(len(turns), np.nan)
    for i, turn in enumerate(turns):
        piece = int(np.searchsorted(arrived_s, turn.decided_s))
        first = int(ends[piece - 1]) if piece else 0
        window = loud[first : first + round(_SOON_S * rate_hz)]
        if window.any():
            out[i] = arrived_s[np.searchsorted(ends, first + int(np.argmax(window)), side="right")]
    return out


def sounded_by_clock(samples: Floats, calls: Floats, settings: SoundSettings, turns: list[Turn]) -> Floats:
    """Host time at which each turn's first sample is due after its callback and the periods before it."""
    loud = np.abs(samples) > _ONSET * np.percentile(np.abs(samples), 99.9)
    out = np.full(len(turns), np.nan)
    for i, turn in enumerate(turns):
        call = int(np.searchsorted(calls[:, 0], turn.decided_s))
        if call >= len(calls):
            continue
        first = int(calls[call, 1])
        window = loud[first : first + round(_SOON_S * settings.rate_hz)]
        if window.any():
            sample = first + int(np.argmax(window))
            by = int(np.searchsorted(calls[:, 1], sample, side="right")) - 1
            before_s = (settings.periods - 1) * settings.buffer_ms * 1e-3
            out[i] = calls[by, 0] + before_s + (sample - calls[by, 1]) / settings.rate_hz
    return out


def stages_of(turns: list[Turn], onsets: Floats, scans: Floats, steps_s: Floats) -> dict[str, Floats]:
    """Seconds of each part for each step that was answered.

    Film's and host's clock differ by a constant: the quickest way of a reading from one to the other.
    """
    film_s, host_s = scans[:, 0], scans[:, 1]
    film_to_host = float(np.min(host_s - film_s))
    reads_s = np.array([turn.read_s for turn in turns])
    rows = []
    for step_s in steps_s:
        scan = int(np.searchsorted(film_s, step_s))
        if scan >= len(scans):
            continue
        i = int(np.searchsorted(reads_s, host_s[scan]))
        if i >= len(turns) or reads_s[i] - host_s[scan] > _SOON_S or np.isnan(onsets[i]):
            continue
        turn = turns[i]
        marks = [step_s + film_to_host, host_s[scan], turn.read_s, turn.taken_s, turn.decided_s, onsets[i]]
        rows.append(np.diff(marks))
    table = np.array(rows).reshape(-1, len(STAGES))
    return {**{name: table[:, i] for i, name in enumerate(STAGES)}, "total": table.sum(axis=1)}


@dataclass(frozen=True)
class RadioCase:
    """One connection and what it makes of the way, ms.

    Attributes
    ----------
    interval_ms, packet_bytes, packets_per_event, loss
        The connection.
    rate_hz : int
        The quickest rate that it carries.
    skipped : float
        Part of the frames that found no credit.
    median_ms, most_ms : float
        Median and 95 % from foot to ear.
    radio_ms : float
        Median of the radio's part.
    message : str
        What is sent of a scan: "frame", or "feet".
    """

    interval_ms: float
    packet_bytes: int
    packets_per_event: int
    loss: float
    rate_hz: int
    skipped: float
    median_ms: float
    most_ms: float
    radio_ms: float
    message: str = "frame"


def radio_cases(measured: Measured, delays: Delays, seed: int = 1) -> list[RadioCase]:
    """Foot to ear for every connection of the table.

    Parameters
    ----------
    measured : Measured
        Over the cable: its link, queue, compute and sound are drawn from, step by step; its wait for a scan is not.
    delays : callable
        `groundtone.twin.radio.notification_delays`.
    """
    return [
        _case(measured, delays, interval_s, packet, per_event, loss, seed)
        for interval_s in INTERVALS_S
        for packet, per_event in PACKETS
        for loss in LOSSES
    ]


def feet_cases(measured: Measured, delays: Delays, seed: int = 1) -> list[RadioCase]:
    """The same of the feet message over short packets; what the board takes for it (about 1 ms) is left out."""
    (packet, per_event), *_ = PACKETS
    told = replace(measured, message_bytes=FEET_BYTES)
    cases = (
        _case(told, delays, interval_s, packet, per_event, loss, seed, FEET_WINDOW)
        for interval_s in INTERVALS_S
        for loss in LOSSES
    )
    return [replace(case, message="feet") for case in cases]


def _case(
    measured: Measured,
    delays: Delays,
    interval_s: float,
    packet: int,
    per_event: int,
    loss: float,
    seed: int,
    window: int = WINDOW,
) -> RadioCase:
    for rate_hz in RATES_HZ:
        sent_s = np.arange(round(_SECONDS * rate_hz)) / rate_hz
        arrived_s = delays(sent_s, measured.message_bytes, interval_s, packet, per_event, loss, window, seed)
        skipped = float(np.mean(np.isnan(arrived_s)))
        if 1.0 - skipped >= _ARRIVES:
            break
    there = ~np.isnan(arrived_s)
    came_s, left_s = arrived_s[there], sent_s[there]
    random = np.random.default_rng(seed)
    steps_s = random.random(_STEPS) * (_SECONDS - 2.0) + 1.0
    frame = np.searchsorted(left_s, steps_s)
    rest_s = sum(measured.stages[name] for name in ("link", "queue", "compute", "sound"))
    total_ms = 1e3 * (came_s[frame] - steps_s + random.choice(np.asarray(rest_s), _STEPS))
    return RadioCase(
        1e3 * interval_s, packet, per_event, loss, rate_hz, skipped,
        float(np.median(total_ms)), float(np.percentile(total_ms, 95)), float(1e3 * np.median(came_s - left_s)),
    )  # fmt: skip
