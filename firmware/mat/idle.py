# When no host asks for anything: the mat then works by itself, with what was put onto it (mat/solo.py).
import gc
import os

from mat import board, kinds
from micropython import const

_AT_FIRST = const(20)  # tenths of a second from power-up
_AFTER = const(300)  # and from the last request
_FILE = "onmat.bin"


def _any(it: object):
    return it  # for the type checker: something, or nothing


class Idle:
    """Knows when the last request came. `solo` is the mat that works alone, or None."""

    def __init__(self) -> None:
        self.solo = _any(None)
        self._heard = 0
        self._wait = _AT_FIRST
        self._tried = False

    def turn(self, app) -> None:
        """Begins to work alone when nobody has asked for anything for a while."""
        if app.running or self._tried or app.clock.tenths - self._heard < self._wait or not app.rows.proven:
            return
        self._tried = True
        try:
            os.stat(_FILE)
        except OSError:
            return
        try:
            # The large pieces first, while memory is whole.
            gc.collect()
            from mat import track

            ring = track.Track()
            from mat import onmat

            on = onmat.read(board.uid(), app.layout)
            gc.collect()
            from mat import solo

            self.solo = solo.begin(app, on, ring)
        except (ValueError, MemoryError):
            app.signals.beep(1500)  # its sentence is told by groundtone to-mat --show
            return
        app.pace.start(0)
        app.strike.clear()
        app.listens = True
        app.brisk = self.solo.turn
        app.running = True

    def asked(self, app) -> None:
        """A host asks for something: the mat is its own."""
        self._heard = app.clock.tenths
        self._wait = _AFTER
        self._tried = False
        if self.solo is not None:
            self.solo.voice.off()
            self.solo = _any(None)
            app.stop()
            app.signals.rest(1)
            from mat import solo

            parts = solo.PARTS
            del solo
            kinds.forget(*parts)
