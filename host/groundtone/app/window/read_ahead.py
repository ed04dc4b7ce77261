"""Takes what a link brings in a thread beside the worker's, so that a long look at one frame loses none after it.

A mat sends only inside a window of a dozen frames and skips what goes beyond it. The worker's look at a frame takes a
fraction of a millisecond, and now and then (when the shoes have been learnt, on a busy machine) more than the window.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Iterator
from typing import Any

from groundtone.link.base import Link

# Ten seconds at 200 frames a second; beyond that the reading waits, and the mat skips and counts.
_MOST = 2000
_LOOK_S = 0.05


@contextlib.contextmanager
def read_ahead(link: Link, patience_s: float) -> Iterator[Iterator[Any]]:
    """What `link.frames` brings, read ahead; the thread has ended when the context has.

    Parameters
    ----------
    link : Link
        Nobody else may use it until then.
    patience_s : float
        None is brought whenever nothing has come for so long.
    """
    waiting: queue.Queue[tuple[str, Any]] = queue.Queue(_MOST)
    ended = threading.Event()

    def put(what: tuple[str, Any]) -> None:
        while not ended.is_set():
            try:
                waiting.put(what, timeout=_LOOK_S)
                return
            except queue.Full:
                continue

    def read() -> None:
        try:
            for item in link.frames(patience_s):
                if ended.is_set():
                    return
                put(("item", item))
            put(("over", None))
        except BaseException as error:
            put(("error", error))

    def items() -> Iterator[Any]:
        while True:
            kind, what = waiting.get()
            if kind == "error":
                raise what
            if kind == "over":
                return
            yield what

    thread = threading.Thread(target=read, name="link", daemon=True)
    thread.start()
    try:
        yield items()
    finally:
        ended.set()
        thread.join()
