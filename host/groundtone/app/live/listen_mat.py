"""The mat that `groundtone listen` follows: a real one, or the simulated one with a golfer on it."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from groundtone.app.tones.sounding import session_output
from groundtone.link.base import Link
from groundtone.link.find import open_again, open_any
from groundtone.link.lasting_link import LastingLink
from groundtone.link.radio import radio_running
from groundtone.link.serial_link import SerialLink
from groundtone.link.uri import open_link, split_uri
from groundtone.tone.output import Output
from groundtone.tone.pan import Side

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
        return session_output(self.fast, wav, lead, say)


@contextlib.contextmanager
def followed_mat(port: str | None, twin: TwinChoice | None, hand: str, panel: int | None) -> Iterator[Followed]:
    """The mat to follow; let go at the end, whatever happens.

    Parameters
    ----------
    port : str or None
        Of a real mat, or another link's name (see `groundtone.link.uri`); None: the one that is there, by cable if one
        answers, else by radio. It is looked for again when it was lost.
    twin : TwinChoice or None
        The simulated mat instead.
    hand : str
        Of the simulated golfer.
    panel : int or None
        The one panel that is there; on the twin the other one is not wired then.
    """
    if twin is None:
        with _recorded(port) if port and split_uri(port)[0] == "replay" else _real(port) as mat:
            yield mat
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


@contextlib.contextmanager
def _real(port: str | None) -> Iterator[Followed]:
    with contextlib.ExitStack() as stack:
        radio = stack.enter_context(radio_running())
        # Its one thread looks for a mat that was lost; at the end nobody waits for it, and the radio's end frees it.
        pool = ThreadPoolExecutor(1, "search")
        stack.callback(pool.shutdown, wait=False, cancel_futures=True)
        first = open_link(port, radio) if port else open_any(radio)
        place = first.port if isinstance(first, SerialLink) else None
        again = LastingLink(first, lambda uid: open_again(uid, place, radio), pool)
        yield Followed(stack.enter_context(again), f"at {place}" if place else "on Bluetooth")


@contextlib.contextmanager
def _recorded(uri: str) -> Iterator[Followed]:
    from groundtone.record.reader import open_recording
    from groundtone.record.replay_link import ReplayLink

    recorded = open_recording(Path(split_uri(uri)[1]))
    with ReplayLink(recorded) as link:
        yield Followed(link, "(recorded)", True, False, recorded.duration_s)


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
