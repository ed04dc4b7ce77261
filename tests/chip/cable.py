"""The emulated board's USB at a pseudo-terminal, where programs find a serial port."""

import os
import pty
import select
import threading
import time
import tty

STEP_US = 2000
AHEAD_S = 0.05  # the board's time waits for the world's, where it is the quicker one


class Cable:
    """Lets a board's time go by in a thread of its own, and carries bytes; nobody else uses the board meanwhile."""

    def __init__(self, board):
        self.board = board
        self._to_board, self._there = pty.openpty()
        tty.setraw(self._there)
        self.port = os.ttyname(self._there)
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._carry, daemon=True)

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._over.set()
        self._thread.join()
        os.close(self._to_board)
        os.close(self._there)

    def _carry(self):
        out = bytearray(self.board.heard)
        self.board.heard.clear()
        begun_s, begun_us = time.monotonic(), self.board.us
        while not self._over.is_set():
            ahead = (self.board.us - begun_us) * 1e-6 - (time.monotonic() - begun_s)
            wait = AHEAD_S if out or ahead > AHEAD_S else 0.0
            come, free, _ = select.select([self._to_board], [self._to_board] if out else [], [], wait)
            if come:
                self.board.type(os.read(self._to_board, 4096))
            if free:
                del out[: os.write(self._to_board, out)]
            # While a program does not read, the board's time stands still: nothing is lost.
            if not out and (come or ahead <= AHEAD_S):
                for _, data in self.board.run(STEP_US):
                    out += data
