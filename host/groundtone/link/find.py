"""Which mats there are: those that answer at a serial port, and then those that the radio hears."""

from __future__ import annotations

from dataclasses import dataclass

from serial.tools import list_ports

from groundtone.errors import GroundtoneError, LinkError
from groundtone.link.base import Link
from groundtone.link.ble_link import BleLink
from groundtone.link.radio import NoRadioError, Radio
from groundtone.link.scan import LISTEN_S, mats_heard, the_mat
from groundtone.link.serial_link import SerialLink
from groundtone.wire.messages import Hello


@dataclass(frozen=True)
class Answer:
    """A port, and the mat's hello or the sentence why there is none."""

    port: str
    description: str
    hello: Hello | None
    why_not: str


def usb_ports() -> list[tuple[str, str]]:
    """Name and description of every serial port on USB. Others are never written to."""
    return [(p.device, p.description or "") for p in sorted(list_ports.comports()) if p.vid is not None]


def ask(port: str, description: str = "", patience_s: float = 1.5) -> Answer:
    """Says hello at one port."""
    try:
        with SerialLink(port, hello_s=patience_s) as link:
            return Answer(port, description, link.hello, "")
    except GroundtoneError as error:
        return Answer(port, description, None, str(error))


def find_mat() -> str:
    """The port of the one mat that answers by cable.

    Raises
    ------
    LinkError
        None answers, or more than one.
    """
    mats, why_not = _answers()
    if not mats:
        raise LinkError(f"no mat was found ({why_not}): plug it in, or name its port with --port")
    return _one(mats)


def open_any(radio: Radio | None, listen_s: float = LISTEN_S) -> Link:
    """The one mat that is there, open: by cable where one answers, else by radio.

    Parameters
    ----------
    radio : Radio or None
        None: by cable only.
    listen_s : float
        How long a radio is listened for.

    Raises
    ------
    LinkError
        There is none, or more than one on the way that was looked at.
    """
    mats, why_not = _answers()
    if mats:
        return SerialLink(_one(mats))
    if radio is None:
        raise LinkError(f"no mat was found ({why_not}): plug it in, or name its port with --port")
    try:
        heard = mats_heard(radio, listen_s)
    except NoRadioError as error:
        raise LinkError(
            f"no mat was found ({why_not}; no Bluetooth on this computer): plug it in, or name its port with --port"
        ) from error
    if not heard:
        raise LinkError(f"no mat was found ({why_not}; none is heard on Bluetooth): plug it in, or switch it on")
    return BleLink(the_mat(heard), radio)


def open_again(uid: str, port: str | None, radio: Radio | None, listen_s: float = LISTEN_S) -> Link:
    """A mat that was lost, opened anew: where it was, at any other port on USB, or by radio.

    Parameters
    ----------
    uid : str
        Its unique id.
    port : str or None
        The serial port at which it was; None where it was on the radio.
    listen_s : float
        How long the radio is listened to.

    Raises
    ------
    LinkError
        It is nowhere.
    """
    why_not = "no serial port on USB"
    for place in dict.fromkeys([*([port] if port else []), *(name for name, _ in usb_ports())]):
        try:
            link = SerialLink(place, hello_s=0.6)
        except GroundtoneError as error:
            why_not = str(error)
            continue
        if link.hello.uid == uid:
            return link
        why_not = f"at {place} is another mat, {link.hello.name}"
        link.close()
    if radio is None:
        raise LinkError(f"the mat is not back ({why_not})")
    try:
        return BleLink(the_mat(mats_heard(radio, listen_s, uid), uid), radio)
    except LinkError as error:
        raise LinkError(f"the mat is not back ({why_not}; {error})") from error


def _answers() -> tuple[list[Answer], str]:
    """The mats by cable, and in words what else is there."""
    answers = [ask(*port) for port in usb_ports()]
    why_not = "; ".join(answer.why_not for answer in answers if answer.why_not) or "no serial port on USB"
    return [answer for answer in answers if answer.hello is not None], why_not


def _one(mats: list[Answer]) -> str:
    if len(mats) > 1:
        names = ", ".join(f"{m.port} ({m.hello.name if m.hello else ''})" for m in mats)
        raise LinkError(f"more than one mat is there ({names}): choose one with --port")
    return mats[0].port
