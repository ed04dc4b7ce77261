# The chip's time module on a computer: real time, its counter's wrap, and short waits as exact as the chip's.
# ruff: noqa: F401
import os

import utime
from utime import gmtime, localtime, mktime, sleep, sleep_ms, time, time_ns

_first = int(os.getenv("GROUNDTONE_TICKS0") or "0")
_MASK = (1 << int(os.getenv("GROUNDTONE_TICKS_BITS") or "30")) - 1
_HALF = (_MASK + 1) // 2
_start = utime.ticks_us()
_real_us = utime.ticks_us


class _Seen:
    pretended = None  # the time an interrupt handler sees
    hook = None


def pretend(us):
    _Seen.pretended = us


def after_waits(hook):
    _Seen.hook = hook


def ticks_us():
    if _Seen.pretended is not None:
        return _Seen.pretended
    return (_real_us() - _start + _first) & _MASK


def ticks_ms():
    return ((_real_us() - _start + _first) // 1000) & _MASK


def ticks_diff(a, b):
    return ((a - b + _HALF) & _MASK) - _HALF


def ticks_add(a, n):
    return (a + n) & _MASK


def sleep_us(n):
    # The system's own sleep oversleeps by some 60 us; the chip's does not.
    end = _real_us() + n
    if n > 100:
        utime.sleep_us(n - 90)
    while _real_us() < end:
        pass
    if _Seen.hook is not None:
        _Seen.hook()


peek_us = ticks_us
