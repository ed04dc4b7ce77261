# How long the columns take once a row has moved: the film is a capacitor, and how large shows on the mat itself.
from micropython import const

# All rows rise together: what is left on a column then is what is left of a step over the whole range. One row alone
# would couple a tenth or a sixteenth of that.
_NEAR_US = const(5)
_FAR_US = const(20)
_REPEATS = const(4)
_SEEN = const(3)  # steps of 12 bits: what the noise of a mean does not reach
_LOADED = const(400)
LONGEST_US = const(200)


def measure(app, columns) -> int:
    """See how long these columns take, where the rows are apart, and wait so long from now on.

    A load makes them quicker than they are without: then nothing is known yet, and a slow film's time is waited.
    """
    needed = app.row_us = 0
    if app.scan.sharp:
        needed = max([_enough(app.scan, c, app.bits) for c in columns])
        app.row_us = min(needed, LONGEST_US)
        loaded = max([_steps(app.scan, c, _FAR_US, app.bits) for c in columns]) > _LOADED
        if loaded and needed < _FAR_US:
            needed = app.row_us = 0
    # Kept apart from what was measured: a scan that is made anew has to wait as long.
    app.row_wait = app.row_us or (_FAR_US if app.scan.sharp else 0)
    app.scan.settle(app.settings["settle_us"], app.settings["row_settle_us"] or app.row_wait)
    return int(needed)


def _enough(scan, column: int, bits: int) -> int:
    """Microseconds until half a step of 12 bits is left; more than LONGEST_US where nothing is enough."""
    if abs(_steps(scan, column, _NEAR_US, bits) - _steps(scan, column, _FAR_US, bits)) <= _SEEN:
        return _NEAR_US
    us = _NEAR_US
    while abs(_steps(scan, column, us, bits) - _steps(scan, column, 4 * us, bits)) > _SEEN:
        us += us // 4 + 1
        if us > LONGEST_US:
            return us
    # From a step over 4096 to three are seven time constants, to a half nine.
    return us * 5 // 4


def _steps(scan, column: int, us: int, bits: int) -> float:
    scan.settle(us, us)
    total = sum([scan.moved(2 + column) for _ in range(_REPEATS)])
    return float(total / (_REPEATS << bits - 12))
