"""The command `groundtone to-mat`: what lets the mat itself know where the pressure is goes onto it, or off it."""

from __future__ import annotations

import contextlib
import datetime
import time
import zlib
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.console import Console

from groundtone.app.click_parts import Mass
from groundtone.app.console import at_once, say
from groundtone.errors import GroundtoneError, LibraryError

if TYPE_CHECKING:
    from groundtone.app.mat import OpenMat
    from groundtone.record.session import Golfer


@click.command("to-mat")
@click.option("--port", help="Where the mat is (a serial port or a link's address); without it the one that answers.")
@click.option("--profile", type=click.Path(dir_okay=False, path_type=Path), help="A calibration; else the mat's own.")
@click.option("--golfer", default="", help="Code name: limits, hand and weight are theirs.")
@click.option("--hand", type=click.Choice(["right", "left"]), help="Without it as the library has it, else right.")
@click.option(
    "--mass", type=Mass(20, 160), help="Of the golfer with clothes and shoes, kg; else as the library has it."
)
@click.option("--club", default="", help="The limits with this club, where it has limits of its own.")
@click.option("--days", type=click.IntRange(1, 366), help="Use it so many days, today included; else for ever.")
@click.option("--show", is_flag=True, help="Say what is on the mat, and change nothing.")
@click.option("--off", is_flag=True, help="Take it off the mat.")
def to_mat(
    port: str | None, profile: Path | None, golfer: str, hand: str | None, mass: float | None, club: str,
    days: int | None, show: bool, off: bool,
) -> None:  # fmt: skip
    """Put calibration, limits, weight and hand onto the mat, so that the mat itself knows where the pressure is."""
    if show and off:
        raise GroundtoneError("--show looks and --off takes away: give one of them")
    at_once("Looking for the mat.")
    from groundtone.app.live.recording import known_golfer
    from groundtone.app.mat import real_mat
    from groundtone.onboard.make import sentences
    from groundtone.onboard.transfer import take_off, what_is_on

    console = Console()
    with real_mat(port) as mat:
        if off:
            take_off(mat.link)
            say(console, f"Nothing is on the mat {mat.link.hello.name} any more: it waits for a computer.")
            return
        if show:
            there = what_is_on(mat.link, time.time())
            for sentence in (
                ["Nothing is on this mat: groundtone to-mat puts it there."] if there is None else sentences(there)
            ):
                say(console, sentence)
            return
        person = known_golfer(golfer, hand, None, lambda sentence: say(console, sentence))
        until = None if days is None else datetime.date.today() + datetime.timedelta(days - 1)
        mass_kg = mass if mass is not None else person.mass_kg
        for sentence in put(mat, replace(person, mass_kg=mass_kg), profile, club, until):
            say(console, sentence)


def put(
    mat: OpenMat, person: Golfer, profile: Path | None = None, club: str = "", until: datetime.date | None = None
) -> list[str]:
    """Puts onto an open mat what lets it work alone for somebody: what is there now, in sentences.

    Raises
    ------
    GroundtoneError
        It is not calibrated, or refuses.
    """
    from groundtone.calibration.own_profile import profile_in_force
    from groundtone.calibration.profile import profile_text
    from groundtone.cue.personal import bands_for
    from groundtone.files import data_folder
    from groundtone.onboard.make import made_for, sentences, table_words
    from groundtone.onboard.pack import packed
    from groundtone.onboard.switch import keep_own
    from groundtone.onboard.transfer import put_on, what_is_on
    from groundtone.record.library import Library
    from groundtone.record.on_mat import keep_owner

    hello = mat.link.hello
    known, told = profile_in_force(hello, mat.layout, profile)
    if known is None:
        raise GroundtoneError("this mat is not calibrated, and alone it guesses nothing: groundtone calibrate first")
    made = made_for(
        hello,
        mat.layout,
        known,
        bands_for(person.name, club=club),
        hand=person.hand,
        mass_kg=person.mass_kg,
        until=until,
    )
    data = packed(made.what)
    put_on(mat.link, data)
    what_is_on(mat.link, time.time())  # tells the mat the time
    with contextlib.suppress(LibraryError), Library(data_folder()) as library:
        keep_owner(library, person.name, hello.uid, zlib.crc32(data[:-4]))
    keep_own(data_folder(), hello.uid, zlib.crc32(data[:-4]), profile_text(known))
    on = f"On the mat {hello.name}: {table_words(made)}"
    return [*told, *made.left, on, *sentences(made.what)]
