"""Sentences on a console, and a terminal's screen that is taken over and given back."""

from __future__ import annotations

from types import TracebackType
from typing import TYPE_CHECKING, Self

from rich.console import Console

if TYPE_CHECKING:
    from rich.live import Live as Screen


def say(console: Console, text: str) -> None:
    """A sentence: broken between words on a terminal, whole in a file or a pipe, and never taken for markup."""
    console.print(text, highlight=False, markup=False, soft_wrap=not console.is_terminal)


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

    def __enter__(self) -> Self:
        if self._screen is not None:
            self._screen.__enter__()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._screen is not None:
            self._screen.__exit__(kind, error, trace)
