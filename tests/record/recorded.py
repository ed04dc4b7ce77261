"""Small recordings for the tests: a tiny mat, frames with known numbers, chunks closed where the test wants."""

import numpy as np

from groundtone.link.base import Stamped
from groundtone.record.recorder import Recorder
from groundtone.record.session import About, Golfer, Settings
from groundtone.wire.codec import encode
from groundtone.wire.messages import Frame, Hello

HELLO = Hello(1, (0, 1, 0), "00112233445566aa", 10, 6, 14, 16, 1, 200, 0, 0, "board", "starter-10x3", "mat")


def about(**more):
    return About(**{"hello": HELLO, "settings": Settings(), "golfer": Golfer("Ann"), **more})


def frame(number, t_us=None, seq=None):
    cells = (np.arange(60) * 7 + number).astype(np.uint16) % 16384
    when = number * 10_000 if t_us is None else t_us
    return Frame(0, (number if seq is None else seq) & 0xFFFF, when & 0xFFFFFFFF, 0, 0, 10, 8000, cells)


def stamped(number, host_s=None, device_us=None, **more):
    what = frame(number, device_us, **more)
    when = number * 0.01 if host_s is None else host_s
    return Stamped(what, number * 10_000 if device_us is None else device_us, when, 0.0, 0, encode(what, 14))


class Clocks:
    """The host's two clocks, moved by hand; ns."""

    def __init__(self, wall_s=1_700_000_000.0, steady_s=0.0):
        self.wall_s, self.steady_s = wall_s, steady_s

    def move(self, seconds):
        self.wall_s += seconds
        self.steady_s += seconds

    def recorder(self, path, told=None):
        file = path.open("xb", buffering=0)
        return Recorder(
            file,
            told or about(),
            wall_ns=lambda: round(self.wall_s * 1e9),
            steady_ns=lambda: round(self.steady_s * 1e9),
        )


def record(path, count, told=None, before_close=None, step_s=0.01):
    """A recording of `count` frames; gives the file's size and the frames in it after each chunk."""
    clocks = Clocks()
    recorder = clocks.recorder(path, told)
    sizes = [(recorder._file.size, 0)]
    for number in range(count):
        recorder.frame(stamped(number, host_s=clocks.steady_s))
        clocks.move(step_s)
        recorder.pump()
        if recorder._file.size > sizes[-1][0] and not recorder._file._body:
            sizes.append((recorder._file.size, number + 1))
    if before_close is not None:
        before_close(recorder)
    recorder.close()
    assert recorder.trouble is None
    return sizes
