# When no host asks for anything: the mat then works by itself, with what was put onto it (mat/alone/solo.py).
import gc
import os

import mat
from mat import board, kinds
from micropython import const

_AT_FIRST = const(20)  # tenths of a second from power-up
_AFTER = const(300)  # and from the last request
_STEP_OFF = const(100)  # whoever stands there already is asked so often to step off
_FILE = "onmat.bin"


class Idle:
    """Knows when the last request came (asked: tenths; 0: none yet). `solo` is the mat that works alone, or None."""

    def __init__(self, asked: int = 0) -> None:
        self.solo = kinds.untyped(None)
        self._heard = asked
        self._wait = _AFTER if asked else _AT_FIRST
        self._tried = False
        self._asked = 0 - _STEP_OFF
        self._loud = 0  # as the golfer chose it before a host came, or it began anew; 0: not yet

    def turn(self, app) -> None:
        """Begins to work alone when nobody has asked for anything for a while."""
        now = app.clock.tenths
        if app.running or self._tried or now - self._heard < self._wait:
            return
        if not app.rows.proven:
            # Somebody stands there already, or something lies there: that has to go first.
            if now - self._asked >= _STEP_OFF and _given():
                self._asked = now
                app.signals.beep(600)
            return
        self._tried = True
        if not _given():
            return
        kinds.measure(app)  # at power-up somebody may have stood there: then the rows are proven only now
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
            self.solo.voice.loud = self._loud or self.solo.voice.loud
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
            self._loud = self.solo.voice.loud
            self.solo.voice.off()
            self.solo.book.write()
            self.solo = kinds.untyped(None)
            app.scan.line, app.seldom = app.link.usb.line, 3
            app.stop()
            app.signals.rest(1)
            from mat.alone import solo

            parts = solo.PARTS
            del solo
            kinds.forget(mat.alone, *parts)


def _given() -> bool:
    # Has anything been put onto the mat?
    try:
        os.stat(_FILE)
    except OSError:
        return False
    return True
