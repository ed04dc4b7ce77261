"""The mat that the window works with: a real one on its cable, or the simulated one with something happening on it."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from groundtone.errors import GroundtoneError
from groundtone.link.base import Link
from groundtone.mat.layout import Layout, layout_of

if TYPE_CHECKING:
    from groundtone.app.opening import TwinChoice

WATCH, CHECK, ORDER, PRACTISE = "watch", "check", "order", "practise"
"""What the mat is opened for; on the twin it says what happens there."""


def _nothing(_: Any = None) -> None:
    pass


@dataclass
class OpenMat:
    """An open link, not started.

    Attributes
    ----------
    link : Link
    layout : Layout
    simulated : bool
    over_s : float or None
        Device time at which nothing more happens on a twin, s.
    fast : bool
        Faster than time: its frames are made when they are asked for.
    began, took, rest : callable
        To be called before frames start, after each frame, and before the mat itself is asked.
    do : callable
        Takes what a simulated person is to do.
    """

    link: Link
    layout: Layout
    simulated: bool = False
    over_s: float | None = None
    fast: bool = False
    began: Callable[[], None] = _nothing
    took: Callable[[], None] = _nothing
    rest: Callable[[], None] = _nothing
    do: Callable[[str], None] = _nothing


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
        if self.twin is None:
            with _real(self.port) as mat:
                yield mat
        elif purpose == ORDER:
            with _with_hands(self.twin) as mat:
                yield mat
        else:
            with _twin(
                self.twin, self.acts.get(purpose) or self.twin.act or usual_act(purpose, self.twin, hand)
            ) as mat:
                yield mat


def known_layout(link: Link) -> Layout:
    """The layout of an open mat; GroundtoneError where its hello and its layout do not go together."""
    layout = layout_of(link.hello.layout)
    if (layout.rows, layout.columns) != (link.hello.rows, link.hello.columns):
        raise GroundtoneError(
            f"the mat scans {link.hello.rows} x {link.hello.columns} cells and its layout {layout.id} has "
            f"{layout.rows} x {layout.columns}: set the mat's layout"
        )
    return layout


@contextlib.contextmanager
def _real(port: str | None) -> Iterator[OpenMat]:
    from groundtone.app.live.listen_mat import followed_mat

    with followed_mat(port, None, "right", None) as mat:
        yield OpenMat(mat.link, known_layout(mat.link))


@contextlib.contextmanager
def _twin(choice: TwinChoice, act: Any) -> Iterator[OpenMat]:
    from groundtone.app.simulated import simulated_mat
    from groundtone.link.twin_link import TwinLink
    from groundtone.twin.scenario import Scenario
    from groundtone.twin.world import World

    scenario = Scenario(choice.mat, act)
    over_s = World(scenario).duration_s - 0.05
    layout = layout_of(choice.mat.layout)
    if choice.fast:
        with TwinLink(scenario, fast=True) as quick:
            yield OpenMat(quick, layout, True, over_s, True)
        return
    with simulated_mat(scenario, fast=False) as mat:
        yield OpenMat(mat.link, layout, True, over_s, False, mat.begin, mat.took)


@contextlib.contextmanager
def _with_hands(choice: TwinChoice) -> Iterator[OpenMat]:
    """The twin with hands that press what is asked, its firmware on MicroPython and its wires in a wrong order."""
    from groundtone.app.builder.commission_twin import twin_mat

    wrong = choice.mat.wiring or ("swap-rows:3,9",)
    with twin_mat(choice.mat.seed, layout_of(choice.mat.layout), wrong) as mat:
        yield OpenMat(mat.link, layout_of(choice.mat.layout), True, None, True, mat.begin, mat.took, mat.rest, mat.do)


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
    from groundtone.app.opening import TwinChoice, mat_of

    return MatChoice(twin=TwinChoice(replace(mat_of(seed), **changed), None, fast))
