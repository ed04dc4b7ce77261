"""The one exception tree of the package: every failure a caller can act on derives from GroundtoneError."""

from __future__ import annotations

import errno
import re
from dataclasses import dataclass
from types import TracebackType

DISK_FULL = (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC))
"""What the system says where nothing more can be written; a quota is the same to a person."""


class GroundtoneError(Exception):
    """A failure with one sentence for a person: what is wrong and what to do."""


# A word with a dot, a stroke, a digit or a sign in it is a name, as of a file or a band.
_NAME = re.compile(r"\S*[./\\_\d=]\S+")


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
            full = error.errno in DISK_FULL
            why, remedy = ("the disk is full", "make room on it") if full else (error.strerror, self.remedy)
            raise self.kind(f"{self.what} ({why}): {remedy}") from error


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


def sentence_of(told: Exception | str) -> str:
    """What is told as a sentence: with a capital and one full stop; a file's name at its beginning stays what it is.

    Examples
    --------
    >>> sentence_of("the disk is full"), sentence_of("empty.mcap is empty.")
    ('The disk is full.', 'empty.mcap is empty.')
    """
    text = str(told).rstrip()
    text = text if _NAME.match(text) else f"{text[:1].upper()}{text[1:]}"
    return text if text.endswith(("?", "!")) else f"{text.rstrip('.')}."


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


class AwayError(LibraryError):
    """The library's database cannot be reached just now."""


class MissingError(LibraryError):
    """What was asked for is not in the library (any more)."""


class RulesError(GroundtoneError):
    """Rules or bands that cannot be."""


class ToneError(GroundtoneError):
    """The sound cannot be made or played; the message is a sentence that says what to do."""
