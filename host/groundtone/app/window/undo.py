"""What can be taken back, the newest first."""

from __future__ import annotations

from collections.abc import Callable

# So many steps back are kept.
_MOST = 50


class UndoList:
    """Deeds with the call that takes each back."""

    def __init__(self) -> None:
        self._deeds: list[tuple[str, Callable[[], None]]] = []

    def __len__(self) -> int:
        return len(self._deeds)

    @property
    def next(self) -> str:
        """What would be taken back now, in words; empty where nothing can be."""
        return self._deeds[-1][0] if self._deeds else ""

    def add(self, words: str, back: Callable[[], None]) -> None:
        """Keeps a deed."""
        self._deeds = [*self._deeds[-_MOST + 1 :], (words, back)]

    def undo(self) -> str:
        """Takes the newest back; its words, empty where there was none."""
        if not self._deeds:
            return ""
        words, back = self._deeds.pop()
        back()
        return words

    def forget(self, begins: str) -> None:
        """Deeds whose words begin so can be taken back no more."""
        self._deeds = [deed for deed in self._deeds if not deed[0].startswith(begins)]
