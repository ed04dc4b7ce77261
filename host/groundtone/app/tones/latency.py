"""`groundtone latency`: how long it takes from a step in force to the sound, and where the time goes."""

from __future__ import annotations

import json
import os
import platform
import sys
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import click
import numpy as np
from rich.console import Console
from rich.table import Table

from groundtone.app.console import at_once, say, turned
from groundtone.cue.bands import Bands
from groundtone.engine.foot_to_ear import STAGES, Delays, Measured, RadioCase, feet_cases, radio_cases
from groundtone.errors import GroundtoneError
from groundtone.link.clock import LEAST_HZ
from groundtone.tone.settings import SoundSettings, settings_or_usual

ASKED_USB_MS = (30.0, 40.0)
ASKED_RADIO_MS = 60.0
HEADSET_MS = (100, 250)  # wireless earphones add about this (from memory)
WORDS = {
    "scan": "until a scan reads the cells that have changed",
    "link": "the rest of the scan, packing, cable, reading",
    "queue": "until the engine takes the frame up",
    "compute": "forces, pressure, swing, decision",
    "sound": "to the sound's process, its block, the card's buffer",
}


@click.command()
@click.option(
    "--link",
    type=click.Choice(["usb", "radio"]),
    default="usb",
    show_default=True,
    help="By cable, or with a modelled radio connection in its place.",
)
@click.option("--steps", type=click.IntRange(5, 2000), default=150, show_default=True, help="Three a second.")
@click.option("--rate", type=click.IntRange(50, 200), default=200, show_default=True, help="Frames a second.")
@click.option(
    "--card",
    type=click.Choice(["auto", "pulse", "null"]),
    default="auto",
    show_default=True,
    help="Whose stream is read: PulseAudio's, or a clock's without a sound system.",
)
@click.option("--buffer", "buffer_ms", type=click.IntRange(1, 200), help="Length of a period, ms; else as remembered.")
@click.option("--periods", type=click.IntRange(1, 8), help="Periods in the buffer; else as remembered.")
@click.option("--json", "as_json", is_flag=True, help="Figures as JSON.")
def latency(
    link: str, steps: int, rate: int, card: str, buffer_ms: int | None, periods: int | None, as_json: bool
) -> None:
    """Measure the way from foot to ear on the simulated mat, part by part."""
    at_once("Getting ready.")
    from groundtone.app.tones.latency_card import missing_tools
    from groundtone.app.tones.latency_measure import measure

    console = Console(stderr=as_json)
    if card == "auto":
        card = "null" if missing_tools() else "pulse"
    elif card == "pulse" and missing_tools():
        raise GroundtoneError(
            f"{', '.join(missing_tools())} is not installed here: install pulseaudio and its tools, or take --card null"
        )
    known, _ = settings_or_usual()
    settings = replace(
        SoundSettings(), buffer_ms=buffer_ms or known.buffer_ms, periods=periods or known.periods, rate_hz=48000
    )
    say(console, f"Measuring {steps} steps, about {round(steps * 0.33 + 10)} s.")
    measured = measure(steps, rate, settings, card)
    cases = [*radio_cases(measured, _model()), *feet_cases(measured, _model())] if link == "radio" else []
    figures = figures_of(measured, settings, cases)
    if as_json:
        click.echo(json.dumps(figures, indent=1))
    else:
        _print(console, measured, settings, cases)
    if not figures["ok"]:
        sys.exit(1)


def _model() -> Delays:
    # The twin takes a moment to import, and the cable needs none of it.
    from groundtone.twin.radio import notification_delays

    return notification_delays


def figures_of(measured: Measured, settings: SoundSettings, cases: list[RadioCase]) -> dict[str, Any]:
    """What was measured, as plain data; `ok` says whether it is what is asked for."""
    parts = {name: spread_ms(measured.stages[name]) for name in (*STAGES, "total")}
    median, most = parts["total"]["median"], parts["total"]["95 %"]
    radio = [case for case in cases if (case.interval_ms, case.packet_bytes, case.loss) == (30.0, 251, 0.0)]
    return {
        "machine": {**machine(), "load average before and after": [round(x, 2) for x in measured.load]},
        "path": "a step in force on the simulated mat, its firmware on MicroPython in real time, a pseudo-terminal, "
        "the live engine, the sound's process, the sample in the card's stream; no dwell of a cue, no headset",
        "card": measured.card,
        "sample": measured.how,
        "sound asked for at a time, ms": round(measured.asks_ms, 2),
        "buffer, ms": settings.buffer_ms * settings.periods,
        "frames a second": measured.rate_hz,
        "steps": measured.steps,
        "steps without a sound within 150 ms": measured.unheard,
        "frames": measured.frames,
        "frames missed": measured.missed,
        "times the sound ran dry": measured.dry,
        "said of the sound": measured.told or "",
        "ms": parts,
        "radio, modelled": [asdict(case) for case in cases],
        "ok": median <= ASKED_USB_MS[0]
        and most <= ASKED_USB_MS[1]
        and all(case.median_ms <= ASKED_RADIO_MS for case in radio),
    }


def machine() -> dict[str, str | int]:
    """What the figures were measured on."""
    model = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [
            line.split(":", 1)[1].strip() for line in info.read_text().splitlines() if line.startswith("model name")
        ]
        model = names[0] if names else model
    return {
        "processor": model,
        "cores": os.cpu_count() or 0,
        "system": platform.platform(terse=True),
        "python": platform.python_version(),
        "numpy": np.__version__,
        "blas core": os.environ.get("OPENBLAS_CORETYPE", "chosen by the library"),
    }


def spread_ms(seconds: np.ndarray[Any, np.dtype[np.float64]]) -> dict[str, float]:
    """Median and 95 % in ms."""
    median, most = np.percentile(seconds * 1e3, [50, 95])
    return {"median": round(float(median), 2), "95 %": round(float(most), 2)}


def tone_words(path_ms: float, bands: Bands) -> list[str]:
    """What the way means for a tone in the downswing, in sentences.

    Parameters
    ----------
    path_ms : float
        From foot to ear without a headset.
    bands : Bands
        How long the rules themselves wait.
    """
    toes, trail = (1e3 * dwell_s + path_ms for dwell_s in (bands.dwell_swing_s, bands.dwell_trail_s))
    low, high = HEADSET_MS
    return [
        f"In the downswing the toes tone comes {toes:.0f} ms after pressure leaves the band and the trail-side tone "
        f"{trail:.0f} ms after the turn of pressure at the soonest, with what their rules wait. What happens later "
        "than that before impact is heard after it; the turn of pressure lies 250 to 500 ms before it (from memory).",
        f"A wireless headset adds about {low} to {high} ms (from memory); that is the user's and not contained here. "
        f"Through one, the toes tone comes {toes + low:.0f} to {toes + high:.0f} ms and the trail-side tone "
        f"{trail + low:.0f} to {trail + high:.0f} ms after: in a downswing of 250 ms mostly after impact. A wired "
        "earpiece or a small speaker with a cable is better.",
        "Nobody reacts to a tone within a downswing: it tells what happened.",
    ]


def _print(console: Console, measured: Measured, settings: SoundSettings, cases: list[RadioCase]) -> None:
    table = Table(title=f"From foot to ear by cable, {measured.rate_hz} frames a second, ms")
    for column in ("part", "median", "95 %", "what it is"):
        table.add_column(column, justify="right" if column in ("median", "95 %") else "left")
    for name in STAGES:
        part = spread_ms(measured.stages[name])
        table.add_row(name, f"{part['median']:.1f}", f"{part['95 %']:.1f}", WORDS[name])
    total = spread_ms(measured.stages["total"])
    table.add_row("total", f"{total['median']:.1f}", f"{total['95 %']:.1f}", "not the sum: each part's own median")
    console.print(turned(table))
    say(
        console,
        f"{measured.steps - measured.unheard} of {measured.steps} steps heard; {measured.frames} frames, "
        f"{measured.missed} missed; the sound ran dry {measured.dry} times. Sound: {measured.card}, "
        f"{settings.periods} periods of {settings.buffer_ms} ms wished for, {measured.asks_ms:.1f} ms taken at a time, "
        f"the sample {measured.how}. Load average {measured.load[0]:.1f} before, {measured.load[1]:.1f} after.",
    )
    say(
        console,
        "Real: the firmware on MicroPython, the link's code, the engine, the sound's process. Not shown: a chip's scan "
        "(reckoned 0.9 to 1.7 ms), real USB, a real card's own delay.",
    )
    if cases:
        console.print(turned(_radio_table(cases)))
        say(
            console,
            "Modelled: no radio was used, and packets in an event are assumed. "
            f"Under {LEAST_HZ:.0f} frames a second cues are not played live: the session is recorded all the same.",
        )
    for sentence in tone_words(total["median"], Bands()):
        say(console, sentence)


def _radio_table(cases: list[RadioCase]) -> Table:
    table = Table(title="From foot to ear by radio, ms (modelled connection, measured rest)")
    for column in ("interval", "sent", "packets", "loss", "frames a second", "skipped", "radio", "median", "95 %"):
        table.add_column(column, justify="right")
    for case in cases:
        table.add_row(
            f"{case.interval_ms:g}", case.message, f"{case.packets_per_event} x {case.packet_bytes} B",
            f"{case.loss:.0%}",
            f"{case.rate_hz}", f"{case.skipped:.1%}", f"{case.radio_ms:.1f}", f"{case.median_ms:.1f}",
            f"{case.most_ms:.1f}",
        )  # fmt: skip
    return table
