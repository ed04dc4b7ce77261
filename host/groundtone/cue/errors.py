"""What can be wrong with rules and with a golfer's bands."""

from groundtone.errors import GroundtoneError


class RulesError(GroundtoneError):
    """Rules or bands that cannot be."""
