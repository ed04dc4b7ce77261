"""`groundtone build settings`: what the mat remembers about itself, shown and changed."""

from __future__ import annotations

import click
from rich.console import Console

from groundtone.app.console import say
from groundtone.errors import GroundtoneError, RequestError
from groundtone.link.base import Link
from groundtone.link.find import find_mat
from groundtone.link.serial_link import SerialLink
from groundtone.wire.codec import string, strings
from groundtone.wire.messages import Command, Status

KEYS = {
    "name": "what it is called, also over the radio; 1 to 20 characters",
    "layout": "its build, as in starter-10x3; 'groundtone build install --mat' sets and checks it",
    "oversample": "readings a value: 1, 2, 4, 8",
    "settle_us": "wait before a reading, 1 to 200 µs",
    "window": "frames under way on the cable, 2 to 32",
    "radio": "on or off",
}


@click.command("settings")
@click.argument("changes", nargs=-1, metavar="[KEY=VALUE]...")
@click.option("--port", help="Serial port of the mat; without it the one mat that answers is taken.")
def settings(changes: tuple[str, ...], port: str | None) -> None:
    """What the mat remembers: its name, layout, readings, radio. KEY=VALUE changes it, as in radio=off."""
    wanted = [_split(change) for change in changes]
    console = Console()
    with SerialLink(port or find_mat()) as link:
        for key, value in wanted:
            (stored,) = strings(link.request(Command.SET, string(key) + string(value)), 1)
            say(console, f"{key} is now {stored}.")
        if not wanted:
            for key, what in KEYS.items():
                say(console, f"{key}: {value_of(link, key)} ({what})")


def value_of(link: Link, key: str) -> str:
    """A setting as the mat tells it; "not known" from firmware that has no such setting."""
    try:
        (value,) = strings(link.request(Command.GET, string(key)), 1)
    except RequestError as error:
        if error.status != Status.UNKNOWN_SETTING:
            raise
        return "not known"
    return value


def _split(change: str) -> tuple[str, str]:
    key, equals, value = change.partition("=")
    if not equals or key not in KEYS:
        raise GroundtoneError(f"{change!r} changes nothing: give KEY=VALUE with one of {', '.join(KEYS)}")
    return key, value
