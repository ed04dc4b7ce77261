# Which frames are under way: the mat sends only while fewer than `window` of them are.
from array import array


class Credit:
    """A ring of the sequence numbers sent and not yet taken out of its queue by the host."""

    def __init__(self, window: int) -> None:
        self.window = window
        self._ring = array("H", bytes(2 * window))
        self._first = 0
        self.under_way = 0

    def room(self) -> bool:
        """May one more frame be sent?"""
        return self.under_way < self.window

    def sent(self, seq: int) -> None:
        """A frame has been handed to the link. Call only while there is room."""
        self._ring[(self._first + self.under_way) % self.window] = seq
        self.under_way += 1

    def ack(self, seq: int, everything: int) -> None:
        """The host has taken frame seq, and all before it; or nothing is under way any more."""
        if everything:
            self.under_way = 0
            return
        # Only a number that is really under way counts: an ack from before the last start must not give credit.
        i = 0
        while i < self.under_way:
            if self._ring[(self._first + i) % self.window] == seq:
                self._first = (self._first + i + 1) % self.window
                self.under_way -= i + 1
                return
            i += 1
