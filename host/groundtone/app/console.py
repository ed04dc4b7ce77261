"""A terminal: sentences on it, its screen taken over and given back, single keys without waiting for Enter."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from rich.console import Console

from groundtone.app.language import ENGLISH, SPOKEN, tr

if TYPE_CHECKING:
    from rich.live import Live as Screen

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


def say(console: Console, text: str) -> None:
    """A sentence: broken between words on a terminal, whole in a file or a pipe, and never taken for markup."""
    console.print(tr(text), highlight=False, markup=False, soft_wrap=not console.is_terminal)


def turned(what: Any) -> Any:
    """Something to be drawn, in the language in force: a text, a table with its heads and cells, a panel."""
    from rich.align import Align
    from rich.console import Group
    from rich.panel import Panel
    from rich.table import Table
    from rich.text import Text

    if SPOKEN.code == ENGLISH:
        return what
    if isinstance(what, str):
        return tr(what)
    if isinstance(what, Text):
        return Text(tr(what.plain), style=what.style, no_wrap=what.no_wrap) if not what.spans else what
    if isinstance(what, Group):
        return Group(*map(turned, what.renderables))
    if isinstance(what, Align):
        return Align(turned(what.renderable), what.align)
    if isinstance(what, Panel):
        return Panel(turned(what.renderable), title=turned(what.title), title_align=what.title_align)
    if isinstance(what, Table):
        what.title, what.caption = turned(what.title), turned(what.caption)
        for column in what.columns:
            column.header, column._cells = turned(column.header), [turned(cell) for cell in column._cells]
    return what


def at_once(text: str, *, quiet: bool = False) -> None:
    """A word before what takes a while to load or to reckon: for eyes alone, so on a terminal and beside the output."""
    if sys.stderr.isatty() and not quiet:
        print(tr(text), file=sys.stderr, flush=True)


def drop_typed() -> None:
    """Forgets what was typed before a question was there to be answered."""
    if sys.platform == "win32" or not sys.stdin.isatty():
        return
    import termios

    termios.tcflush(sys.stdin.fileno(), termios.TCIFLUSH)


class OnScreen:
    """A context manager around a terminal's screen.

    Parameters
    ----------
    refresh_hz : float, optional
        The screen draws itself so often; without it only when it is told to.
    on : bool
        False, or a console that is no terminal: there is no screen.
    """

    def __init__(self, console: Console, refresh_hz: float | None = None, *, on: bool = True) -> None:
        self.console = console
        self._screen: Screen | None = None
        if on and console.is_terminal:
            from rich.live import Live as Screen

            self._screen = Screen(
                console=console, auto_refresh=refresh_hz is not None, refresh_per_second=refresh_hz or 4.0
            )

    def draw(self, what: Any, *, at_once: bool = False) -> None:
        """Draws on the screen, where there is one, in the language in force."""
        if self._screen is not None:
            self._screen.update(turned(what), refresh=at_once)

    def __enter__(self) -> Self:
        if self._screen is not None:
            self._screen.__enter__()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._screen is not None:
            self._screen.__exit__(kind, error, trace)


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
