"""The live player: a sound card if there is one, a silent clock if not, and the WAV file beside it."""

import math
import time
from collections import deque
from collections.abc import Callable, Generator, Mapping
from pathlib import Path
from typing import Any, Literal

import miniaudio
import numpy as np
from numpy.typing import NDArray

from groundtone.errors import ToneError
from groundtone.tone.devices import SoundCard, choose, list_devices, quiet_stderr
from groundtone.tone.dry import MOST_MS, DryWatch, sentence
from groundtone.tone.echo import EchoPath
from groundtone.tone.output import WavWriter
from groundtone.tone.synth import Synth, check_signal

USUAL_BUFFER_MS, USUAL_PERIODS = 10, 3  # in a process that does other things too; see `process.py` for less
_STALL_S = 1.0  # a running device that asks for no sound this long has gone
_AWAKE_S = 5.0  # before it has asked for more than it keeps: some sound servers and radio speakers wake up slowly
_SEEK_S = 5.0  # so often a player without its card looks whether one is there again
_CALLS = 20_000  # callbacks whose times are kept
# miniaudio asks PulseAudio and its like to keep one period, however many are wished for: that is the whole buffer.
_ONE_PERIOD = ("PulseAudio",)
_LATE_S = 0.001  # a clock's grain: a callback this much after the end of the sound kept is no gap yet
_FADE_WAIT_S = 1.5  # of sound: longer than the longest signal
_BACKLOG_S = 30.0  # sound that may wait for the file before blocks are dropped


class Player:
    """Plays a synthesiser on a sound card, in real time.

    The audio callback renders, appends to two double-ended queues and does nothing else: no file, no lock, no wait.
    Commands and finished blocks cross between the threads in these queues, whose append and popleft are atomic.

    Parameters
    ----------
    synth : Synth
        What sounds. It belongs to the player from here on: call the player's methods, not the synthesiser's.
    out : Path or None
        A WAV file to write beside.
    device : str or None
        A sound card's name or a part of it; None takes the system's choice.
    buffer_ms : int
        Length of one period, ms.
    periods : int
        How many periods the system is asked to keep: the delay is so many times as long. It may keep more.
    insist : bool
        True refuses a named card that is not there; False says so in `trouble` and takes the system's choice.
    seek : bool
        Look for a lost card again, every few seconds in `drain`: it takes a moment, so for a thread that can wait.
    backend : {"auto", "null"}
        ``"null"`` keeps time without a sound card. ``"auto"`` does so only where there is none, or where the
        system's choice cannot be opened.

    Attributes
    ----------
    late : int
        How often the card asked later than all that it keeps lasts: a gap may have been heard. Where a sound server
        keeps it, only its own account tells (`groundtone latency`, `make study NAME=underruns`).
    calls : deque of (float, int)
        The newest callbacks: monotonic time, s, and samples rendered before.
    longest_s : float
        The longest that a callback has taken to make its block, s; longer than the buffer is a gap of this program's.

    Raises
    ------
    ToneError
        If the named device is not there or cannot be opened, or the file cannot be written.
    """

    def __init__(
        self,
        synth: Synth,
        out: Path | None = None,
        device: str | None = None,
        buffer_ms: int = USUAL_BUFFER_MS,
        backend: Literal["auto", "null"] = "auto",
        *,
        periods: int = USUAL_PERIODS,
        insist: bool = True,
        seek: bool = False,
    ) -> None:
        if not 1 <= buffer_ms <= 200:
            raise ToneError(f"A buffer of {buffer_ms} ms will not do; choose 1 to 200 ms.")
        if not 1 <= periods <= 8:
            raise ToneError(f"A buffer of {periods} periods will not do; choose 1 to 8.")
        self._synth, self._buffer_ms, self._periods = synth, buffer_ms, periods
        self._insist, self._seek, self._backend = insist, seek, backend
        self._commands: deque[Callable[[], None]] = deque(maxlen=1024)  # the oldest go first: news counts
        self._blocks: deque[NDArray[np.float32]] = deque()
        self._blocks_max, self.dropped_blocks = round(_BACKLOG_S * 1000 / buffer_ms), 0
        self.trouble: ToneError | None = None
        self._broken: Exception | None = None
        self._rendered = 0
        self._running = False
        self._progress = (0, 0.0)
        self._began = 0
        self._closed = False
        self._heard = False
        self._sought_s = 0.0
        self._kept_s = periods * buffer_ms * 1e-3 + _LATE_S
        self._wanted, self._dry = device, DryWatch()
        self.told: str | None = None  # see `Output.told`
        self._called_s = math.inf
        self.late = 0
        self.longest_s = 0.0
        self.calls: deque[tuple[float, int]] = deque(maxlen=_CALLS)
        self._device, self.description = self._open(device, backend)
        try:
            self._wav = WavWriter(out, synth.rate_hz, synth.channels) if out is not None else None
        except ToneError:
            self._device.close()
            raise

    @property
    def _awake(self) -> bool:
        """Whether the device plays, and has not only been filled."""
        return (self._rendered - self._began) / self._synth.rate_hz > 2 * self._kept_s

    @property
    def heard(self) -> bool:
        """Whether a sound card plays it, rather than a clock alone."""
        return self._heard

    @property
    def rendered(self) -> int:
        """Samples rendered so far."""
        return self._rendered

    def start(self) -> None:
        """Begins to sound; does nothing while it sounds."""
        if self._closed:
            raise ToneError("This player is closed; make a new one.")
        if self._running:
            return
        try:
            self._device.start(self._primed())
        except miniaudio.MiniaudioError as why:
            self._fall_back(f"The sound card would not start ({why})")
        self._running = True
        self._called_s = math.inf
        self._began = self._rendered
        self._progress = (self._rendered, time.monotonic())

    def stop(self) -> None:
        """Lets the cues fall silent and a signal that has begun end, then stops the device."""
        if not self._running:
            return
        self._commands.append(self._synth.rest)
        self._wait_for_silence()
        self._running = False
        try:
            self._device.stop()
        except miniaudio.MiniaudioError as why:
            self.trouble = ToneError(f"The sound card would not stop ({why}); it has been closed.")
            self._device.close()
            self._device, self.description = self._open(None, "null")
        self.drain()

    def _wait_for_silence(self) -> None:
        """Waits by the sound's own clock: on a busy machine it may come slowly. A card that has stopped ends it."""
        before = at = self._rendered
        since = time.monotonic()
        while self._broken is None and at - before < _FADE_WAIT_S * self._synth.rate_hz:
            if at > before and self._synth.silent:
                return
            time.sleep(0.005)
            now = time.monotonic()
            if self._rendered != at:
                at, since = self._rendered, now
            elif now - since > _STALL_S:
                return

    def close(self) -> None:
        """Stop, write the rest of the sound and finish the file; a second call does nothing."""
        if self._closed:
            return
        self.stop()
        self._closed = True
        self._device.close()
        self.drain()
        if self._wav is not None:
            self._wav.close()

    def set_cues(self, sizes: Mapping[str, float]) -> None:
        """Hands on to `groundtone.tone.synth.Synth.set_cues` before the next block; dropped while stopped."""
        if self._running:
            self._commands.append(lambda: self._synth.set_cues(sizes))

    def echo(self, path: EchoPath) -> None:
        """Makes a slow echo here, in the caller's thread; it sounds from the next block on. Dropped while stopped."""
        if self._running:
            self.play_echo(self.echo_samples(path))

    def echo_samples(self, path: EchoPath) -> NDArray[np.float64]:
        """Hands on to `groundtone.tone.synth.Synth.echo_samples`; in the caller's thread, it takes a moment."""
        return self._synth.echo_samples(path)

    def play_echo(self, wave: NDArray[np.float64]) -> None:
        """Hands on to `groundtone.tone.synth.Synth.play_echo` before the next block; dropped while stopped."""
        if self._running:
            self._commands.append(lambda: self._synth.play_echo(wave))

    def signal(self, name: str) -> None:
        """Hands on to `groundtone.tone.synth.Synth.signal` before the next block.

        Raises
        ------
        ToneError
            There is no signal of that name.
        """
        check_signal(name)
        self._commands.append(lambda: self._synth.signal(name))

    def heartbeat(self) -> None:
        """Hands on to `groundtone.tone.synth.Synth.heartbeat` before the next block; dropped while stopped."""
        if self._running:
            self._commands.append(self._synth.heartbeat)

    def rest(self) -> None:
        """Hands on to `groundtone.tone.synth.Synth.rest` before the next block."""
        self._commands.append(self._synth.rest)

    def advance(self, seconds: float) -> None:
        """Does what a main loop owes the player; the time itself passes by itself.

        Parameters
        ----------
        seconds : float
            Not used here; `groundtone.tone.output.OfflinePlayer` makes so much sound.
        """
        self.drain()

    def drain(self) -> None:
        """Writes finished blocks to the file, and looks whether the device is still there: ten times a second or so.

        Where the device has failed, `trouble` says so from then on, and the sound goes on into the file without a
        sound card. Where the file has failed, `trouble` says so and the sound goes on without it.
        """
        while self._blocks:
            block = self._blocks.popleft()
            if self._wav is not None:
                self._write(self._wav, block)
        if not self._running:
            return
        if self._broken is not None and self.trouble is None:
            self.trouble = ToneError(f"The sound could not be made ({self._broken}); what follows is silent.")
        now = time.monotonic()
        if self._rendered != self._progress[0]:
            self._progress = (self._rendered, now)
        elif now - self._progress[1] > (_STALL_S if self._awake else max(_STALL_S, _AWAKE_S)):
            self._fall_back("The sound card has stopped")
            self._progress = (self._rendered, now)
        if self._seek and not self._heard and self._backend == "auto" and now - self._sought_s > _SEEK_S:
            self._return()
            self._sought_s = time.monotonic()
            self._progress = (self._rendered, self._sought_s)
        # Not for a clock that stands in for a lost card: nobody hears it.
        if self._dry.often(now, self.late) and (self._heard or self._backend == "null"):
            self._widen(self._periods * self._buffer_ms)

    def _widen(self, before: int) -> None:
        """Keeps twice as much sound ready, ms: the machine cannot hold what was asked for."""
        if 2 * before > MOST_MS:
            return
        self._buffer_ms, self._kept_s = 2 * self._buffer_ms, 2 * before * 1e-3 + _LATE_S
        self.told = sentence(before, 2 * before)
        self._device.close()
        self._called_s, self._began = math.inf, self._rendered
        try:
            self._device, self.description = self._open(self._wanted, self._backend)
            self._device.start(self._primed())
        except (ToneError, miniaudio.MiniaudioError) as why:
            self._fall_back(f"The sound card would not start again ({why})")

    def _write(self, wav: WavWriter, block: NDArray[np.float32]) -> None:
        try:
            wav.write(block)
        except ToneError as why:
            self.trouble, self._wav = why, None

    def _open(self, wanted: str | None, backend: str) -> tuple[Any, str]:
        if backend != "null":
            cards = list_devices()
            card = self._chosen(cards, wanted)
            if cards:
                try:
                    return self._card(card, cards[0].system)
                except miniaudio.MiniaudioError as why:
                    if wanted is not None and self._insist:
                        raise ToneError(
                            f"The sound card {wanted!r} cannot be opened ({why}). Close other programs that use it."
                        ) from why
                    self.trouble = ToneError(f"The sound card cannot be opened ({why}); tones are not heard.")
        self._heard = False
        unheard = "no sound card: tones are made and timed, but not heard"
        return self._device_on(None, [miniaudio.Backend.NULL]), unheard

    def _chosen(self, cards: list[SoundCard], wanted: str | None) -> SoundCard | None:
        try:
            return choose(cards, wanted)
        except ToneError as why:
            if self._insist:
                raise
            instead = "The system's choice is taken instead." if cards else "Tones are not heard."
            self.trouble = ToneError(f"{why} {instead}")
            return None

    def _card(self, card: SoundCard | None, system: str) -> tuple[Any, str]:
        whole = system in _ONE_PERIOD
        with quiet_stderr():
            device = self._device_on(None if card is None else card.handle, None, whole=whole)
        self._heard = True
        name = f"sound card {card.name!r}" if card is not None else "the system's sound card"
        kept = f"{self._periods * self._buffer_ms} ms" if whole else f"{self._periods} periods of {self._buffer_ms} ms"
        return device, f"{name} ({device.backend}, {kept})"

    def _device_on(self, handle: Any, backends: list[Any] | None, *, whole: bool = False) -> Any:
        return miniaudio.PlaybackDevice(
            output_format=miniaudio.SampleFormat.FLOAT32,
            nchannels=self._synth.channels,
            sample_rate=self._synth.rate_hz,
            buffersize_msec=self._periods * self._buffer_ms if whole else self._buffer_ms,
            callback_periods=2 if whole else self._periods,
            device_id=handle,
            backends=backends,
            app_name="groundtone",
        )

    def _fall_back(self, what: str) -> None:
        """Puts a silent clock in the place of a device that has failed."""
        then = "it is looked for every few seconds" if self._seek else "start anew"
        self.trouble = ToneError(f"{what}; tones are not heard. Plug it in again; {then}.")
        self._device.close()
        self._device, self.description = self._open(None, "null")
        self._called_s = math.inf
        self._began = self._rendered
        self._sought_s = time.monotonic()
        self._device.start(self._primed())

    def _return(self) -> None:
        """Goes back to the system's sound card, if one is there again."""
        cards = list_devices()
        if not cards:
            return
        clock, words = self._device, self.description
        try:
            device, description = self._card(None, cards[0].system)
        except miniaudio.MiniaudioError:
            return
        clock.close()  # before the card starts: two threads must not ask for sound at once
        try:
            device.start(self._primed())
        except miniaudio.MiniaudioError:
            device.close()
            self._heard = False
            self._device, self.description = self._open(None, "null")[0], words
            self._device.start(self._primed())
            return
        self._device, self.description = device, description
        self._called_s = math.inf
        self._began = self._rendered
        if self.trouble is not None:
            self.trouble = ToneError(f"The sound card was away; tones are heard again, from {description}.")

    def _primed(self) -> Generator[bytes, int, None]:
        feed = self._feed()
        next(feed)
        return feed

    def _feed(self) -> Generator[bytes, int, None]:
        """Gives the device its samples; runs in the audio thread."""
        n = yield b""
        while True:
            now = time.monotonic()
            self.calls.append((now, self._rendered))
            # So long without a call, and the card has played out all that it kept: a gap was heard.
            if now - self._called_s > self._kept_s:
                self.late += 1
            self._called_s = now
            try:
                while self._commands:
                    self._commands.popleft()()
                block = self._synth.render(n)
            except Exception as why:  # whatever it is, the device must get silence and not the last tone again
                self._broken = why
                block = np.zeros(n if self._synth.channels == 1 else (n, 2), dtype=np.float32)
            if self._wav is not None:
                if len(self._blocks) < self._blocks_max:
                    self._blocks.append(block)
                else:
                    self.dropped_blocks += 1
            self._rendered += n
            data = block.tobytes()
            self.longest_s = max(self.longest_s, time.monotonic() - now)
            n = yield data
