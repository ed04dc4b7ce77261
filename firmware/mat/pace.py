# The rate that a radio link carries: halved where many scans are skipped for want of credit, tried again later.
from micropython import const

FLAG_SLOWED = const(16)  # in a frame's flags, times the number of halvings
MOST_HZ = const(100)  # over the radio
_LEAST_HZ = const(25)
_LOOK_S = const(2)
_WAIT_S = const(10)  # without a skipped scan, then the next step up is tried
_LONGEST_WAIT_S = const(320)


class Pace:
    """Counts scans and skips. Whole numbers only; nothing here allocates."""

    def __init__(self) -> None:
        self.rate_hz = 0  # 0: the rate stays as it is
        self.halvings = 0
        self._scans = 0
        self._skips = 0
        self._calm_s = 0
        self._wait_s = _WAIT_S
        self._raised = False

    def start(self, rate_hz: int) -> None:
        """Scans begin at this rate; 0 watches nothing."""
        self.rate_hz = rate_hz
        self.halvings = 0
        self._wait_s = _WAIT_S
        self._raised = False
        self._begin()

    def _begin(self) -> None:
        self._scans = 0
        self._skips = 0
        self._calm_s = 0

    def note(self, skipped: bool) -> int:
        """One scan more. 1: half the rate from now on; -1: twice the rate; 0: as it is."""
        if not self.rate_hz:
            return 0
        self._scans += 1
        if skipped:
            self._skips += 1
        if self._scans < _LOOK_S * self.rate_hz:
            return 0
        many = self._skips * 8 > self._scans
        some = self._skips > 0
        self._scans = 0
        self._skips = 0
        if many:
            return self._slower()
        self._calm_s = 0 if some else self._calm_s + _LOOK_S
        if self.halvings and self._calm_s >= self._wait_s:
            self._raised = True
            self.halvings -= 1
            self.rate_hz *= 2
            self._begin()
            return -1
        if self._raised and self._calm_s >= self._wait_s:
            self._raised = False  # the step up has held
            self._wait_s = _WAIT_S
        return 0

    def sentence(self, change: int) -> str:
        """What is told of a change; it begins with the rate in Hz."""
        return "%d Hz: the radio carries %s" % (self.rate_hz, "no more" if change > 0 else "more again")

    def _slower(self) -> int:
        if self.rate_hz // 2 < _LEAST_HZ:
            self._calm_s = 0
            return 0
        if self._raised:  # a step up that did not hold: the next one is tried later
            self._raised = False
            self._wait_s = min(2 * self._wait_s, _LONGEST_WAIT_S)
        self.halvings += 1
        self.rate_hz //= 2
        self._begin()
        return 1
