# Which frames are under way: the mat sends only while fewer than `window` of them are.
import micropython
from mat import tally


class Credit:
    """The sequence numbers sent and not yet taken out of its queue by the host; `numbers` is the run's own array."""

    def __init__(self, window: int) -> None:
        self.window = window
        self.numbers = tally.numbers()
        self.numbers[tally.WINDOW] = window

    def room(self) -> bool:
        """May one more frame be sent?"""
        return self.numbers[tally.UNDER_WAY] < self.window

    @micropython.native
    def ack(self, seq: int, everything: int) -> None:
        """The host has taken frame seq, and all before it; or nothing is under way any more."""
        tally.acknowledged(self.numbers, seq, everything)
