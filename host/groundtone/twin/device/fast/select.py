# select.poll on the fast clock: a wait that nobody ends moves the clock and takes no real time.
# ruff: noqa: F401
import time

import machine
import uselect
from uselect import POLLERR, POLLHUP, POLLIN, POLLOUT

_STILL_MS = 2  # real pause of a clock that stands still


class poll:
    def __init__(self):
        self._poll = uselect.poll()

    def register(self, obj, mask=POLLIN | POLLOUT):
        self._poll.register(obj, mask)

    def ipoll(self, timeout=-1, flags=0):
        ready = self._ready(0)
        while not ready:
            # While the mat scans, waits are skipped over. When the twin lets no more scans through, time stands still
            # until it does or input comes. When nothing scans at all there is nothing to hurry for: time is real.
            permit = machine.wait_for()
            if permit == 0:
                ready = self._ready(_STILL_MS)
                if timeout != 0 or machine.radio_waits():
                    break
                continue
            if permit == 2:
                self._ready(timeout)
            time.sleep_ms(timeout)
            break
        return self._poll.ipoll(0)

    def _ready(self, timeout):
        ready = False
        for _ in self._poll.ipoll(timeout):
            ready = True
        return ready

    def poll(self, timeout=-1):
        return [entry for entry in self.ipoll(timeout)]
