"""What every link can do, and what comes out of it."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass, field
from types import TracebackType
from typing import Protocol, Self

from groundtone.wire.messages import Event, Feet, Frame, Hello
from groundtone.wire.stream import StreamCounts

LOST_S = 3.0
"""A started mat that has sent nothing for so long is lost, though its line is there; the tone stopped long before."""
PATIENT_LOST_S = 60.0
"""The same where the mat's time is not ours: only so long a silence of its line tells anything."""
STOPPED = "the mat has stopped sending: check its cable and power, and start again"
PATIENCE_S = 0.05
"""A link says after so long that nothing has come, where nobody says otherwise, s."""
PATIENT_REPLY_S = 20.0
"""So long a reply is waited for at least where the mat's time is not ours, s."""
REPLY_S = 1.0
"""So long a request waits for its reply, where nobody says otherwise, s."""


@dataclass(frozen=True)
class Stamped:
    """A frame with its times.

    Attributes
    ----------
    device_us : int
        Device time of scan start, unwrapped, µs.
    host_s : float
        Monotonic host time at which its bytes were read, s.
    age_s : float
        How much later than the quickest frame it came, s.
    missed : int
        Scans between this frame and the one before that did not arrive.
    raw : bytes
        The message as it came, checksum included; empty where the link has none.
    feet : Feet or None
        What the mat itself made of the scan, where that was asked for: then `frame` has no cells, and the strike of the
        message that told it.
    """

    frame: Frame
    device_us: int
    host_s: float
    age_s: float
    missed: int
    raw: bytes = b""
    feet: Feet | None = None


@dataclass(frozen=True)
class Gap:
    """The mat was lost, or was found again by a link that comes back by itself (`groundtone.link.lasting_link`).

    Attributes
    ----------
    lost : bool
        True: nothing comes from here on. False: what comes next is live again.
    at_s : float
        Monotonic host time, s: of the last frame, or of the finding.
    why : str
        One sentence.
    """

    lost: bool
    at_s: float
    why: str


@dataclass
class LinkStatistics:
    """Counts since the link was opened.

    Attributes
    ----------
    frames, missed, repeated : int
        Frames that came, scans of which none came, and frames that came a second time (and were not delivered).
    surplus : int
        Frames beyond the rate that was asked for; not delivered.
    dropped : int
        Messages for which there was no room because the program did not keep up.
    gaps : int
        How often the mat was lost and found again.
    """

    frames: int = 0
    missed: int = 0
    repeated: int = 0
    surplus: int = 0
    dropped: int = 0
    gaps: int = 0
    stream: StreamCounts = field(default_factory=StreamCounts)


class Link(Protocol):
    """One mat. Opened by its class, used by one thread, closed at the end (a context manager)."""

    @property
    def hello(self) -> Hello:
        """What the mat says of itself."""

    @property
    def statistics(self) -> LinkStatistics:
        """Counts since it was opened."""

    def start(self, rate_hz: int) -> int:
        """Frames from now on; returns the period in µs."""

    def frames(self, patience_s: float = PATIENCE_S) -> Iterator[Stamped | Event | Gap | None]:
        """What arrives, for ever; None whenever `patience_s` went by without anything.

        A `Gap` comes from `groundtone.link.lasting_link.LastingLink` only; other links end with a LostError instead.
        """

    def stop(self) -> None:
        """No more frames."""

    def request(self, command: int, arguments: bytes = b"", patience_s: float = REPLY_S) -> bytes:
        """The payload of the reply to a request, which is waited for so long."""

    def close(self) -> None:
        """Stops the frames and lets the mat go."""

    def __enter__(self) -> Self: ...

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None: ...


class Closing(ABC):
    """What is closed when its block ends."""

    @abstractmethod
    def close(self) -> None:
        """See `Link.close`."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
