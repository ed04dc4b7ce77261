"""The mat's radio without a radio: what the firmware's `bluetooth` double says is done by a peripheral in software.

The peripheral and the air are `bumble`'s. A second controller hangs on the same air, and whoever connects to the Unix
socket is its host: there the program's own central sits (see `groundtone.twin.central`). Nothing here says anything
about the timing of a real radio.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import struct
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from groundtone.twin.errors import TwinError

MAT_ADDRESS = "F0:F1:F2:F3:F4:F5"
HOST_ADDRESS = "E0:E1:E2:E3:E4:E5"


@dataclass
class _Wish:
    """What the mat has asked for last."""

    mtu: int = 23
    advert: bytes | None = None
    response: bytes = b""
    service: tuple[bytes, bytes, bytes] | None = None


@dataclass
class RadioEnd:
    """Serves one mat's radio. Made by the twin's process; `run` is for an event loop of the owner's.

    Parameters
    ----------
    from_mat, to_mat : int
        Descriptors of the pipes of the firmware's `bluetooth` double.
    socket : str
        Where the central's host may connect.
    """

    from_mat: int
    to_mat: int
    socket: str
    _wish: _Wish = field(default_factory=_Wish)
    _away: bool = False
    _device: Any = None
    _connection: Any = None
    _sender: Any = None
    _pending: bytes = b""

    async def run(self, ready: Any) -> None:
        """Serves until it is cancelled; calls `ready` once there is something to connect to."""
        from bumble.controller import Controller
        from bumble.device import Device
        from bumble.hci import Address
        from bumble.host import Host
        from bumble.link import LocalLink
        from bumble.transport.common import AsyncPipeSink
        from bumble.transport.unix import open_unix_server_transport

        air = LocalLink()  # type: ignore[no-untyped-call]
        controller = Controller("mat", link=air, public_address=MAT_ADDRESS)
        self._device = Device(address=Address(MAT_ADDRESS), host=Host(controller, AsyncPipeSink(controller)))
        self._device.on("connection", self._connected)
        async with await open_unix_server_transport(self.socket) as transport:
            Controller("host", transport.source, transport.sink, link=air, public_address=HOST_ADDRESS)
            await self._device.power_on()
            loop = asyncio.get_running_loop()
            os.set_blocking(self.from_mat, False)
            said: asyncio.Queue[tuple[bytes, bytes]] = asyncio.Queue()
            loop.add_reader(self.from_mat, self._read, said)
            ready()
            try:
                while True:
                    await self._obey(*await said.get())
            finally:
                loop.remove_reader(self.from_mat)

    async def away(self, gone: bool) -> None:
        """Takes the mat out of reach, or brings it back."""
        self._away = gone
        if gone:
            await self._hush()
            await self._let_go()
        elif self._wish.advert is not None and self._connection is None:
            await self._advertise()

    def _read(self, said: asyncio.Queue[tuple[bytes, bytes]]) -> None:
        try:
            data = os.read(self.from_mat, 65536)
        except BlockingIOError:
            return
        if not data:
            asyncio.get_running_loop().remove_reader(self.from_mat)
            return
        self._pending += data
        while len(self._pending) >= 3:
            op, n = struct.unpack_from("<cH", self._pending)
            if len(self._pending) < 3 + n:
                break
            said.put_nowait((op, self._pending[3 : 3 + n]))
            self._pending = self._pending[3 + n :]

    def _tell(self, op: bytes, body: bytes = b"") -> None:
        with contextlib.suppress(OSError):
            os.write(self.to_mat, struct.pack("<cH", op, len(body)) + body)

    async def _obey(self, op: bytes, body: bytes) -> None:
        match op:
            case b"M":
                self._wish.mtu = struct.unpack("<H", body)[0]
            case b"V":
                self._wish.service = (body[:16], body[16:32], body[32:48])
                self._serve()
            case b"A":
                n = body[0]
                self._wish.advert, self._wish.response = body[1 : 1 + n], body[1 + n :]
                if not self._away:
                    await self._advertise()
            case b"N":
                if self._connection is not None:
                    await self._device.notify_subscriber(self._connection, self._sender, body, force=True)
            case b"D":
                await self._let_go()
            case b"O":
                self._wish.advert = None
                await self._hush()
                await self._let_go()

    def _serve(self) -> None:
        from bumble.core import UUID
        from bumble.gatt import Characteristic, CharacteristicValue, Service
        from bumble.gatt_server import Server

        assert self._wish.service is not None
        service, sender, taker = (UUID.from_bytes(raw) for raw in self._wish.service)
        properties = Characteristic.Properties
        self._device.gatt_server = Server(self._device)
        self._device.gatt_server.max_mtu = self._wish.mtu
        self._sender = Characteristic(sender, properties.NOTIFY, Characteristic.READABLE, b"")
        writes = properties.WRITE | properties.WRITE_WITHOUT_RESPONSE
        value = CharacteristicValue(write=lambda _, data: self._tell(b"w", bytes(data)))
        written = Characteristic(taker, writes, Characteristic.WRITEABLE, value)
        self._device.add_service(Service(service, [self._sender, written]))

    async def _advertise(self) -> None:
        await self._hush()
        # The air of `bumble` knows no scan response of its own: what the mat would answer is told at once.
        assert self._wish.advert is not None
        await self._device.start_advertising(
            advertising_data=self._wish.advert + self._wish.response,
            advertising_interval_min=20.0, advertising_interval_max=20.0,
        )  # fmt: skip

    async def _hush(self) -> None:
        if self._device.is_advertising:
            await self._device.stop_advertising()

    async def _let_go(self) -> None:
        if self._connection is not None:
            with contextlib.suppress(Exception):  # it has gone meanwhile, whatever bumble calls that
                await asyncio.wait_for(self._connection.disconnect(), 1.0)

    def _connected(self, connection: Any) -> None:
        self._connection = connection
        self._wish.advert = None  # as on the chip, advertising ends with a connection
        connection.on("disconnection", lambda _: self._disconnected(connection))
        connection.on("connection_att_mtu_update", lambda: self._tell(b"m", struct.pack("<H", connection.att_mtu)))
        self._tell(b"c")

    def _disconnected(self, connection: Any) -> None:
        if self._connection is connection:
            self._connection = None
            self._tell(b"d")


@contextlib.contextmanager
def serving(end: RadioEnd) -> Iterator[Callable[[bool], None]]:
    """Serves a radio in a thread, for as long as the block lasts.

    Gives a function that takes the mat out of reach (True) or brings it back.

    Raises
    ------
    TwinError
        The peripheral's stack is not installed, or the socket cannot be made.
    """
    loop = asyncio.new_event_loop()
    ready = threading.Event()
    trouble: list[Exception] = []

    def serve() -> None:
        asyncio.set_event_loop(loop)
        try:
            loop.run_until_complete(task)
        except asyncio.CancelledError:
            pass
        except Exception as error:  # said to whoever waits, or on the way to the log
            trouble.append(error)
            ready.set()
            raise
        finally:
            loop.close()

    task = loop.create_task(end.run(ready.set))
    thread = threading.Thread(target=serve, name="radio", daemon=True)
    thread.start()
    ready.wait(20.0)
    if trouble or not ready.is_set():
        why = trouble[0] if trouble else "no answer"
        raise TwinError(f"The simulated radio does not start ({why}): install bumble.")
    try:
        yield lambda gone: asyncio.run_coroutine_threadsafe(end.away(gone), loop).result(5.0)
    finally:
        with contextlib.suppress(RuntimeError):
            loop.call_soon_threadsafe(task.cancel)
        thread.join(5.0)
