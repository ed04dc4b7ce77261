"""The sound of a command: the remembered sound card live, nothing heard where the twin runs faster than time."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from groundtone.app.tones.guarded import GuardedOutput
from groundtone.app.twin import TwinChoice
from groundtone.tone.ear import Side
from groundtone.tone.errors import ToneError
from groundtone.tone.output import OfflinePlayer, Output
from groundtone.tone.player import USUAL_BUFFER_MS, USUAL_PERIODS, Player
from groundtone.tone.process import ProcessPlayer
from groundtone.tone.settings import SoundSettings, settings_or_usual
from groundtone.tone.synth import Synth


def sound_for(twin: TwinChoice | None) -> GuardedOutput:
    """A procedure's player, not yet started; its failure ends the sound and not the procedure."""
    if twin is not None and twin.fast:
        return GuardedOutput(OfflinePlayer(Synth()))
    settings, _ = settings_or_usual()
    return GuardedOutput(plain_output(settings))


def session_output(
    fast: bool, wav: Path | None = None, lead: Side = "left", say: Callable[[str], None] | None = None
) -> Output:
    """What sounds in a session: `live_output`, or made and not heard where the mat is faster than time."""
    return OfflinePlayer(Synth(), wav) if fast else live_output(wav, lead, say=say)


def plain_output(settings: SoundSettings, wav: Path | None = None) -> Player:
    """A player in this process, as remembered but for its buffer: a busy thread here makes a small one run dry."""
    synth = Synth(settings.rate_hz, settings.level, slower=settings.slower)
    buffer_ms, periods = max(settings.buffer_ms, USUAL_BUFFER_MS), max(settings.periods, USUAL_PERIODS)
    return Player(synth, wav, settings.device or None, buffer_ms, periods=periods, insist=False)


def live_output(
    wav: Path | None = None,
    lead: Side = "left",
    settings: SoundSettings | None = None,
    say: Callable[[str], None] | None = None,
) -> Output:
    """The player of a session, not yet started: the remembered sound, made in a process of its own.

    Parameters
    ----------
    wav : Path or None
        A WAV file to write beside.
    lead : {"left", "right"}
        Side of the lead foot, for stereo.
    settings : SoundSettings, optional
        Instead of what is remembered.
    say : callable, optional
        Takes a sentence where the remembered settings could not be used, or no process could be started.

    Raises
    ------
    ToneError
        The file cannot be written.
    """
    if settings is None:
        settings, sentence = settings_or_usual()
        if sentence is not None and say is not None:
            say(sentence)
    try:
        return ProcessPlayer(
            wav,
            rate_hz=settings.rate_hz,
            level=settings.level,
            lead=lead if settings.stereo else None,
            slower=settings.slower,
            device=settings.device or None,
            insist=False,
            buffer_ms=settings.buffer_ms,
            periods=settings.periods,
        )
    except ToneError as why:
        # A file that cannot be written fails here as well and is told; a process that cannot be had is done without.
        player = plain_output(settings, wav)
        if say is not None:
            say(f"{why} The sound is made in this process instead.")
        return player
