"""One cue while it sounds: carrier, rhythm and size, sample by sample."""

import numpy as np

from groundtone.tone.ear import note_hz
from groundtone.tone.voices import LOUDNESS_SPAN_DB, CueVoice, Samples, beat_envelope, carrier, raised_cosine

RELEASE_S = 0.008  # any change of size takes this long, in the shape of half a cosine


class SoundingCue:
    """One cue's state: where it is in its carrier, its beat and its change of size.

    Parameters
    ----------
    gain : float
        Factor for size 1, from `groundtone.tone.voices.cue_gains`.
    """

    def __init__(self, voice: CueVoice, gain: float, rate_hz: int) -> None:
        self._voice, self._full, self._rate_hz = voice, gain, rate_hz
        self._ramp = raised_cosine(round(RELEASE_S * rate_hz))
        self._ramp_at = len(self._ramp)  # at its end: no change under way
        self._from = self._to = 0.0
        self._size = 0.0
        self._turns = 0.0
        self._beat: Samples = np.zeros(0)
        self._beat_at = 0

    @property
    def silent(self) -> bool:
        """Nothing sounds, and nothing will until the size is set."""
        return self._to == 0.0 and self._ramp_at >= len(self._ramp)

    def set_size(self, size: float) -> None:
        """Sets the size from the next sample on.

        Parameters
        ----------
        size : float
            0 to 1; 0 is silence, and every equal step above it is an equal step in decibels.
        """
        target = 0.0 if size <= 0.0 else self._full * 10.0 ** (LOUDNESS_SPAN_DB * (size - 1.0) / 20.0)
        self._size = size
        if target == self._to:
            return
        if self.silent:
            # From silence the beat itself rises softly, and it starts at once: nobody waits for a beat.
            self._from = self._to = target
            self._beat_at = len(self._beat)
            return
        self._from, self._to, self._ramp_at = self._gain_now(), target, 0

    def render(self, n: int) -> Samples:
        """Gives the next samples.

        Returns
        -------
        ndarray, shape (n,)
        """
        if self.silent:
            return np.zeros(n)
        tone = carrier(self._voice, self._turns, n, self._rate_hz)
        self._turns = (self._turns + n * note_hz(self._voice.note) / self._rate_hz) % 1.0
        return tone * self._rhythm(n) * self._gains(n)

    def _rhythm(self, n: int) -> Samples:
        out = np.empty(n)
        done = 0
        while done < n:
            if self._beat_at >= len(self._beat):
                # The rhythm follows the size from beat to beat only, so that no beat is cut or stretched inside.
                self._beat, self._beat_at = beat_envelope(self._voice, self._size, self._rate_hz), 0
            take = min(n - done, len(self._beat) - self._beat_at)
            out[done : done + take] = self._beat[self._beat_at : self._beat_at + take]
            self._beat_at += take
            done += take
        return out

    def _gain_now(self) -> float:
        if self._ramp_at == 0:
            return self._from
        if self._ramp_at >= len(self._ramp):
            return self._to
        return self._from + (self._to - self._from) * float(self._ramp[self._ramp_at - 1])

    def _gains(self, n: int) -> Samples:
        out = np.full(n, self._to)
        part = self._ramp[self._ramp_at : self._ramp_at + n]
        out[: len(part)] = self._from + (self._to - self._from) * part
        self._ramp_at = min(self._ramp_at + n, len(self._ramp))
        return out
