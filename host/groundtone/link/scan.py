"""Which mats a radio hears, and which of them is meant."""

from __future__ import annotations

import asyncio
import contextlib
import re
from dataclasses import dataclass
from typing import Any

from groundtone.errors import LinkError
from groundtone.link.radio import SERVICE, NoRadioError, Radio

LISTEN_S = 4.0
"""So long a mat may take to be heard; it calls ten times a second, and computers listen a part of the time."""


@dataclass(frozen=True)
class Heard:
    """A mat that was heard.

    Attributes
    ----------
    address : str
        Its Bluetooth address; on macOS a name of the system's own for it.
    name : str
        As it is advertised: the mat's name and the last six digits of its id.
    rssi : int
        How strongly, dBm.
    device : object
        What bleak connects to.
    """

    address: str
    name: str
    rssi: int
    device: Any

    def is_called(self, wanted: str) -> bool:
        """Is this the mat of that name, id (all of it or its last six digits) or address?"""
        word = wanted.strip().lower()
        name = self.name.lower()
        if word in (name, self.address.lower(), name.rpartition(" ")[0]):
            return True
        return re.fullmatch(r"[0-9a-f]{6}|[0-9a-f]{16}", word) is not None and name.endswith(" " + word[-6:])


def mats_heard(radio: Radio, seconds: float = LISTEN_S, wanted: str = "") -> list[Heard]:
    """The mats in reach, the loudest first.

    Parameters
    ----------
    wanted : str
        Name, id or address of the one that is meant: the listening ends as soon as it is heard.

    Raises
    ------
    NoRadioError
        This computer has no Bluetooth, or it is switched off.
    """
    return radio.do(_listen(radio, seconds, wanted), seconds + 10.0, "Bluetooth does not answer: switch it off and on")


def the_mat(heard: list[Heard], wanted: str = "") -> Heard:
    """The one mat that is meant.

    Raises
    ------
    LinkError
        There is none, or more than one.
    """
    mats = [mat for mat in heard if not wanted or mat.is_called(wanted)]
    if not mats:
        there = ", ".join(mat.name or mat.address for mat in heard)
        which = f"the mat {wanted!r} is not heard" if wanted else "no mat is heard on Bluetooth"
        others = f"; others are: {there}" if there else ""
        raise LinkError(f"{which}{others}: switch it on, come closer, and see that no other program is connected to it")
    if len(mats) > 1:
        names = ", ".join(f"{mat.name} ({mat.address})" for mat in mats)
        raise LinkError(f"more than one mat is in reach ({names}): name one with --port ble:NAME")
    return mats[0]


async def _listen(radio: Radio, seconds: float, wanted: str) -> list[Heard]:
    from bleak import BleakScanner
    from bleak.exc import BleakError

    heard: dict[str, Heard] = {}
    found = asyncio.Event()

    def take(device: Any, advert: Any) -> None:
        name = advert.local_name or device.name or (heard[device.address].name if device.address in heard else "")
        mat = Heard(device.address, name, advert.rssi, device)
        heard[device.address] = mat
        if wanted and mat.is_called(wanted):
            found.set()

    try:
        async with BleakScanner(take, service_uuids=[SERVICE], backend=radio.scanner):
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(found.wait(), seconds)
    except (BleakError, OSError, ImportError) as error:
        raise NoRadioError(
            f"Bluetooth cannot be used on this computer ({error}): switch it on, or plug the mat in by its cable"
        ) from error
    return sorted(heard.values(), key=lambda mat: -mat.rssi)
