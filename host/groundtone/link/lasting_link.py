"""A link that comes back: it looks for the same mat when it was lost, and its time and frames go on as if one link.

The looking blocks for seconds at worst, so it is done in a thread of the owner's; whoever follows the frames gets
`None` meanwhile and can draw, listen to keys and let the sound find out by itself that nothing comes.
"""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, wait
from dataclasses import fields, replace

from groundtone.errors import GroundtoneError, LinkError, LostError
from groundtone.link.base import LOST_S, REPLY_S, STOPPED, Closing, Gap, Link, LinkStatistics, Stamped
from groundtone.link.clock import carried_us
from groundtone.link.talk import MessageLink
from groundtone.wire.messages import Event, Hello
from groundtone.wire.stream import StreamCounts

# Frames so far apart have a gap between them, though the link never broke.
_GAP_S = 1.0
# The computer slept when the time awake falls behind time by so much.
_SLEPT_S = 1.0
# Waits before each attempt to find the mat; the last one for all that follow. A person waits with the cable in hand.
_WAITS_S = (0.0, 0.1, 0.2, 0.4, 0.8, 1.5)


def time_with_sleep_s() -> float:
    """A steady clock that goes on while the computer sleeps, where the system has one; `time.monotonic` stands still.

    Linux calls it boot time; the monotonic clocks of macOS (from memory) and Windows count sleep by themselves.
    """
    if sys.platform == "linux":
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    if sys.platform == "darwin":
        return time.clock_gettime(time.CLOCK_MONOTONIC)
    return time.monotonic()


class LastingLink(Closing):
    """Follows one mat over as many connections as it takes.

    Parameters
    ----------
    first : Link
        Open; `LastingLink` owns it from now on.
    find : callable
        Opens the same mat anew, given its unique id; raises GroundtoneError where it is not there. Called in `pool`.
    pool : Executor
        Threads of the owner's, one is enough; shut down by the owner after `close`.
    stall_s : float
        A mat that was started and sends nothing for so long is lost.
    with_sleep_s : callable
        See `time_with_sleep_s`.

    Attributes
    ----------
    why_not : str
        Why the mat is not back yet, one sentence; empty while it is there.
    """

    def __init__(
        self,
        first: Link,
        find: Callable[[str], Link],
        pool: Executor,
        *,
        stall_s: float = LOST_S,
        with_sleep_s: Callable[[], float] = time_with_sleep_s,
    ) -> None:
        self.hello: Hello = first.hello
        self.why_not = ""
        self._link: Link | None = first
        self._find, self._pool = find, pool
        self._stall_s = stall_s
        self._with_sleep_s = with_sleep_s
        self._past = LinkStatistics()
        self._rate_hz: int | None = None
        self._closed = False
        self._asleep_s = self._asleep()
        self._newest_s = time.monotonic()
        self._last: Stamped | None = None

    @property
    def link(self) -> Link | None:
        """The connection in force; None while the mat is lost."""
        return self._link

    @property
    def by_radio(self) -> bool:
        """The connection in force, or the last one looked for, is a radio's."""
        return getattr(self._link, "by_radio", False)

    @property
    def statistics(self) -> LinkStatistics:
        """Counts over all connections."""
        return _sum(self._past, self._link.statistics) if self._link is not None else _sum(self._past, LinkStatistics())

    def start(self, rate_hz: int) -> int:
        """See `Link.start`."""
        period_us = self._there().start(rate_hz)
        self._rate_hz = rate_hz
        self._newest_s = time.monotonic()
        self._asleep_s = self._asleep()
        return period_us

    @property
    def sends_feet(self) -> bool:
        """The connection in force brings feet in place of frames; a mat that was found again begins with frames."""
        return getattr(self._link, "sends_feet", False)

    @property
    def short_packets(self) -> bool:
        """Whole frames do not all get through on the connection in force."""
        return getattr(self._link, "short_packets", False)

    def feet(self, on: bool) -> None:
        """See `groundtone.link.talk.MessageLink.feet`; what is lost is looked for by `frames`."""
        link = self._there()
        if isinstance(link, MessageLink):
            link.feet(on)

    def stop(self) -> None:
        """See `Link.stop`; a mat that is lost has stopped."""
        self._rate_hz = None
        if self._link is not None:
            self._link.stop()

    def request(self, command: int, arguments: bytes = b"", patience_s: float = REPLY_S) -> bytes:
        """See `Link.request`.

        Raises
        ------
        LostError
            The mat is lost; `frames` tells when it is back.
        """
        return self._there().request(command, arguments, patience_s)

    def close(self) -> None:
        """See `Link.close`; a search that is under way ends by itself and leaves nothing open."""
        self._closed = True
        if self._link is not None:
            self._leave()

    def frames(self, patience_s: float = 0.05) -> Iterator[Stamped | Event | Gap | None]:
        """See `Link.frames`; a `Gap` where the mat was lost and one where it was found again.

        Device time goes on over a gap, also where the mat was switched off. After each gap `missed` begins anew.
        """
        while not self._closed:
            link = self._link
            if link is None:
                yield from self._until_found(patience_s)
                continue
            why = ""
            try:
                for item in link.frames(patience_s):
                    if isinstance(item, Stamped):
                        yield from self._with_gap(item)
                    elif item is None and self._stalled():
                        why = STOPPED
                        break
                    else:
                        yield item
            except LinkError as error:
                why = str(error)
            if self._closed:
                return
            self._leave()
            self.why_not = why
            yield Gap(True, self._newest_s, why)

    def _there(self) -> Link:
        if self._link is None:
            raise LostError(self.why_not or "the mat is lost and is being looked for")
        return self._link

    def _stalled(self) -> bool:
        return self._rate_hz is not None and time.monotonic() - self._newest_s > self._stall_s

    def _asleep(self) -> float:
        return self._with_sleep_s() - time.monotonic()

    def _leave(self) -> None:
        link, self._link = self._link, None
        assert link is not None
        self._past = _sum(self._past, link.statistics)
        if not self._closed:
            # A mat that does not answer is waited for; the search comes after it in the same thread.
            with contextlib.suppress(RuntimeError):  # the owner has shut the pool down
                self._pool.submit(_close, link)
                return
        _close(link)

    # Frames and their times

    def _with_gap(self, item: Stamped) -> Iterator[Stamped | Gap]:
        """A frame, and before it a gap where there was one though the link held."""
        before = self._last
        timed = self._timed(item)
        asleep_s, self._asleep_s = self._asleep_s, self._asleep()
        slept_s = self._asleep_s - asleep_s
        why = ""
        if slept_s > _SLEPT_S:
            why = f"the computer slept for {slept_s:.0f} s"
        elif before is not None and timed.device_us - before.device_us > _GAP_S * 1e6:
            why = f"no frames came for {(timed.device_us - before.device_us) * 1e-6:.1f} s"
        if why and before is not None and before.host_s == self._newest_s:
            self._past.gaps += 1
            yield Gap(True, before.host_s, why)
            yield Gap(False, item.host_s, "the frames go on")
        self._newest_s = item.host_s
        yield timed

    def _timed(self, item: Stamped) -> Stamped:
        before, device_us = self._last, item.device_us
        if before is not None:
            step_us = carried_us(before.frame.t_us, item.frame.t_us, item.host_s - before.host_s)
            device_us = before.device_us + step_us
        # Most frames go through as they came.
        timed = item if device_us == item.device_us else replace(item, device_us=device_us)
        self._last = timed
        return timed

    # Finding the mat again

    def _until_found(self, patience_s: float) -> Iterator[Stamped | Gap | None]:
        attempt = 0
        while not self._closed:
            due = time.monotonic() + _WAITS_S[min(attempt, len(_WAITS_S) - 1)]
            while (left := due - time.monotonic()) > 0:
                time.sleep(min(left, patience_s))
                yield None
            search = self._pool.submit(self._search)
            try:
                while not wait((search,), patience_s).done:
                    yield None
            except GeneratorExit:
                _abandon(search)
                raise
            if self._closed:
                _abandon(search)
                return
            try:
                self._link = search.result()
            except (GroundtoneError, OSError) as error:
                self.why_not = str(error)
                attempt += 1
                continue
            self.why_not = ""
            self._past.gaps += 1
            self._newest_s = time.monotonic()
            self._asleep_s = self._asleep()
            yield Gap(False, self._newest_s, "the mat was found again")
            return

    def _search(self) -> Link:
        """The same mat, open and started as it was; in a thread of the pool's."""
        link = self._find(self.hello.uid)
        try:
            fresh = link.hello
            if fresh.uid != self.hello.uid:
                raise LinkError(f"this is mat {fresh.uid} and no longer {self.hello.uid}: plug the first one in again")
            if (fresh.layout, fresh.cells, fresh.bits) != (self.hello.layout, self.hello.cells, self.hello.bits):
                raise LinkError("the mat has come back with other settings: end this practice and begin a new one")
            if self._rate_hz is not None:
                link.start(self._rate_hz)
        except BaseException:
            _close(link)
            raise
        return link


def _close(link: Link) -> None:
    with contextlib.suppress(GroundtoneError, OSError):
        link.close()


def _abandon(search: Future[Link]) -> None:
    """Lets a search end that nobody waits for, and closes what it has found."""
    if not search.cancel():
        search.add_done_callback(_close_found)


def _close_found(search: Future[Link]) -> None:
    if search.exception() is None:
        _close(search.result())


def _sum(a: LinkStatistics, b: LinkStatistics) -> LinkStatistics:
    counts = {f.name: getattr(a, f.name) + getattr(b, f.name) for f in fields(LinkStatistics) if f.name != "stream"}
    stream = StreamCounts(
        **{f.name: getattr(a.stream, f.name) + getattr(b.stream, f.name) for f in fields(StreamCounts)}
    )
    return LinkStatistics(**counts, stream=stream)
