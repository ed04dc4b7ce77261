"""The mat that `groundtone listen` follows: a real one, or the simulated one with a golfer on it."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from groundtone.app.sounding import live_output
from groundtone.link.base import Link
from groundtone.link.find import find_mat
from groundtone.link.serial_link import SerialLink
from groundtone.tone.output import OfflinePlayer, Output
from groundtone.tone.pan import Side
from groundtone.tone.synth import Synth

# The twin takes a second to import: a real mat need not wait for it.
if TYPE_CHECKING:
    from groundtone.app.opening import TwinChoice
    from groundtone.twin.scenario import Act, MatSpec

# On the twin the session ends this long before its film does: on the firmware the first frames are gone by then.
_SPARE_S = 1.0


@dataclass(frozen=True)
class Followed:
    """An open mat, not yet started.

    Attributes
    ----------
    link : Link
    place : str
        Where it is, in words behind its name.
    simulated : bool
    fast : bool
        Faster than time: nothing is heard.
    over_s : float or None
        So many seconds the twin has something to show; None on a real mat.
    """

    link: Link
    place: str
    simulated: bool = False
    fast: bool = False
    over_s: float | None = None

    def player(self, wav: Path | None, lead: Side = "left", say: Callable[[str], None] | None = None) -> Output:
        """What sounds, not yet started: in a process of its own, as remembered; `say` takes what is odd with that."""
        return OfflinePlayer(Synth(), wav) if self.fast else live_output(wav, lead, say=say)


@contextlib.contextmanager
def followed_mat(port: str | None, twin: TwinChoice | None, hand: str, panel: int | None) -> Iterator[Followed]:
    """The mat to follow; let go at the end, whatever happens.

    Parameters
    ----------
    port : str or None
        Of a real mat; None: the one that answers.
    twin : TwinChoice or None
        The simulated mat instead.
    hand : str
        Of the simulated golfer.
    panel : int or None
        The one panel that is there; on the twin the other one is not wired then.
    """
    if twin is None:
        with SerialLink(port or find_mat()) as link:
            yield Followed(link, f"at {link.port}")
        return
    from groundtone.app.simulated import simulated_mat
    from groundtone.link.twin_link import TwinLink
    from groundtone.twin.scenario import Scenario
    from groundtone.twin.world import World

    scenario = Scenario(_wired(twin, panel), twin.act or _act(twin, hand, panel))
    over_s = World(scenario).duration_s - _SPARE_S
    if twin.fast:
        with TwinLink(scenario, fast=True) as quick:
            yield Followed(quick, "(simulated)", True, True, over_s)
        return
    with simulated_mat(scenario, fast=False) as mat:
        mat.begin()
        yield Followed(mat.link, "(simulated)", True, False, over_s)


def _wired(twin: TwinChoice, panel: int | None) -> MatSpec:
    """The twin's mat, with nothing on the lines of the panel that is not there."""
    if panel is None:
        return twin.mat
    width = twin.mat.columns_per_panel
    other = range((1 - panel) * width, (2 - panel) * width)
    cells = {(row, column) for row in range(twin.mat.rows) for column in other}
    return replace(twin.mat, dead_cells=tuple(sorted({*twin.mat.dead_cells, *cells})))


def _act(twin: TwinChoice, hand: str, panel: int | None) -> Act:
    """What the invented golfer does: rocks and swings, over the toes at one setup."""
    from groundtone.twin.scenario import GolferSpec, Session, SwingSpec

    golfer = GolferSpec(hand=hand)
    on_toes = SwingSpec("good", setup_heel_toe=0.78)
    if panel is not None:
        return Session(golfer, (SwingSpec("good"), on_toes), twin.mat.seed, rocks=2)
    return Session(golfer, (SwingSpec("good"), on_toes, SwingSpec("trail_hang")), twin.mat.seed)
