"""What every player offers, the player for runs faster than time, and the WAV file that is written beside."""

import contextlib
import math
import shutil
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Protocol

import numpy as np
import soundfile
from numpy.typing import NDArray

from groundtone.errors import ToneError
from groundtone.tone.echo import EchoPath
from groundtone.tone.synth import Synth


class WavWriter:
    """Writes blocks of sound to a WAV file of 16 bits.

    Parameters
    ----------
    path : Path
        The file; one that exists is replaced.
    channels : int
        1 or 2.

    Raises
    ------
    ToneError
        If the file cannot be written.
    """

    def __init__(self, path: Path, rate_hz: int, channels: int = 1) -> None:
        try:
            self._file = soundfile.SoundFile(
                str(path), "w", samplerate=rate_hz, channels=channels, subtype="PCM_16", format="WAV"
            )
        except (OSError, soundfile.SoundFileError) as why:
            raise ToneError(
                f"The sound cannot be written to {path} ({_reason(why, path)}). Name a file in a folder that exists."
            ) from why
        self._path = path
        self.samples = 0

    def write(self, block: NDArray[np.float32]) -> None:
        """Appends samples.

        Parameters
        ----------
        block : ndarray of float32, shape (n,), in stereo (n, 2)
            Full scale is 1. Rounded to the nearest of 32767 steps a side.

        Raises
        ------
        ToneError
            The disk is full, or gone. The file is ended and holds what had been written.
        """
        try:
            self._file.write(np.round(np.clip(block, -1.0, 1.0) * 32767.0).astype(np.int16))
        except (OSError, RuntimeError, AssertionError) as why:
            with contextlib.suppress(OSError, RuntimeError):
                self._file.close()
            raise ToneError(
                f"The sound can no longer be written to {self._path} ({_reason(why, self._path)}), but it is made as "
                "before. Free some space on the disk."
            ) from why
        self.samples += len(block)

    def close(self) -> None:
        """Finishes the file; a second call does nothing.

        Raises
        ------
        ToneError
            The disk is full, or gone.
        """
        if not self._file.closed:
            try:
                self._file.close()
            except (OSError, RuntimeError) as why:
                raise ToneError(
                    f"The sound's file {self._path} could not be ended ({_reason(why, self._path)}). Check the disk."
                ) from why

    def __enter__(self) -> "WavWriter":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _reason(why: Exception, path: Path) -> str:
    """Why a sound file cannot be written; its library says "System error" whatever the system has said."""
    if getattr(why, "strerror", None) and isinstance(why, OSError):
        return str(why.strerror)
    if "system error" not in str(why).lower():
        return str(why).rstrip(".")
    if not path.parent.is_dir():
        return "its folder is not there"
    try:
        return "the disk is full" if shutil.disk_usage(path.parent).free < _LITTLE else "writing is not allowed there"
    except OSError:
        return "the disk is gone"


BLOCK_S = 0.010
# So few free bytes are a full disk.
_LITTLE = 1 << 16


class Output(Protocol):
    """The interface of `OfflinePlayer`, `groundtone.tone.player.Player` and `groundtone.tone.process.ProcessPlayer`."""

    @property
    def description(self) -> str:
        """Where the sound goes, as words for the reader."""
        ...

    @property
    def trouble(self) -> ToneError | None:
        """What went wrong since the start, if anything; the sound goes on without its card, or without its file."""
        ...

    @property
    def told(self) -> str | None:
        """What became of the sound that a person must know and that is no trouble; None: nothing."""
        ...

    def start(self) -> None:
        """Begins to sound."""
        ...

    def stop(self) -> None:
        """Falls silent; `start` goes on."""
        ...

    def close(self) -> None:
        """Falls silent and finishes the file."""
        ...

    def set_cues(self, sizes: Mapping[str, float]) -> None:
        """Hands on to `groundtone.tone.synth.Synth.set_cues`."""
        ...

    def echo(self, path: EchoPath) -> None:
        """Sounds a swing's path slowly, 1 to 2 s after its finish; see `groundtone.tone.synth.Synth.echo`."""
        ...

    def signal(self, name: str) -> None:
        """Hands on to `groundtone.tone.synth.Synth.signal`."""
        ...

    def heartbeat(self) -> None:
        """Hands on to `groundtone.tone.synth.Synth.heartbeat`."""
        ...

    def rest(self) -> None:
        """Hands on to `groundtone.tone.synth.Synth.rest`."""
        ...

    def advance(self, seconds: float) -> None:
        """Lets time pass: offline it is made here, live it passes by itself."""
        ...

    def drain(self) -> None:
        """Writes what has sounded; to be called about ten times a second from the main loop."""
        ...


class OfflinePlayer:
    """Renders into a WAV file as fast as it goes.

    Parameters
    ----------
    out : Path or None
        The WAV file; without one the sound is made and dropped.

    Raises
    ------
    ToneError
        If the file cannot be written.
    """

    def __init__(self, synth: Synth, out: Path | None = None) -> None:
        self._synth = synth
        self._wav = WavWriter(out, synth.rate_hz, synth.channels) if out is not None else None
        self._out = out
        self._trouble: ToneError | None = None
        self.told: str | None = None  # it is faster than time, and never runs dry
        self._owed = 0.0
        self._running = False

    @property
    def description(self) -> str:
        """Where the sound goes, as words for the reader."""
        return f"faster than time, into {self._out}" if self._out is not None else "faster than time, unheard"

    @property
    def trouble(self) -> ToneError | None:
        """See `Output.trouble`: a file that can no longer be written."""
        return self._trouble

    def start(self) -> None:
        """Lets `advance` make sound."""
        self._running = True

    def stop(self) -> None:
        """Falls silent: time that passes now makes no sound and no samples."""
        self._synth.rest()
        self._running = False

    def close(self) -> None:
        """Finishes the file; a second call does nothing."""
        self._running = False
        if self._wav is not None:
            self._wav.close()

    def set_cues(self, sizes: Mapping[str, float]) -> None:
        """Hands on to `groundtone.tone.synth.Synth.set_cues`; dropped while stopped."""
        if self._running:
            self._synth.set_cues(sizes)

    def echo(self, path: EchoPath) -> None:
        """Hands on to `groundtone.tone.synth.Synth.echo`; dropped while stopped."""
        if self._running:
            self._synth.echo(path)

    def signal(self, name: str) -> None:
        """Hands on to `groundtone.tone.synth.Synth.signal`."""
        self._synth.signal(name)

    def heartbeat(self) -> None:
        """Hands on to `groundtone.tone.synth.Synth.heartbeat`; dropped while stopped."""
        if self._running:
            self._synth.heartbeat()

    def rest(self) -> None:
        """Hands on to `groundtone.tone.synth.Synth.rest`."""
        self._synth.rest()

    def advance(self, seconds: float) -> None:
        """Makes exactly this much sound.

        Parameters
        ----------
        seconds : float
            Time that passes, s. Parts of a sample add up, so that many short steps are as long as one long one.

        Raises
        ------
        ToneError
            If the time is negative or not a finite number.
        """
        if not math.isfinite(seconds) or seconds < 0.0:
            raise ToneError(f"Time passes forwards; {seconds} s cannot be rendered.")
        if not self._running:
            return
        self._owed += seconds * self._synth.rate_hz
        n = math.floor(self._owed + 1e-6)  # a sum of thirds must not come out one sample short
        self._owed -= n
        block = round(BLOCK_S * self._synth.rate_hz)
        while n > 0:
            samples = self._synth.render(min(n, block))
            n -= len(samples)
            if self._wav is not None:
                self._write(self._wav, samples)

    def drain(self) -> None:
        """Does nothing: `advance` writes at once."""

    def _write(self, wav: WavWriter, samples: NDArray[np.float32]) -> None:
        try:
            wav.write(samples)
        except ToneError as why:
            self._trouble, self._wav = why, None
