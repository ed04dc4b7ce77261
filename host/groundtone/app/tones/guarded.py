"""An output whose failure ends the sound and not the session: what is measured goes on being measured."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from groundtone.tone.echo import EchoPath
from groundtone.tone.errors import ToneError
from groundtone.tone.output import Output


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
