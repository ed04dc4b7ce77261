"""Which serial ports there are, and which of them answer as a mat."""

from __future__ import annotations

from dataclasses import dataclass

from serial.tools import list_ports

from groundtone.errors import GroundtoneError, LinkError
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
    """The port of the one mat that answers.

    Raises
    ------
    LinkError
        None answers, or more than one.
    """
    answers = [ask(*port) for port in usb_ports()]
    mats = [answer for answer in answers if answer.hello is not None]
    if not mats:
        seen = "; ".join(answer.why_not for answer in answers) or "no serial port on USB"
        raise LinkError(f"no mat was found ({seen}): plug it in, or name its port with --port")
    if len(mats) > 1:
        names = ", ".join(f"{m.port} ({m.hello.name if m.hello else ''})" for m in mats)
        raise LinkError(f"more than one mat is there ({names}): choose one with --port")
    return mats[0].port
