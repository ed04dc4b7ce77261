"""The way from foot to ear by radio: the measured parts, with a modelled connection in the place of the cable."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.app.tones.latency_measure import Measured

INTERVALS_S = (0.015, 0.030, 0.04875)
# Bytes of a link packet, and how many of them fit into one connection event (assumed: systems grant about so many).
PACKETS = ((27, 6), (251, 4))
LOSSES = (0.0, 0.05)
WINDOW = 6  # frames that the mat lets be under way, see firmware/WIRE.md
RATES_HZ = (100, 50, 25)
_ARRIVES = 0.98  # a rate is kept while so many frames find credit
LIVE_HZ = 50  # below this no cue is played live
_SECONDS = 60.0
_STEPS = 4000

# sent_s, message_bytes, interval_s, packet_bytes, packets_per_event, loss, window, seed -> arrivals_s (NaN: skipped)
Delays = Callable[[NDArray[np.float64], int, float, int, int, float, int, int], NDArray[np.float64]]


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


def radio_cases(measured: Measured, delays: Delays, seed: int = 1) -> list[RadioCase]:
    """Foot to ear for every connection of the table.

    Parameters
    ----------
    measured : Measured
        Over the cable: its link, queue, compute and sound are drawn from, step by step; its wait for a scan is not.
    delays : callable
        `groundtone.twin.radio.notification_delays`.
    seed : int
    """
    return [
        _case(measured, delays, interval_s, packet, per_event, loss, seed)
        for interval_s in INTERVALS_S
        for packet, per_event in PACKETS
        for loss in LOSSES
    ]


def _case(
    measured: Measured, delays: Delays, interval_s: float, packet: int, per_event: int, loss: float, seed: int
) -> RadioCase:
    for rate_hz in RATES_HZ:
        sent_s = np.arange(round(_SECONDS * rate_hz)) / rate_hz
        arrived_s = delays(sent_s, measured.message_bytes, interval_s, packet, per_event, loss, WINDOW, seed)
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
