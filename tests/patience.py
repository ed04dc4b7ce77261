"""Waiting for what must come: as long as a very busy machine may need. Only a failure ever waits so long."""

import time

PATIENCE_S = 300.0


def until(condition, words="it did not become so", step_s=0.01):
    """Wait until something is so; what it was, where that is of use."""
    end = time.monotonic() + PATIENCE_S
    while not (it := condition()):
        assert time.monotonic() < end, words() if callable(words) else words
        time.sleep(step_s)
    return it
