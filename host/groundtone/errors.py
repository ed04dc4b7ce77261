"""The one exception tree of the package: every failure a caller can act on derives from GroundtoneError."""

from __future__ import annotations

from dataclasses import dataclass
from types import TracebackType


class GroundtoneError(Exception):
    """A failure with one sentence for a person: what is wrong and what to do."""


@dataclass(frozen=True)
class Telling:
    """What the system refuses within (OSError) is told as one sentence: what cannot be, why, and what to do.

    Examples
    --------
    >>> with Telling(GroundtoneError, "the list cannot be read", "check its name"):
    ...     open("no such list")
    Traceback (most recent call last):
    groundtone.errors.GroundtoneError: the list cannot be read (No such file or directory): check its name
    """

    kind: type[GroundtoneError]
    what: str
    remedy: str

    def __enter__(self) -> None:
        return None

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if isinstance(error, OSError):
            raise self.kind(f"{self.what} ({error.strerror}): {self.remedy}") from error


class LinkError(GroundtoneError):
    """The mat cannot be reached, or was lost."""


class LostError(LinkError):
    """A mat that had answered is gone."""


class WireError(GroundtoneError):
    """Bytes that are not a message, or a message that does not fit firmware/WIRE.md."""


class VersionError(WireError):
    """A message of another wire version."""


class RequestError(GroundtoneError):
    """The mat answered a request with an error.

    Attributes
    ----------
    status : int
        The status byte of the reply, see firmware/WIRE.md.
    """

    def __init__(self, status: int, sentence: str) -> None:
        super().__init__(sentence)
        self.status = status


class LayoutError(GroundtoneError):
    """A layout file that is missing, damaged or of another mat."""


class ProfileError(GroundtoneError):
    """A calibration profile that is missing, damaged or of another mat."""


class CalibrationError(GroundtoneError):
    """Readings from which no calibration can be made."""


class BuildError(GroundtoneError):
    """A description of a mat, or a measurement on its parts, that nothing can be built from."""


def sentence_of(error: Exception) -> str:
    """A failure as a sentence: with a capital and a full stop."""
    text = str(error)
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}"


class RecordError(GroundtoneError):
    """A recording cannot be written or read."""


class OtherFileError(RecordError):
    """A file of another program, or of a newer version of this one."""


class LibraryError(GroundtoneError):
    """The library cannot be opened, read or written."""


class DamagedError(LibraryError):
    """The library's file is damaged; it can be made anew from the recordings."""


class BusyError(LibraryError):
    """Another program holds what is needed; later it may go."""


class MissingError(LibraryError):
    """What was asked for is not in the library (any more)."""


class RulesError(GroundtoneError):
    """Rules or bands that cannot be."""


class ToneError(GroundtoneError):
    """The sound cannot be made or played; the message is a sentence that says what to do."""
