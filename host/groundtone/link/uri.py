"""Links by name: `serial:/dev/ttyACM0`, `ble:NAME`, `replay:FILE`, `twin:SEED`; a bare port is a serial one."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from groundtone.errors import LinkError
from groundtone.link.base import Link
from groundtone.link.ble_link import BleLink
from groundtone.link.radio import Radio
from groundtone.link.scan import mats_heard, the_mat
from groundtone.link.serial_link import SerialLink

Opener = Callable[[str], Link]

KINDS = ("serial", "ble", "replay", "twin")


def split_uri(uri: str) -> tuple[str, str]:
    """Kind and place of a link's name.

    Parameters
    ----------
    uri : str
        A name, or the bare name of a serial port.

    Raises
    ------
    LinkError
        There is no such kind, or no place behind it.

    Examples
    --------
    >>> split_uri("ble:bay 3")
    ('ble', 'bay 3')
    >>> split_uri("/dev/ttyACM0")
    ('serial', '/dev/ttyACM0')
    >>> split_uri("COM5")
    ('serial', 'COM5')
    """
    kind, colon, place = uri.partition(":")
    if not colon or len(kind) == 1 or "/" in kind or "\\" in kind:
        return "serial", uri
    if kind not in KINDS:
        raise LinkError(f"{uri!r} names no link: it begins with {', '.join(f'{known}:' for known in KINDS)}")
    if not place and kind != "ble":
        raise LinkError(f"{uri!r} names no place: put it behind the colon")
    return kind, place


def open_link(uri: str, radio: Radio | None = None, others: Mapping[str, Opener] | None = None) -> Link:
    """Opens the link of that name.

    Parameters
    ----------
    uri : str
        See `split_uri`. `ble:` alone means the one mat in reach; else its name, its id (or the last six digits) or its
        address stands behind it.
    radio : Radio, optional
        Needed for `ble:`.
    others : mapping, optional
        What opens the kinds that live further down the flow: `replay` and `twin`, each from its place.

    Raises
    ------
    LinkError
        There is nothing at that place, or no way to it here.
    """
    kind, place = split_uri(uri)
    if kind == "serial":
        return SerialLink(place)
    if kind == "ble":
        if radio is None:
            raise LinkError("Bluetooth is not available to this command: plug the mat in by its cable")
        return BleLink(the_mat(mats_heard(radio, wanted=place), place), radio)
    if others is None or kind not in others:
        raise LinkError(f"{kind}: is not available to this command")
    return others[kind](place)
