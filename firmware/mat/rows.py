# The row lines. Nothing is driven high before it is proven that no two of them are joined.
import time

from machine import Pin
from mat import board as boards
from micropython import const

FAULT_JOINED = const(1)  # the self-test's finding codes
FAULT_LOW = const(2)
FAULT_HIGH = const(10)

# A weak pull-up of about 50 kOhm against a few nF of film and cable needs some 0.2 ms; twice that.
_WEAK_SETTLE_US = const(400)
_EMPTIED_US = const(2)  # some nF through the row's resistor and the pin


class Rows:
    """The row pins and REF. `proven` is True while the rows are outputs; otherwise all are inputs."""

    def __init__(self, pins: tuple, ref: int) -> None:
        self.pins = tuple([Pin(n, Pin.IN) for n in pins])
        self.ref = Pin(ref, Pin.IN)
        boards.strong(pins + (ref,))  # noqa: RUF005
        self.proven = False
        self.findings: list = []  # of the last proof: (code, a, b)

    def release(self) -> None:
        """Make every row, and REF, an input without a pull."""
        self.proven = False
        self.ref.init(Pin.IN)
        for pin in self.pins:
            pin.init(Pin.IN)

    def prove(self) -> bool:
        """Prove that no two rows are joined. True: every row is an output, low. False: every row is an input."""
        self.release()
        for pin in self.pins:
            pin.init(Pin.IN, Pin.PULL_UP)
        time.sleep_us(_WEAK_SETTLE_US)
        self.findings = [(FAULT_LOW, k, 0) for k, pin in enumerate(self.pins) if not pin.value()]
        if not self.findings:
            self._look_for_high()
        if not self.findings:
            self._look_for_joined()
        if self.findings:
            self.release()
            return False
        for pin in self.pins:
            pin.init(Pin.OUT, value=0)
        self.proven = True
        return True

    def _look_for_high(self) -> None:
        # A row that comes up again against a weak pull-down is tied to the supply; holding it low would be a short.
        # It is low for microseconds before: an early RP2350's input holds itself up against its own pull-down once it
        # has been high, and stays down from 0 V on (data sheet, erratum RP2350-E9: leakage into bank 0).
        for pin in self.pins:
            pin.init(Pin.OUT, value=0)
            time.sleep_us(_EMPTIED_US)
            pin.init(Pin.IN, Pin.PULL_DOWN)
        time.sleep_us(_WEAK_SETTLE_US)
        self.findings = [(FAULT_HIGH, k, 0) for k, pin in enumerate(self.pins) if pin.value()]
        for pin in self.pins:
            pin.init(Pin.IN, Pin.PULL_UP)
        time.sleep_us(_WEAK_SETTLE_US)

    def _look_for_joined(self) -> None:
        # One row at a time is held low; whoever follows it down is joined to it. No pin is high in this test. On an
        # early RP2350 the others leak upwards: joins below about 4.7 kOhm alone are seen, and larger ones are harmless.
        for a, held in enumerate(self.pins):
            held.init(Pin.OUT, value=0)
            time.sleep_us(_WEAK_SETTLE_US)
            for b, pin in enumerate(self.pins):
                if b > a and not pin.value():
                    self.findings.append((FAULT_JOINED, a, b))
            held.init(Pin.IN, Pin.PULL_UP)
            time.sleep_us(_WEAK_SETTLE_US)

    def sentence(self) -> str:
        """What the last proof found, and what to do."""
        joined = ["%d and %d" % (a, b) for code, a, b in self.findings if code == FAULT_JOINED]
        if joined:
            return "Rows %s are joined: look for a short, torn film or water." % ", ".join(joined[:4])
        high = [str(a) for code, a, _ in self.findings if code == FAULT_HIGH]
        if high:
            return "Rows %s are held high: look for a short to the 3.3 V supply." % ", ".join(high)
        low = [str(a) for code, a, _ in self.findings if code == FAULT_LOW]
        if low:
            return "Rows %s are held low: step off the mat; if it stays, dry it and look for a short." % ", ".join(low)
        return "The rows are apart."
