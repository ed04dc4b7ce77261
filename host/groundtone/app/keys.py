"""Single keys from a terminal without waiting for Enter; nothing where there is no terminal."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator


@contextlib.contextmanager
def keys() -> Iterator[Callable[[], str]]:
    """A function that gives the key pressed since it was last asked, or an empty text.

    Ctrl-C stays what it is; the terminal is as before at the end.
    """
    if not sys.stdin.isatty():
        yield lambda: ""
        return
    if sys.platform == "win32":
        import msvcrt

        yield lambda: msvcrt.getwch() if msvcrt.kbhit() else ""
        return
    import os
    import select
    import termios
    import tty

    fd = sys.stdin.fileno()
    before = termios.tcgetattr(fd)
    tty.setcbreak(fd)

    def pressed() -> str:
        ready, _, _ = select.select([fd], [], [], 0)
        return os.read(fd, 1).decode("ascii", "ignore") if ready else ""

    try:
        yield pressed
    finally:
        termios.tcsetattr(fd, termios.TCSADRAIN, before)
