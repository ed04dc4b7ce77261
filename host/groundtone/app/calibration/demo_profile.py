"""Calibrates the simulated mat: the bench run of known weights, over the same link as everything."""

from __future__ import annotations

import datetime
from collections.abc import Callable

import numpy as np

from groundtone.calibration.fitting.fit import film_from_bench
from groundtone.calibration.profile import Profile
from groundtone.link.base import Link, Stamped
from groundtone.link.twin_link import TwinLink
from groundtone.mat.layout import layout_of
from groundtone.record.frames import Frames
from groundtone.review.measured import conductance_blocks
from groundtone.twin.scenario import Bench, Scenario
from groundtone.twin.world import World
from groundtone.wire.codec import encode

RATE_HZ = 10


def record_bench(
    link: Link, duration_s: float, weights_n: tuple[float, ...], on_frame: Callable[[float], None]
) -> Profile:
    """Records a bench run and makes the mat's profile of it.

    Parameters
    ----------
    link : Link
        Of a mat on which the run is just beginning; it is started and stopped here.
    duration_s : float
        Length of the run, s of device time.
    weights_n : tuple of float
        The weights in the order in which they go on each cell, N.
    on_frame : callable
        Called after each frame with the device time since the first one, s.

    Raises
    ------
    CalibrationError, LinkError
    """
    hello = link.hello
    layout = layout_of(hello.layout)
    t_s: list[float] = []
    raw = bytearray()
    link.start(RATE_HZ)
    for item in link.frames():
        if not isinstance(item, Stamped):
            continue
        t_s.append(item.device_us * 1e-6)
        raw += item.raw or encode(item.frame, hello.bits)
        on_frame(t_s[-1] - t_s[0])
        if t_s[-1] - t_s[0] >= duration_s - 1.5 / RATE_HZ:
            break
    # A frame after the other would take ten times as long as all of them in blocks.
    host_ns = np.round(np.array(t_s) * 1e9).astype(np.int64)
    frames = Frames(np.frombuffer(bytes(raw), np.uint8).reshape(len(t_s), -1), host_ns, hello.cells, hello.bits)
    conductance = np.concatenate([block for _, block in conductance_blocks(frames, layout)])
    result = film_from_bench(np.array(t_s), conductance, weights_n)
    return Profile(
        uid=link.hello.uid,
        layout=layout.id,
        layout_digest=layout.digest,
        date=datetime.datetime.now().astimezone().isoformat(timespec="seconds"),
        weights_n=weights_n,
        scatter=result.scatter,
        film=result.film,
        note="simulated: recorded on the twin",
    )


def quick_profile(scenario: Scenario) -> Profile:
    """The mat's profile from a bench run on the twin in this process (the demo itself records it over the firmware)."""
    act = Bench(seed=scenario.mat.seed)
    bench = Scenario(scenario.mat, act)
    with TwinLink(bench, fast=True) as link:
        return record_bench(link, World(bench).duration_s, act.loads_n, lambda _: None)
