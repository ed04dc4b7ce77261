"""Single keys from a terminal without waiting for Enter; nothing where there is no terminal."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator

# What keys beyond letters send, by their usual sequences: a presenter's remote sends page down and page up.
_SEQUENCES = {
    "\x1b[6~": "next",
    "\x1b[C": "next",
    "\x1b[B": "next",
    "\x1b[5~": "back",
    "\x1b[D": "back",
    "\x1b[A": "back",
}
# The same keys on Windows, where a first character tells that a second one follows.
_WINDOWS = {"Q": "next", "M": "next", "P": "next", "I": "back", "K": "back", "H": "back"}
_LONGEST = 8


@contextlib.contextmanager
def keys() -> Iterator[Callable[[], str]]:
    """A function that gives the key pressed since it was last asked, or an empty text.

    Arrows and page keys come as "next" and "back", escape alone as "escape". Ctrl-C stays what it is; the terminal is
    as before at the end.
    """
    if not sys.stdin.isatty():
        yield lambda: ""
        return
    if sys.platform == "win32":
        yield _windows
        return
    import os
    import select
    import termios
    import tty

    fd = sys.stdin.fileno()
    before = termios.tcgetattr(fd)
    tty.setcbreak(fd)
    waiting = ""

    def pressed() -> str:
        nonlocal waiting
        if select.select([fd], [], [], 0)[0]:
            waiting += os.read(fd, 64).decode("ascii", "ignore")
        key, waiting = first_key(waiting)
        return key

    try:
        yield pressed
    finally:
        termios.tcsetattr(fd, termios.TCSADRAIN, before)


def first_key(text: str) -> tuple[str, str]:
    r"""The first key of what a terminal has sent, and the rest.

    Examples
    --------
    >>> first_key("\x1b[6~5")
    ('next', '5')
    >>> first_key("")
    ('', '')
    """
    if not text.startswith("\x1b"):
        return text[:1], text[1:]
    for sequence, name in _SEQUENCES.items():
        if text.startswith(sequence):
            return name, text[len(sequence) :]
    if text.startswith(("\x1b[", "\x1bO")):
        # Another key's sequence means nothing here; it ends with its first letter or "~".
        for end, letter in enumerate(text[2:_LONGEST], 3):
            if letter.isalpha() or letter == "~":
                return first_key(text[end:])
        return "", ""
    return "escape", text[1:]


def _windows() -> str:
    import msvcrt

    if not msvcrt.kbhit():  # type: ignore[attr-defined, unused-ignore]
        return ""
    key: str = msvcrt.getwch()  # type: ignore[attr-defined, unused-ignore]
    if key in ("\x00", "\xe0"):
        return _WINDOWS.get(msvcrt.getwch(), "")  # type: ignore[attr-defined, unused-ignore]
    return "escape" if key == "\x1b" else key
