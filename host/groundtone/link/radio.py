"""What a Bluetooth link is handed by its owner: an event loop that runs, and, in tests, other ends for bleak."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Coroutine, Iterator
from concurrent.futures import CancelledError, TimeoutError
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from groundtone.errors import LinkError

if TYPE_CHECKING:
    from bleak.backends.client import BaseBleakClient
    from bleak.backends.scanner import BaseBleakScanner

# The service and its two characteristics, as firmware/WIRE.md names them.
SERVICE = "318d07d0-1739-4521-b87f-cc3ad210676b"
FROM_MAT = "318d07d1-1739-4521-b87f-cc3ad210676b"
TO_MAT = "318d07d2-1739-4521-b87f-cc3ad210676b"

_T = TypeVar("_T")


class NoRadioError(LinkError):
    """There is no Bluetooth on this computer, or it is switched off."""


@dataclass(frozen=True)
class Radio:
    """The event loop that owns every Bluetooth link; others hand it work and get results, never its objects.

    Attributes
    ----------
    loop : asyncio.AbstractEventLoop
        Runs in a thread of the owner's; see `radio_running`.
    scanner, client : type, optional
        Backends for bleak in the place of the system's own.
    """

    loop: asyncio.AbstractEventLoop
    scanner: type[BaseBleakScanner] | None = None
    client: type[BaseBleakClient] | None = None

    def do(self, work: Coroutine[Any, Any, _T], seconds: float, late: str) -> _T:
        """Lets the loop do something and waits for it; called from any thread but the loop's.

        Raises
        ------
        LinkError
            With `late` as its sentence, when it takes longer than `seconds`; it is given up then.
        """
        future = asyncio.run_coroutine_threadsafe(work, self.loop)
        try:
            return future.result(seconds)
        except TimeoutError as error:
            future.cancel()
            raise LinkError(late) from error
        except CancelledError as error:
            raise LinkError(late) from error
        except BaseException:
            future.cancel()
            raise


@contextlib.contextmanager
def radio_running(
    scanner: type[BaseBleakScanner] | None = None, client: type[BaseBleakClient] | None = None
) -> Iterator[Radio]:
    """An event loop in a thread, for as long as the block lasts."""
    loop = asyncio.new_event_loop()
    thread = threading.Thread(target=_run, args=(loop,), name="radio", daemon=True)
    thread.start()
    try:
        yield Radio(loop, scanner, client)
    finally:
        loop.call_soon_threadsafe(loop.stop)
        thread.join(5.0)


def _run(loop: asyncio.AbstractEventLoop) -> None:
    asyncio.set_event_loop(loop)
    try:
        loop.run_forever()
        left = asyncio.all_tasks(loop)
        for task in left:
            task.cancel()
        loop.run_until_complete(asyncio.gather(*left, return_exceptions=True))
    finally:
        loop.close()
