"""Which mat the window works with, and what happens on it where it is the simulated one."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from groundtone.app.mat import OpenMat, real_mat, twin_mat, twin_with_hands

if TYPE_CHECKING:
    from groundtone.app.twin import TwinChoice

WATCH, CHECK, ORDER, PRACTISE = "watch", "check", "order", "practise"
"""What the mat is opened for; on the twin it says what happens there."""


@dataclass(frozen=True)
class MatChoice:
    """Which mat.

    Attributes
    ----------
    port : str or None
        Of a real mat; None: the one that answers.
    twin : TwinChoice or None
        The simulated one instead.
    acts : dict
        What happens on the twin instead of the usual, by purpose.
    """

    port: str | None = None
    twin: TwinChoice | None = None
    acts: dict[str, Any] = field(default_factory=dict)

    @contextlib.contextmanager
    def opened(self, purpose: str, hand: str = "right") -> Iterator[OpenMat]:
        """The mat; let go at the end, whatever happens. `hand` is that of a simulated golfer.

        Raises
        ------
        GroundtoneError
            There is none, or it cannot be used.
        """
        twin = self.twin
        if twin is None:
            opened = real_mat(self.port)
        elif purpose == ORDER:
            # Its wires lie in a wrong order, and hands press what is asked.
            opened = twin_with_hands(twin.mat.seed, twin.mat.layout, twin.mat.wiring or ("swap-rows:3,9",))
        else:
            opened = twin_mat(twin, self.acts.get(purpose) or twin.act or usual_act(purpose, twin, hand))
        with opened as mat:
            yield mat


def usual_act(purpose: str, choice: TwinChoice, hand: str) -> Any:
    """What an invented person does on the twin."""
    from groundtone.twin.scenario import Check, GolferSpec, Press, Session, SwingSpec

    if purpose == CHECK:
        return Check(GolferSpec(mass_kg=78.4, hand=hand), seed=choice.mat.seed)
    if purpose == PRACTISE:
        # An invented golfer with two faults that come and go.
        styles = ("good", "trail_hang", "toe_drift", "good", "trail_hang", "good", "toe_drift", "good") * 5
        swings = tuple(SwingSpec(style) for style in styles)
        return Session(GolferSpec(hand=hand), swings, seed=choice.mat.seed, setup_s=4.0, hold_s=3.0)
    return Press(on_s=0.8, off_s=0.3)


def simulated_choice(seed: int = 1, *, fast: bool = False, **changed: Any) -> MatChoice:
    """The simulated mat of a seed."""
    from groundtone.app.twin import TwinChoice, mat_of

    return MatChoice(twin=TwinChoice(replace(mat_of(seed), **changed), None, fast))
