# A clock that stands until somebody waits: sleeps and waits take no real time, each look at it takes 10 us.
# ruff: noqa: F401
import os

from utime import gmtime, localtime, mktime, time, time_ns

_LOOK_US = 10
_MASK = (1 << int(os.getenv("GROUNDTONE_TICKS_BITS") or "30")) - 1
_HALF = (_MASK + 1) // 2


class _Clock:
    us = int(os.getenv("GROUNDTONE_TICKS0") or "0")
    pretended = None  # the time an interrupt handler sees
    hook = None


def pretend(us):
    _Clock.pretended = us


def after_waits(hook):
    _Clock.hook = hook


def ticks_us():
    if _Clock.pretended is not None:
        return _Clock.pretended
    _Clock.us += _LOOK_US
    return _Clock.us & _MASK


def peek_us():
    return _Clock.us & _MASK


def ticks_ms():
    return (_Clock.us // 1000) & _MASK


def ticks_diff(a, b):
    return ((a - b + _HALF) & _MASK) - _HALF


def ticks_add(a, n):
    return (a + n) & _MASK


def sleep_us(n):
    _Clock.us += n
    if _Clock.hook is not None:
        _Clock.hook()


def sleep_ms(n):
    sleep_us(1000 * n)


def sleep(s):
    sleep_us(int(1000000 * s))
