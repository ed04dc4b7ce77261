"""Errors of recordings and of the library, each with a sentence for the reader."""

from groundtone.errors import GroundtoneError


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
