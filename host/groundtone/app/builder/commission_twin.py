"""The mat that commissioning works with: a real one, or the simulated one with hands that do what is asked."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence

from groundtone.app.simulated import why_in_process
from groundtone.errors import GroundtoneError
from groundtone.link.serial_link import SerialLink
from groundtone.mat.layout import Layout
from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Hands, MatSpec, Scenario

# Scans by which the simulated mat may be ahead: inside the credit window, and both sides stay busy.
AHEAD = 12


class Mat:
    """A real mat: nobody but the person at it does anything.

    Parameters
    ----------
    link : SerialLink

    Attributes
    ----------
    simulated : bool
    """

    simulated = False

    def __init__(self, link: SerialLink) -> None:
        self.link = link

    def begin(self) -> None:
        """Called before frames start."""

    def took(self) -> None:
        """Called after each frame."""

    def rest(self) -> None:
        """Called before anything is asked of the mat itself."""

    def do(self, action: str) -> None:
        """Do what a simulated person understands."""


class TwinMat(Mat):
    """The simulated mat, in time that runs as fast as the machine can.

    Parameters
    ----------
    link : SerialLink
    process : MatProcess
    """

    simulated = True

    def __init__(self, link: SerialLink, process: MatProcess) -> None:
        super().__init__(link)
        self._process = process
        self._owed = 0

    def begin(self) -> None:
        """Time may run for a dozen scans."""
        self._owed = 0
        self._process.allow(AHEAD)

    def took(self) -> None:
        """Time may run on."""
        self._owed += 1
        if self._owed >= AHEAD // 2:
            self._process.allow(self._owed)
            self._owed = 0

    def rest(self) -> None:
        """Time runs by itself: the mat can answer."""
        self._process.free()

    def do(self, action: str) -> None:
        """The hands do it."""
        if action:
            self._process.do(action)


@contextlib.contextmanager
def twin_mat(seed: int, layout: Layout, faults: Sequence[str]) -> Iterator[TwinMat]:
    """A simulated mat with faults, its firmware on MicroPython, and somebody who does what is asked.

    Raises
    ------
    GroundtoneError
        There is no MicroPython here, or a fault is not understood.
    """
    if (reason := why_in_process()) is not None:
        raise GroundtoneError(f"the simulated mat runs its firmware here, and that cannot be: {reason}")
    try:
        mat = MatSpec(
            seed=seed, uid=f"{0x67746D0000000000 | seed % 2**40:016x}", layout=layout.id, rows=layout.rows,
            columns_per_panel=layout.columns_per_panel, row_pitch_mm=layout.row_pitch_mm,
            column_pitch_mm=layout.column_pitch_mm, wiring=tuple(faults),
        )  # fmt: skip
    except ValueError as error:
        raise GroundtoneError(str(error)) from error
    scenario = Scenario(mat, Hands(seed=seed, duration_s=36000.0))
    with MatProcess(scenario, fast=True) as process, SerialLink(process.port) as link:
        yield TwinMat(link, process)
        process.free()
