"""The command `groundtone from-mat`: swings that the mat noted while it was alone, into the library."""

from __future__ import annotations

import datetime
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING

import click
from rich.console import Console

from groundtone.app.console import at_once, say

if TYPE_CHECKING:
    from groundtone.app.mat import OpenMat
    from groundtone.record.library import Library
    from groundtone.record.session import Golfer


@click.command("from-mat")
@click.option("--port", help="Where the mat is (a serial port or a link's address); without it the one that answers.")
@click.option("--golfer", default="", help="Whose swings they are; else whose limits were on the mat.")
@click.option("--clear", is_flag=True, help="Let the mat forget what is in the library.")
def from_mat(port: str | None, golfer: str, clear: bool) -> None:
    """Fetch the swings that the mat noted while it was alone; what was fetched before does not come twice."""
    at_once("Looking for the mat.")
    from groundtone.app.lesson.library import opened
    from groundtone.app.live.recording import known_golfer
    from groundtone.app.mat import real_mat

    console = Console()
    with real_mat(port) as mat, opened(console) as library:
        person = known_golfer(golfer, None, None, lambda sentence: say(console, sentence)) if golfer else None
        for sentence in fetch(mat, library, person, clear):
            say(console, sentence)


def fetch(mat: OpenMat, library: Library, person: Golfer | None = None, clear: bool = False) -> Iterator[str]:
    """Brings the swings that an open mat noted into the library, as sentences of what came are asked for.

    Parameters
    ----------
    person : Golfer or None
        Whose they are; None: for whom the mat had been set up.
    """
    from groundtone.app.live.recording import into_library, recordings_folder
    from groundtone.calibration.own_profile import profile_in_force
    from groundtone.calibration.profile import profile_text
    from groundtone.onboard import collect
    from groundtone.onboard.transfer import what_is_on

    hello = mat.link.hello
    what_is_on(mat.link, time.time())  # tells the mat the time
    span = collect.span_of(mat.link)
    notes, damaged = collect.fetched(mat.link, span, collect.next_wanted(library, hello.uid, span.book))
    known, _ = profile_in_force(hello, mat.layout, None)
    text = None if known is None else profile_text(known)
    for session in collect.in_sessions(notes):
        whose = person or collect.owner_of(library, session[0], hello.uid)
        about = collect.about_of(session, hello, whose, text, mat.simulated)
        when = datetime.datetime.fromisoformat(about.started)
        path = recordings_folder() / f"{when:%Y-%m-%d-%H%M%S}-{about.session[:8]}.mcap"
        if not path.exists():
            collect.write(path, about, session)
        wrong = into_library(path)
        yield wrong or f"{_swings(len(session))} of {whose.name or 'nobody named'} came."
        yield collect.time_sentence(session[0])
    if notes:
        collect.keep_next(library, hello.uid, span.book, notes[-1].number)
    if damaged:
        yield f"{_swings(damaged)} could not be read and were left out."
    if clear and span.following:
        collect.forget(mat.link, span)
    if not notes:
        yield "Nothing new is on the mat."


def _swings(count: int) -> str:
    return "1 swing" if count == 1 else f"{count} swings"
