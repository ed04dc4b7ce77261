"""Errors: what can go wrong with the sound, each with a sentence for the reader."""

from groundtone.errors import GroundtoneError


class ToneError(GroundtoneError):
    """The sound cannot be made or played; the message is a sentence that says what to do."""
