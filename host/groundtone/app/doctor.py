"""What is there, what is wrong, and how to mend it."""

from __future__ import annotations

import contextlib
import importlib.metadata
import os
import platform
import re
import sys

from rich.console import Console

from groundtone.app.console import say
from groundtone.app.mat import why_in_process
from groundtone.errors import GroundtoneError, LinkError
from groundtone.link.find import ask, usb_ports
from groundtone.link.radio import Radio, radio_running
from groundtone.link.scan import mats_heard
from groundtone.link.serial_link import SerialLink
from groundtone.mat.layout import known_layouts
from groundtone.tone.devices import list_devices
from groundtone.wire.codec import findings_from
from groundtone.wire.findings import faults, restart_sentence
from groundtone.wire.messages import WIRE_VERSION, Command, Hello

FIRMWARE = (0, 2, 0)
"""The firmware that comes with this program."""

# Weaker than this, packets begin to be damaged (from memory; receivers differ).
WEAK_DBM = -85


def doctor(console: Console) -> int:
    """Prints what was found; the number of things that want mending."""
    wrong = 0

    def good(text: str) -> None:
        say(console, f"  fine   {text}")

    def bad(text: str) -> None:
        nonlocal wrong
        wrong += 1
        say(console, f"  MEND   {text}")

    say(console, "Program")
    good(f"groundtone {_version()}, wire version {WIRE_VERSION}")
    good(f"Python {platform.python_version()} on {platform.platform(terse=True)}")
    for name in _requirements():
        try:
            good(f"{name} {importlib.metadata.version(name)}")
        except importlib.metadata.PackageNotFoundError:
            bad(f"{name} is missing: install the program again")
    good(f"layouts: {', '.join(known_layouts())}")

    say(console, "Simulated mat")
    reason = why_in_process()
    good("the firmware runs here on MicroPython") if reason is None else bad(reason)

    say(console, "Mats")
    ports = usb_ports()
    by_radio = radio_lines()
    if not ports and not any(" --port ble:" in line for line, _ in by_radio):
        bad("no serial port on USB: plug the mat in (a charging cable without data wires shows nothing either)")
    for port, description in ports:
        answer = ask(port, description)
        if answer.hello is None:
            bad(answer.why_not)
        else:
            good(mat_line(port, answer.hello))
            for sentence in mat_troubles(answer.hello) + self_test_troubles(port, answer.hello):
                bad(sentence)
    for line, mend in by_radio:
        bad(line) if mend else good(line)
    if sys.platform.startswith("linux") and not _may_open_ports():
        bad("this user is not in the group dialout, which owns serial ports: sudo usermod -aG dialout $USER")

    say(console, "Sound")
    try:
        cards = list_devices()
    except GroundtoneError as error:
        bad(str(error))
        cards = []
    for card in cards:
        good(f"{card.name} ({card.system})")
    if not cards:
        bad("no sound card: tones can be written to a file but not heard; plug in a speaker or headphones")
    return wrong


def radio_lines(radio: Radio | None = None) -> list[tuple[str, bool]]:
    """What the radio hears, a line each and whether it wants mending. No Bluetooth is no fault: there is the cable."""
    try:
        with contextlib.nullcontext(radio) if radio is not None else radio_running() as ears:
            heard = mats_heard(ears)
    except LinkError as error:
        return [(f"{error}; mats on a cable need none", False)]
    if not heard:
        return [("no mat is heard on Bluetooth (one that is connected to a program is silent)", False)]
    lines = [
        (f"{mat.name or 'a mat'} on Bluetooth, {mat.rssi} dBm: --port ble:{mat.name[-6:]}", False) for mat in heard
    ]
    weak = [
        (f"{mat.name} is heard weakly, and frames will be lost: bring it closer", True)
        for mat in heard
        if mat.rssi < WEAK_DBM
    ]
    return lines + weak


def mat_line(port: str, hello: Hello) -> str:
    """A mat in one line."""
    version = ".".join(map(str, hello.version))
    return f"{hello.name} at {port}: {hello.board}, firmware {version}, {hello.layout}, id {hello.uid}"


def mat_troubles(hello: Hello) -> list[str]:
    """What is wrong with a mat by its own words."""
    out = []
    if hello.state == 2:
        out.append(
            f"{hello.name} cannot prove that no two rows are joined: step off, let it dry, look for bridged strips"
        )
    if hello.version < FIRMWARE:
        out.append(f"{hello.name} runs older firmware: bring it up to date with 'groundtone build install'")
    if hello.layout not in known_layouts():
        out.append(f"{hello.name} has a layout that is not known here: {hello.layout}")
    why = restart_sentence(hello.restart)
    if why is not None:
        out.append(f"{hello.name}: {why}")
    return out


def self_test_troubles(port: str, hello: Hello) -> list[str]:
    """Faults that a mat finds in itself, each a sentence; a mat that runs or whose rows are joined is not asked."""
    if hello.state != 0:
        return []
    try:
        with SerialLink(port) as link:
            found = findings_from(link.request(Command.SELF_TEST))
    except GroundtoneError as error:
        return [str(error)]
    return [f"{hello.name}: {sentence}" for sentence in faults(found, hello.bits)]


def _version() -> str:
    try:
        return importlib.metadata.version("groundtone")
    except importlib.metadata.PackageNotFoundError:
        return "from its source folder, not installed"


def _requirements() -> list[str]:
    """Names of the packages that the program always needs."""
    try:
        wanted = importlib.metadata.requires("groundtone") or []
    except importlib.metadata.PackageNotFoundError:
        return []
    return [re.split(r"[ <>=!~;\[]", line)[0] for line in wanted if "extra ==" not in line]


def _may_open_ports() -> bool:
    import grp

    if os.geteuid() == 0:
        return True
    try:
        dialout = grp.getgrnam("dialout").gr_gid
    except KeyError:
        return True
    return dialout in os.getgroups()
