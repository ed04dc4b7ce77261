"""A presenter's remote as the answer: two buttons tell where the ball met the face, without looking at them."""

from __future__ import annotations

import math

# Presses this close to one another step on, s; later ones begin anew.
_TOGETHER_S = 3.0
# Forward: centre, then toe, then heel. Back: heavy, then thin. Keys of `groundtone.lesson.strikes`.
_STEPS = {"next": ("5", "6", "4"), "back": ("f", "t")}


class RemoteKeys:
    """Turns the buttons "next" and "back" into strike keys; every further press of the same button corrects itself."""

    def __init__(self) -> None:
        self._button, self._step, self._at_s = "", 0, -math.inf

    def swing(self) -> None:
        """A swing has ended: the next press is about this one."""
        self._button, self._step, self._at_s = "", 0, -math.inf

    def step(self, t_s: float, button: str) -> str | None:
        """The strike key that a press stands for; None for a button that means nothing.

        Parameters
        ----------
        t_s : float
            Time of the press, s.
        button : str
            "next" or "back".
        """
        keys = _STEPS.get(button)
        if keys is None:
            return None
        goes_on = button == self._button and t_s - self._at_s <= _TOGETHER_S
        self._step = (self._step + 1) % len(keys) if goes_on else 0
        self._button, self._at_s = button, t_s
        return keys[self._step]
