"""Opens the mat that a command is to work with: a real one, or the twin with something happening on it."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from groundtone.errors import GroundtoneError
from groundtone.link.base import Link
from groundtone.link.find import open_again, open_any
from groundtone.link.radio import radio_running
from groundtone.link.serial_link import SerialLink
from groundtone.link.uri import open_link
from groundtone.mat.layout import Layout, layout_of
from groundtone.twin.scenario import Act, MatSpec, Scenario

REFERENCE = "reference-16x4"


@dataclass(frozen=True)
class TwinChoice:
    """Which simulated mat a command shall work with.

    Attributes
    ----------
    mat : MatSpec
    act : Act or None
        What a scenario file lets happen on it; None: the command decides.
    fast : bool
        As fast as the machine can; nothing is heard.
    """

    mat: MatSpec
    act: Act | None = None
    fast: bool = False


@dataclass
class Opened:
    """An open link to a mat.

    Attributes
    ----------
    link : Link
    layout : Layout
    took : callable
        To be called after each frame.
    again : callable or None
        Opens the same mat anew after it was lost; None where that cannot be.
    over_s : float or None
        Device time at which nothing more happens on a twin, s; None on a real mat.
    """

    link: Link
    layout: Layout
    took: Callable[[], None]
    again: Callable[[], Link] | None = None
    over_s: float | None = None


def twin_choice(word: str | None, layout_id: str, fast: bool) -> TwinChoice | None:
    """The twin that `--twin` asks for: a seed, or the file of a scenario; None where the option was not given.

    Raises
    ------
    GroundtoneError
        The word is neither, or the file cannot be used.
    """
    if word is None:
        if fast:
            raise GroundtoneError("--fast is for the simulated mat only: name --twin as well")
        return None
    if word.isdigit():
        return TwinChoice(mat_of(int(word), layout_id), None, fast)
    path = Path(word)
    try:
        scenario = Scenario.from_json(path.read_text("utf-8"))
    except OSError as error:
        raise GroundtoneError(
            f"--twin takes a seed (a whole number) or the file of a scenario, and {word!r} is neither"
        ) from error
    except (ValueError, UnicodeDecodeError) as error:
        raise GroundtoneError(f"the scenario {path} cannot be used: {error}") from error
    return TwinChoice(scenario.mat, scenario.act, fast)


def mat_of(seed: int, layout_id: str = REFERENCE) -> MatSpec:
    """The simulated mat of a seed, in one of the known layouts."""
    layout = layout_of(layout_id)
    return MatSpec(
        seed=seed,
        uid=f"{0x67746D0000000000 | seed % 2**40:016x}",
        layout=layout.id,
        rows=layout.rows,
        columns_per_panel=layout.columns_per_panel,
        row_pitch_mm=layout.row_pitch_mm,
        column_pitch_mm=layout.column_pitch_mm,
    )


@contextlib.contextmanager
def opened_twin(choice: TwinChoice, act: Act, rate_hz: int) -> Iterator[Opened]:
    """The twin with an act that is just beginning, started; gone at the end, whatever happens."""
    # Only here: who works with a real mat does not wait for the twin's libraries.
    from groundtone.app.simulated import simulated_mat
    from groundtone.link.twin_link import TwinLink
    from groundtone.twin.world import World

    scenario = Scenario(choice.mat, act)
    layout = layout_of(choice.mat.layout)
    over_s = World(scenario).duration_s - 1.5 / rate_hz
    if choice.fast:
        # In this process: the firmware would take many times as long, and the demo and its tests run it.
        with TwinLink(scenario, fast=True) as link:
            link.start(rate_hz)
            yield Opened(link, layout, lambda: None, over_s=over_s)
        return
    with simulated_mat(scenario, fast=False) as mat:
        mat.begin()
        mat.link.start(rate_hz)
        yield Opened(mat.link, layout, mat.took, over_s=over_s)


@contextlib.contextmanager
def opened_mat(port: str | None, rate_hz: int) -> Iterator[Opened]:
    """A real mat, started, by cable or by radio; its link is closed at the end.

    Parameters
    ----------
    port : str or None
        A serial port or another link's name (see `groundtone.link.uri`); None: the one mat that is there.
    rate_hz : int

    Raises
    ------
    GroundtoneError
        There is none, or it cannot be used.
    """
    with contextlib.ExitStack() as stack:
        radio = stack.enter_context(radio_running())
        link = open_link(port, radio) if port else open_any(radio)
        held: list[Link] = [link]
        stack.callback(lambda: held[-1].close())
        place = link.port if isinstance(link, SerialLink) else None
        layout = layout_of(link.hello.layout)
        if (layout.rows, layout.columns) != (link.hello.rows, link.hello.columns):
            raise GroundtoneError(
                f"the mat scans {link.hello.rows} x {link.hello.columns} cells and its layout {layout.id} has "
                f"{layout.rows} x {layout.columns}: set the mat's layout"
            )
        uid = link.hello.uid

        def again() -> Link:
            held[-1].close()
            fresh = open_again(uid, place, radio)
            held.append(fresh)
            fresh.start(rate_hz)
            return fresh

        link.start(rate_hz)
        yield Opened(link, layout, lambda: None, again)
