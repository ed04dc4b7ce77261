"""The written sound: 16-bit WAV files, mono or stereo."""

import contextlib
from pathlib import Path
from types import TracebackType

import numpy as np
import soundfile
from numpy.typing import NDArray

from groundtone.tone.errors import ToneError


class WavWriter:
    """Writes blocks of sound to a WAV file of 16 bits.

    Parameters
    ----------
    path : Path
        The file; one that exists is replaced.
    rate_hz : int
        Sample rate, Hz.
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
                f"The sound cannot be written to {path}: {why}. Name a file in a folder that exists."
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
                f"The sound can no longer be written to {self._path} ({str(why).rstrip('.')}), but it is made as "
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
                raise ToneError(f"The sound's file {self._path} could not be ended ({why}). Check the disk.") from why

    def __enter__(self) -> "WavWriter":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
