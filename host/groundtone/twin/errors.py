"""What can go wrong with the twin as a process."""

from groundtone.errors import GroundtoneError


class TwinError(GroundtoneError):
    """The simulated mat could not be started or has ended; the sentence says why and what to do."""
