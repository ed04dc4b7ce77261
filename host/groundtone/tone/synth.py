"""The synthesiser: cues, signals and the watchdog, in sample time."""

import math
from collections import deque
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from groundtone.errors import ToneError
from groundtone.tone.cuevoice import RELEASE_S, SoundingCue
from groundtone.tone.ear import Side, pan_gains
from groundtone.tone.echo import SLOWER, USUAL_SLOWER, EchoPath, SoundingEcho, echo_wave
from groundtone.tone.speech import SAY, phrase, spoken
from groundtone.tone.voices import AT_MOST, CEILING, CUES, SIGNAL_SHARE, SIGNALS, Samples, cue_gains, signal_wave

PATIENCE_S = 0.250  # this long without a good frame, and the cues fall silent
SOFT_START_S = 2.0  # a session starts 20 dB down and comes up over this time
_SOFT_START_DB = -20.0
_WAITING_MAX = 4  # signals that may wait for their turn; a fifth would be news no more


def check_signal(name: str) -> None:
    """Refuses a signal that does not exist.

    Raises
    ------
    ToneError
        If there is no signal of that name.
    """
    if name not in SIGNALS and not name.startswith(SAY):
        raise ToneError(f"There is no signal {name!r}; there are {', '.join(SIGNALS)}.")


class Synth:
    """Makes the sound of a session, block by block.

    The same calls before the same samples give the same sound, whatever the length of the blocks. Cues sound only
    while good frames keep coming: before the first `heartbeat`, and from `PATIENCE_S` after the last one, they are
    silent, and only a `set_cues` after the next heartbeat brings them back.

    Parameters
    ----------
    level : float
        0 to 1; 1 lets cues and signals together just reach 6 dB under full scale, which nothing ever passes.
    lead : {"left", "right"}, optional
        Stereo: cues stand on the sides of the feet, and the lead foot is on this side. Without it the sound is mono.
    slower : float
        How many times slower than the swing an echo is, 3 to 5.
    words : str
        Language of spoken words, see `groundtone.tone.speech`; empty: what is to be said is silent.

    Raises
    ------
    ToneError
        If the level is not from 0 to 1, the rate is under 8 kHz, or an echo cannot be so slow.

    Examples
    --------
    >>> synth = Synth()
    >>> synth.heartbeat()
    >>> synth.set_cues({"toes": 0.5})
    >>> block = synth.render(480)
    >>> bool(abs(block).max() > 0)
    True
    """

    def __init__(
        self,
        rate_hz: int = 48000,
        level: float = 1.0,
        lead: Side | None = None,
        slower: float = USUAL_SLOWER,
        words: str = "",
    ) -> None:
        if not 0.0 <= level <= 1.0:
            raise ToneError(f"A level is from 0 to 1, not {level}.")
        if rate_hz < 8000:
            raise ToneError(f"A sample rate of {rate_hz} Hz is too low for these sounds; use 48000.")
        if not SLOWER[0] <= slower <= SLOWER[1]:
            raise ToneError(
                f"A slow echo is {SLOWER[0]:g} to {SLOWER[1]:g} times slower than the swing, not {slower:g}."
            )
        self.rate_hz = rate_hz
        self.level = float(level)
        self.slower = float(slower)
        self.channels = 1 if lead is None else 2
        gains = cue_gains(rate_hz)
        self._names = tuple(CUES)
        self._cues = [SoundingCue(voice, gains[name], rate_hz) for name, voice in CUES.items()]
        self._places = [np.array(pan_gains(v.side, lead)) if lead is not None else None for v in CUES.values()]
        self._middle = np.array(pan_gains(0.0, lead)) if lead is not None else None
        self._echoes: list[SoundingEcho] = []
        self._waves = {name: signal_wave(signal, rate_hz) for name, signal in SIGNALS.items()}
        self._words = spoken(words, rate_hz, SIGNAL_SHARE * CEILING)
        self._waiting: deque[Samples] = deque()
        self._signal: Samples = np.zeros(0)  # what is left of the signal that sounds now
        self._patience = round(PATIENCE_S * rate_hz)
        # The cues begin to fade so early that they are silent when the patience ends.
        self._fade_from = self._patience - round(RELEASE_S * rate_hz)
        self._since_beat: int | None = None  # samples since the last good frame; None: nothing to watch
        self._lost = False
        self._rendered = 0

    @property
    def silent(self) -> bool:
        """Whether nothing sounds and no signal waits."""
        return (
            all(cue.silent for cue in self._cues) and not self._echoes and not len(self._signal) and not self._waiting
        )

    @property
    def lost(self) -> bool:
        """Whether the frames have stopped coming."""
        return self._lost

    def set_cues(self, sizes: Mapping[str, float]) -> None:
        """Sets all cues; to be called for each frame. A cue that sounds ends a slow echo.

        Parameters
        ----------
        sizes : mapping of str to float
            Size of each cue by its name, 0 (silence, and what is not named) to 1; larger is bounded to 1, and what has
            no voice is not heard. What is not a finite number is silence:
            a measure that does not exist must not sound. Of more than two the first two sound, and one that takes
            another's place begins with the first call after that has faded.
        """
        if self._since_beat is None or self._lost:
            return
        bounded = [_bounded(sizes.get(name, 0.0)) for name in self._names]
        chosen = [i for i, size in enumerate(bounded) if size > 0.0][:AT_MOST]
        if chosen:
            self._cut_echoes()
        for i, cue in enumerate(self._cues):
            if i not in chosen:
                cue.set_size(0.0)
        for i in chosen:
            if not self._cues[i].silent or sum(not cue.silent for cue in self._cues) < AT_MOST:
                self._cues[i].set_size(bounded[i])

    def echo(self, path: EchoPath) -> None:
        """Sounds a swing's path slowly; nothing while a cue sounds or the mat is lost."""
        self.play_echo(self.echo_samples(path))

    def echo_samples(self, path: EchoPath) -> Samples:
        """Makes an echo's samples for `play_echo`: that takes longer than a block may, so no audio thread does it.

        Returns
        -------
        ndarray, shape (n,) or (n, 2)
        """
        return echo_wave(path, self.rate_hz, self.slower, self.channels == 2)

    def play_echo(self, wave: Samples) -> None:
        """Sounds what `echo_samples` has made, from the next sample on. It ends with `rest`, a loss, and any cue.

        Without a mat, in review, it sounds as well: the watch begins with the first heartbeat only.

        Parameters
        ----------
        wave : ndarray, shape (n,) or (n, 2)
        """
        if self._lost or not all(cue.silent for cue in self._cues):
            return
        self._cut_echoes()
        self._echoes.append(SoundingEcho(wave, self.rate_hz))

    def signal(self, name: str) -> None:
        """Sounds a signal once, after those that sound or wait already.

        Parameters
        ----------
        name : str
            One of `groundtone.tone.voices.SIGNALS`, such as ``"tick"`` (a swing has ended) or ``"ready"``, or words:
            ``"say toes"``.

        Raises
        ------
        ToneError
            If there is no signal of that name.
        """
        check_signal(name)
        if len(self._waiting) < _WAITING_MAX:
            self._waiting.append(self._waves[name] if name in self._waves else phrase(name, self._words))

    def heartbeat(self) -> None:
        """Says that a good frame has come; to be called for each one, before its `set_cues`."""
        self._since_beat = 0
        if self._lost:
            self._lost = False
            self._urgent("found")

    def rest(self) -> None:
        """Ends the watch on purpose: cues fall silent, waiting signals are dropped, and nothing is said to be lost.

        A signal that has begun is played out. The next heartbeat starts the watch again.
        """
        self._hush()
        self._waiting.clear()
        self._since_beat = None
        self._lost = False

    def render(self, n: int) -> NDArray[np.float32]:
        """Gives the next samples.

        Returns
        -------
        ndarray of float32, shape (n,), in stereo (n, 2)
            Full scale is 1; no value is outside ±0.502.
        """
        out = np.empty(n if self.channels == 1 else (n, 2))
        done = 0
        while done < n:
            take = n - done
            if self._since_beat is not None and not self._lost:
                left = self._patience - self._since_beat
                if left <= 0:
                    self._hush()
                    self._lost = True
                    self._urgent("lost")
                    continue
                until_fade = self._fade_from - self._since_beat
                if until_fade <= 0:
                    self._hush()
                take = min(take, until_fade if until_fade > 0 else left)
                self._since_beat += take
            out[done : done + take] = self._mix(take)
            done += take
        # The shares of the parts keep the sum under the ceiling; this holds even if someone changes the shares.
        return np.clip(out, -CEILING, CEILING).astype(np.float32)

    def _hush(self) -> None:
        for cue in self._cues:
            cue.set_size(0.0)
        self._cut_echoes()

    def _cut_echoes(self) -> None:
        for echo in self._echoes:
            echo.cut()

    def _urgent(self, name: str) -> None:
        """Puts a signal before all that wait: news about the mat outdates them."""
        self._waiting.clear()
        self._waiting.append(self._waves[name])

    def _mix(self, n: int) -> Samples:
        out = np.zeros(n if self.channels == 1 else (n, 2))
        for cue, place in zip(self._cues, self._places, strict=True):
            if not cue.silent:
                out += _placed(cue.render(n), place)
        for echo in self._echoes:
            part = echo.render(n)
            out[: len(part)] += part
        self._echoes = [echo for echo in self._echoes if not echo.over]
        done = 0
        while done < n and (len(self._signal) or self._waiting):
            if not len(self._signal):
                self._signal = self._waiting.popleft()
            take = min(n - done, len(self._signal))
            out[done : done + take] += _placed(self._signal[:take], self._middle)
            self._signal = self._signal[take:]
            done += take
        out *= self.level
        start = round(SOFT_START_S * self.rate_hz)
        if self._rendered < start:
            part = np.minimum(self._rendered + np.arange(n), start) / start
            out = (out.T * 10.0 ** (_SOFT_START_DB * (1.0 - part) / 20.0)).T
        self._rendered += n
        return np.asarray(out, dtype=np.float64)


def _placed(x: Samples, place: Samples | None) -> Samples:
    """Mono stays as it is; in stereo it is laid on both channels."""
    return x if place is None else x[:, None] * place


def _bounded(size: float) -> float:
    return min(max(float(size), 0.0), 1.0) if math.isfinite(size) else 0.0
