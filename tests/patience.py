"""Waiting for what must come: as long as a very busy machine may need. Only a failure ever waits so long."""

import time
from collections.abc import Callable
from typing import Any

PATIENCE_S = 300.0


def until(
    condition: Callable[[], Any], words: str | Callable[[], str] = "it did not become so", step_s: float = 0.01
) -> Any:
    """Wait until something is so; what it was, where that is of use."""
    end = time.monotonic() + PATIENCE_S
    while not (it := condition()):
        assert time.monotonic() < end, words() if callable(words) else words
        time.sleep(step_s)
    return it
