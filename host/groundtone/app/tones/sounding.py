"""The sound of a command: the remembered sound card live, nothing heard where the twin runs faster than time."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from groundtone.errors import ToneError
from groundtone.tone.ear import Side
from groundtone.tone.echo import EchoPath
from groundtone.tone.output import OfflinePlayer, Output
from groundtone.tone.player import USUAL_BUFFER_MS, USUAL_PERIODS, Player
from groundtone.tone.process import ProcessPlayer
from groundtone.tone.settings import SoundSettings, settings_or_usual
from groundtone.tone.synth import Synth


class GuardedOutput:
    """Hands everything on to an output until that fails; from then on `trouble` says why and nothing is handed on.

    Parameters
    ----------
    output : Output
        What sounds. A cue that sounds when it fails is ended by its own watchdog, for no heartbeat comes any more.
    """

    def __init__(self, output: Output) -> None:
        self._output = output
        self._failed: ToneError | None = None

    @property
    def description(self) -> str:
        """See `Output.description`."""
        return self._output.description

    @property
    def trouble(self) -> ToneError | None:
        """See `Output.trouble`."""
        return self._failed or self._output.trouble

    @property
    def told(self) -> str | None:
        """See `Output.told`."""
        return self._output.told

    def start(self) -> None:
        """See `Output.start`."""
        self._do(self._output.start)

    def stop(self) -> None:
        """See `Output.stop`."""
        self._do(self._output.stop)

    def close(self) -> None:
        """See `Output.close`; done after a failure too, so that the file holds what had been written."""
        failed, self._failed = self._failed, None
        self._do(self._output.close)
        self._failed = failed or self._failed

    def set_cues(self, sizes: Mapping[str, float]) -> None:
        """See `Output.set_cues`."""
        self._do(lambda: self._output.set_cues(sizes))

    def echo(self, path: EchoPath) -> None:
        """See `Output.echo`."""
        self._do(lambda: self._output.echo(path))

    def signal(self, name: str) -> None:
        """See `Output.signal`."""
        self._do(lambda: self._output.signal(name))

    def heartbeat(self) -> None:
        """See `Output.heartbeat`."""
        self._do(self._output.heartbeat)

    def rest(self) -> None:
        """See `Output.rest`."""
        self._do(self._output.rest)

    def advance(self, seconds: float) -> None:
        """See `Output.advance`."""
        self._do(lambda: self._output.advance(seconds))

    def drain(self) -> None:
        """See `Output.drain`."""
        self._do(self._output.drain)

    def _do(self, call: Callable[[], None]) -> None:
        if self._failed is not None:
            return
        try:
            call()
        except ToneError as error:
            self._failed = error
        except (OSError, RuntimeError) as error:
            # What sound libraries raise when a disk is full or a device goes.
            why = str(error).rstrip(".")
            self._failed = ToneError(f"the sound has failed ({why}): check the disk and the sound card")


def sound_for(fast: bool) -> GuardedOutput:
    """A procedure's player, not yet started; its failure ends the sound and not the procedure."""
    if fast:
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
    synth = Synth(settings.rate_hz, settings.level, slower=settings.slower, words=settings.words)
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
            words=settings.words,
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
