# When no host asks for anything: the mat then works by itself, with what was put onto it (mat/alone/solo.py).
import gc
import os

import mat
from mat import board, kinds
from micropython import const

_AT_FIRST = const(20)  # tenths of a second from power-up
_AFTER = const(300)  # and from the last request
_FILE = "onmat.bin"


class Idle:
    """Knows when the last request came (asked: tenths; 0: none yet). `solo` is the mat that works alone, or None."""

    def __init__(self, asked: int = 0) -> None:
        self.solo = kinds.untyped(None)
        self._heard = asked
        self._wait = _AFTER if asked else _AT_FIRST
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
            from mat.alone import track

            ring = track.Track()
            from mat.alone import onmat

            on = onmat.read(board.uid(), app.layout)
            gc.collect()
            from mat.alone import solo

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
            self.solo.book.write()
            self.solo = kinds.untyped(None)
            app.stop()
            app.signals.rest(1)
            from mat.alone import solo

            parts = solo.PARTS
            del solo
            kinds.forget(mat.alone, *parts)
