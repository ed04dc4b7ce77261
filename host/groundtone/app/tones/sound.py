"""`groundtone sound`: which cards there are, which is remembered, and what everything sounds like."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from dataclasses import asdict, replace
from typing import Any

import click
import numpy as np
from rich.console import Console

from groundtone.app.click_parts import LazyGroup, Number
from groundtone.app.console import say
from groundtone.app.tones.sounding import live_output
from groundtone.cue.rulefile import cue_names, default_rules
from groundtone.errors import ToneError
from groundtone.tone.devices import choose, list_devices
from groundtone.tone.echo import SLOWER, EchoPath
from groundtone.tone.output import Output
from groundtone.tone.settings import SoundSettings, read_settings, settings_or_usual, write_settings
from groundtone.tone.speech import ENGINE, LANGUAGES, engine
from groundtone.tone.voices import ASKING, MOST_CLUBS

_FRAME_S = 0.010
# What is played after the cues, in this order, and what it means.
SIGNAL_WORDS = {
    "ready": "ready: the footprints have been found",
    "rock": "rock round: the feet are not known yet",
    "tick": "tick: a swing was recognised and is over",
    "unseen": "a ball was heard and no swing seen",
    "taken": "answer taken",
    "undone": "answer taken back",
    "saved": "saved",
    "tightened": "band tightened",
    "lost": "lost: no frames come",
    "found": "found again",
    "again": "not taken, once more (calibrating)",
    "change": "another weight, or the next step",
    **{name: f"asked for: {name.removeprefix('ask ')}" for name in ASKING},
    "ask feel": "asked: where was it? (tap the place)",
    "good one": "your typical good swing comes now",
    "near": "as asked",
    "nearly": "nearly as asked",
    "far": "far from what was asked",
    **{f"club {number}": f"the plan's club no. {number}" for number in range(1, MOST_CLUBS + 1)},
}
ECHO = "slow echo"


@click.group(cls=LazyGroup, elsewhere={})
def sound() -> None:
    """List sound cards, choose how it sounds, hear each sound with its name."""


@sound.command("list")
def list_command() -> None:
    """The sound cards of this machine."""
    console = Console()
    cards = list_devices()
    settings, trouble = settings_or_usual()
    for card in cards:
        mine = settings.device and settings.device.lower() in card.name.lower()
        say(console, f"{'*' if mine else ' '} {card.name} ({card.system})")
    if not cards:
        say(console, "No sound card: tones can be written to a file but not heard; plug in a speaker or headphones.")
    if trouble is not None:
        say(console, trouble)


@sound.command()
def show() -> None:
    """What is remembered."""
    console = Console()
    for line in _lines(read_settings()):
        say(console, line)


@sound.command("choose")
@click.option("--device", help="A card's name or a part of it; '' leaves the choice to the system.")
@click.option("--level", type=Number(0, 1, ""), help="0 to 1.")
@click.option("--buffer", "buffer_ms", type=click.IntRange(1, 200), help="Length of one period, ms.")
@click.option("--periods", type=click.IntRange(1, 8), help="Periods that the system keeps.")
@click.option("--rate", "rate_hz", type=click.IntRange(8000, 192_000), help="Sample rate, Hz.")
@click.option("--stereo/--mono", default=None, help="Cues on the sides of the feet, or in the middle.")
@click.option("--echo/--no-echo", default=None, help="The slow echo after a swing.")
@click.option("--slower", type=Number(*SLOWER, "times"), help="How much slower the echo is than the swing.")
@click.option("--words", type=click.Choice(["off", *LANGUAGES]), help="Speak what is asked for, in this language.")
@click.option("--usual", is_flag=True, help="Begin from the usual settings.")
def choose_command(usual: bool, **wishes: Any) -> None:
    """Remember how it shall sound; what is not named stays as it is."""
    console = Console()
    before = SoundSettings() if usual else read_settings()
    if wishes["words"] == "off":
        wishes["words"] = ""
    if wishes["words"] and engine() is None:
        say(console, f"No speech engine is here, so words stay silent: install {ENGINE}.")
    settings = replace(before, **{name: value for name, value in wishes.items() if value is not None})
    if wishes["device"]:
        card = choose(list_devices(), settings.device)
        assert card is not None
        settings = replace(settings, device=card.name)
    path = write_settings(settings)
    for line in _lines(settings):
        say(console, line)
    say(console, f"Remembered in {path}.")


@sound.command()
@click.argument("names", nargs=-1)
@click.option("--size", type=Number(0, 1, ""), default=0.6, show_default=True, help="How far out, 0 to 1.")
def play(names: tuple[str, ...], size: float) -> None:
    """Play every sound with its name, or only those named."""
    known = {**_cue_words(), **SIGNAL_WORDS, ECHO: "slow echo of an invented swing"}
    wrong = [name for name in names if name not in known]
    if wrong:
        raise ToneError(f"There is no sound {wrong[0]!r}; there are {', '.join(known)}.")
    console = Console()
    output = live_output(say=lambda sentence: say(console, sentence))
    say(console, f"Sound: {output.description}.")
    try:
        output.start()
        # A session starts softly: these begin when it is up, or the first would be heard more quietly.
        _pass(output, 2.0)
        with contextlib.suppress(KeyboardInterrupt):
            for name in names or known:
                say(console, known[name])
                _play_one(output, name, size)
    finally:
        output.close()
    if output.trouble is not None:
        raise output.trouble


def _cue_words() -> dict[str, str]:
    return {rule.name: f"{rule.name}: {rule.words or rule.name}" for rule in default_rules().rules}


def _play_one(output: Output, name: str, size: float) -> None:
    if name in cue_names():
        _pass(output, 2.5, lambda: output.set_cues({name: size}))
        _pass(output, 0.7, lambda: output.set_cues({}))
    elif name == ECHO:
        path = invented_swing()
        output.echo(path)
        _pass(output, 7.5)
    else:
        output.signal(name)
        _pass(output, 1.4)


def _pass(output: Output, seconds: float, each: Callable[[], None] | None = None) -> None:
    """Lets time pass as in a session: a frame every 10 ms."""
    for _ in range(round(seconds / _FRAME_S)):
        output.heartbeat()
        if each is not None:
            each()
        output.advance(_FRAME_S)
        time.sleep(_FRAME_S)


def invented_swing() -> EchoPath:
    """The path of an invented swing: back to the trail side in 0.8 s, turned, across in 0.25 s, held."""
    t_s = np.arange(0.0, 1.7, 0.005)
    share = np.interp(t_s, [0.0, 0.2, 0.75, 1.05, 1.7], [0.52, 0.50, 0.25, 0.80, 0.90])
    position = np.interp(t_s, [0.0, 0.75, 1.05, 1.7], [0.53, 0.45, 0.50, 0.40])
    return EchoPath(t_s, share, position, 0.75, 1.05)


def _lines(settings: SoundSettings) -> list[str]:
    values = asdict(settings)
    values["device"] = settings.device or "the system's choice"
    values["words"] = settings.words or "not spoken"
    together = settings.buffer_ms * settings.periods
    return [f"{name}: {value}" for name, value in values.items()] + [f"buffer in all: {together} ms"]
