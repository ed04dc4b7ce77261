"""The one way to open a mat: a real one by cable or radio, one from a recording, or the twin with somebody on it.

What is opened is not started yet. Who works with a real mat does not wait for the twin's libraries.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from groundtone.errors import GroundtoneError
from groundtone.link.base import LOST_S, PATIENT_LOST_S, PATIENT_REPLY_S, Link, Stamped
from groundtone.link.find import find_mat, open_again, open_any
from groundtone.link.following import SEARCH_S, Item, until_lost
from groundtone.link.lasting_link import LastingLink
from groundtone.link.radio import radio_running
from groundtone.link.serial_link import SerialLink
from groundtone.link.talk import MessageLink
from groundtone.link.uri import open_link, split_uri
from groundtone.mat.layout import Layout, layout_for

if TYPE_CHECKING:
    from groundtone.app.twin import TwinChoice
    from groundtone.twin.mat_process import MatProcess
    from groundtone.twin.scenario import Act

# Scans by which the simulated mat may be ahead of the host in fast mode: inside the credit window, and both stay busy.
_AHEAD = 12
# The last frame of a twin at 10 a second has come this long before its film is over, s.
_SPARE_S = 0.15


@dataclass
class OpenMat:
    """An open mat.

    Attributes
    ----------
    link : Link
        Its owner starts and stops it.
    place : str
        Where it is, in words behind its name.
    fast : bool
        Faster than time: nothing is heard.
    process : MatProcess or None
        The twin's firmware on MicroPython.
    lost_s : float
        A mat that sends nothing for so long is lost, s.
    begin_us : int
        Device time at which a twin's film, or a recording, begins.
    """

    link: Link
    layout: Layout
    place: str = ""
    simulated: bool = False
    fast: bool = False
    process: MatProcess | None = None
    begin_us: int = 0
    length_s: Callable[[], float] | None = None
    lost_s: float = LOST_S
    _owed: int = 0

    @cached_property
    def over_s(self) -> float | None:
        """So long after `begin_us` nothing more happens on a twin or in a recording, s; None on a real mat."""
        return self.length_s() if self.length_s is not None else None

    def over(self, item: Stamped) -> bool:
        """Nothing more happens after this frame."""
        return self.over_s is not None and (item.device_us - self.begin_us) * 1e-6 >= self.over_s

    def begin(self) -> None:
        """To be called before frames are started: the time of a mat that is faster than time now begins to run."""
        self._owed = 0
        if self.process is not None and self.fast:
            self.process.allow(_AHEAD)

    def items(self, search_s: float = SEARCH_S) -> Iterator[Item]:
        """What its link brings once it is started, until the mat is lost for good; see `until_lost`."""
        return until_lost(self.link.frames(), search_s, lost_s=self.lost_s)

    def took(self) -> None:
        """To be called after each frame: a mat that is faster than time may scan on."""
        if self.process is None or not self.fast:
            return
        self._owed += 1
        if self._owed >= _AHEAD // 2:
            self.process.allow(self._owed)
            self._owed = 0

    def rest(self) -> None:
        """To be called before anything is asked of a mat between frames: its time runs by itself, and it can answer."""
        if self.process is not None and self.fast:
            self.process.free()

    def do(self, action: str) -> None:
        """What a simulated person is to do; at a real mat there is a real one."""
        if self.process is not None and action:
            self.process.do(action)


def why_in_process() -> str | None:
    """Why the firmware cannot run here, or None where it can."""
    from groundtone.twin.errors import TwinError
    from groundtone.twin.serve import micropython_command

    try:
        micropython_command()
    except TwinError as error:
        return str(error)
    return None


@contextlib.contextmanager
def real_mat(port: str | None, *, device_time: bool = False) -> Iterator[OpenMat]:
    """A real mat, looked for again whenever it was lost; or the mat of a recording.

    Parameters
    ----------
    port : str or None
        A serial port or another link's name (see `groundtone.link.uri`); None: the one that is there, by cable if one
        answers, else by radio.
    device_time : bool
        Only the mat's clock counts: it may be faster or slower than time, and nothing is heard.

    Raises
    ------
    GroundtoneError
        There is none, or it cannot be used.
    """
    if port and split_uri(port)[0] == "replay":
        with _recorded(Path(split_uri(port)[1])) as mat:
            yield mat
        return
    with contextlib.ExitStack() as stack:
        radio = stack.enter_context(radio_running())
        # Its one thread looks for a mat that was lost; at the end nobody waits for it, and the radio's end frees it.
        pool = ThreadPoolExecutor(1, "search")
        stack.callback(pool.shutdown, wait=False, cancel_futures=True)
        first = _patient(open_link(port, radio) if port else open_any(radio), device_time)
        place = first.port if isinstance(first, SerialLink) else None
        lost_s = PATIENT_LOST_S if device_time else LOST_S
        lasting = LastingLink(
            first, lambda uid: _patient(open_again(uid, place, radio), device_time), pool, stall_s=lost_s
        )
        link = stack.enter_context(lasting)
        where = f"at {place}" if place else "on Bluetooth"
        yield OpenMat(link, layout_for(link.hello), where, fast=device_time, lost_s=lost_s)


@contextlib.contextmanager
def mat_on_cable(port: str | None, *, device_time: bool = False) -> Iterator[OpenMat]:
    """A real mat by its cable alone, as whoever builds it needs it; it is not looked for again."""
    with SerialLink(port or find_mat()) as link:
        _patient(link, device_time)
        lost_s = PATIENT_LOST_S if device_time else LOST_S
        yield OpenMat(link, layout_for(link.hello), f"at {link.port}", fast=device_time, lost_s=lost_s)


def _patient(link: Link, device_time: bool) -> Link:
    """The link; where only the mat's clock counts, its replies may come late by ours."""
    if device_time and isinstance(link, MessageLink):
        link.least_reply_s = PATIENT_REPLY_S
    return link


@contextlib.contextmanager
def _recorded(path: Path) -> Iterator[OpenMat]:
    from groundtone.record.reader import open_recording
    from groundtone.record.replay_link import ReplayLink

    recorded = open_recording(path)
    with ReplayLink(recorded) as link:
        begin_us = int(recorded.frames.device_us[0])
        length_s = int(recorded.frames.device_us[-1]) * 1e-6 - begin_us * 1e-6 - 1e-6
        yield OpenMat(link, layout_for(link.hello), "(recorded)", True, begin_us=begin_us, length_s=lambda: length_s)


@contextlib.contextmanager
def twin_mat(choice: TwinChoice, act: Act, *, firmware: bool = False) -> Iterator[OpenMat]:
    """The twin with an act that is just beginning; gone at the end, whatever happens.

    Parameters
    ----------
    choice : TwinChoice
        Its own act does not count here.
    firmware : bool
        The firmware runs though it is to be faster than time, many times as slowly as the twin in this process.
    """
    from groundtone.link.twin_link import TwinLink
    from groundtone.twin.mat_process import MatProcess
    from groundtone.twin.scenario import Hands, Scenario
    from groundtone.twin.world import World

    scenario = Scenario(choice.mat, act)
    # Hands go on for as long as they are asked.
    length_s = None if isinstance(act, Hands) else lambda: World(scenario).duration_s - _SPARE_S
    if (choice.fast and not firmware) or why_in_process() is not None:
        with TwinLink(scenario, fast=choice.fast) as quick:
            yield OpenMat(quick, layout_for(quick.hello), "(simulated)", True, choice.fast, None, length_s=length_s)
        return
    with MatProcess(scenario, fast=choice.fast) as process, SerialLink(process.port) as link:
        mat = OpenMat(link, layout_for(link.hello), "(simulated)", True, choice.fast, process, process.ticks0, length_s)
        yield mat
        # A virtual clock has to run for the mat to answer the stop.
        mat.rest()


@contextlib.contextmanager
def twin_with_hands(seed: int, layout_id: str, wiring: tuple[str, ...]) -> Iterator[OpenMat]:
    """The twin with wires as they are said, and somebody who does what is asked; as fast as the machine can.

    Raises
    ------
    GroundtoneError
        There is no MicroPython here, or a fault of the wiring is not understood.
    """
    from groundtone.app.twin import TwinChoice, mat_of
    from groundtone.twin.scenario import Hands

    if (reason := why_in_process()) is not None:
        raise GroundtoneError(f"the simulated mat runs its firmware here, and that cannot be: {reason}")
    choice = TwinChoice(mat_of(seed, layout_id, wiring), None, True)
    with twin_mat(choice, Hands(seed=seed, duration_s=36000.0), firmware=True) as mat:
        yield mat
