"""A central without a radio, behind bleak's own interface: the program's Bluetooth code runs above it unchanged.

`virtual_backends` joins the air of a simulated mat (see `groundtone.twin.radio_end`) with a host stack in software
(`bumble`) and gives the two classes that `bleak` takes in the place of the system's.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.client import BaseBleakClient
from bleak.backends.descriptor import BleakGATTDescriptor
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData, BaseBleakScanner
from bleak.backends.service import BleakGATTService, BleakGATTServiceCollection
from bleak.exc import BleakError

from groundtone.twin.radio_end import HOST_ADDRESS


class Backends:
    """The two classes for bleak, and the end of what is behind them.

    Attributes
    ----------
    scanner, client : type
        For `bleak.BleakScanner(backend=...)` and `bleak.BleakClient(backend=...)`.
    """

    def __init__(self, device: Any, transport: Any, mtu: int) -> None:
        self._transport = transport
        self.scanner = type("VirtualScanner", (_Scanner,), {"device": device})
        self.client = type("VirtualClient", (_Client,), {"device": device, "wanted_mtu": mtu})

    async def close(self) -> None:
        """Leave the air."""
        await self._transport.close()


async def virtual_backends(socket: str, mtu: int = 247) -> Backends:
    """Joins the air at `socket`; to be called in the event loop that will own the link.

    Parameters
    ----------
    socket : str
        `groundtone.twin.mat_process.MatProcess.radio_socket`.
    mtu : int
        What this central asks for; 23 stands for one that asks for nothing.
    """
    from bumble.device import Device
    from bumble.hci import Address
    from bumble.transport.unix import open_unix_client_transport

    transport = await open_unix_client_transport(socket)
    device = Device.with_hci("host", Address(HOST_ADDRESS), transport.source, transport.sink)
    await device.power_on()
    return Backends(device, transport, mtu)


class _Scanner(BaseBleakScanner):
    device: Any

    def __init__(self, detection_callback: Any, service_uuids: Any, scanning_mode: str, **_: Any) -> None:
        super().__init__(detection_callback, service_uuids)

    async def start(self) -> None:
        self.seen_devices = {}
        self.device.on("advertisement", self._heard)
        await self.device.start_scanning(filter_duplicates=False)

    async def stop(self) -> None:
        self.device.remove_listener("advertisement", self._heard)
        await self.device.stop_scanning()

    def _heard(self, advertisement: Any) -> None:
        from bumble.core import UUID, AdvertisingData

        data = advertisement.data
        uuids: list[str] = []
        for kind in (
            AdvertisingData.Type.COMPLETE_LIST_OF_128_BIT_SERVICE_CLASS_UUIDS,
            AdvertisingData.Type.INCOMPLETE_LIST_OF_128_BIT_SERVICE_CLASS_UUIDS,
        ):
            for found in data.get_all(kind):
                uuids += [str(UUID(str(uuid))).lower() for uuid in found]
        name = data.get(AdvertisingData.Type.COMPLETE_LOCAL_NAME)
        if not self.is_allowed_uuid(uuids):
            return
        address = str(advertisement.address)
        heard = AdvertisementData(name, {}, {}, uuids, None, advertisement.rssi, ())
        self.call_detection_callbacks(self.create_or_update_device(address, address, name, advertisement, heard), heard)


class _Client(BaseBleakClient):
    device: Any
    wanted_mtu: int

    def __init__(self, address_or_ble_device: BLEDevice | str, **options: Any) -> None:
        super().__init__(
            address_or_ble_device,
            disconnected_callback=options.get("disconnected_callback"),
            timeout=options.get("timeout", 10.0),
        )
        self._connection: Any = None
        self._peer: Any = None

    @property
    def name(self) -> str:
        return self.address

    @property
    def mtu_size(self) -> int:
        return int(self._connection.att_mtu) if self._connection is not None else 23

    @property
    def is_connected(self) -> bool:
        return self._connection is not None

    async def connect(self, pair: bool, **_: Any) -> None:
        from bumble.device import Peer

        try:
            connection = await self.device.connect(self.address, timeout=self._timeout)
            connection.on("disconnection", lambda _: self._gone())
            self._connection, self._peer = connection, Peer(connection)
            if self.wanted_mtu > 23:
                await self._peer.request_mtu(self.wanted_mtu)
            await self._peer.discover_services()
            self.services = BleakGATTServiceCollection()
            for service in self._peer.services:
                mine = BleakGATTService(service, service.handle, _full(service.uuid))
                self.services.add_service(mine)
                await service.discover_characteristics()
                for found in service.characteristics:
                    self.services.add_characteristic(
                        BleakGATTCharacteristic(
                            found, found.handle, _full(found.uuid), _properties(found), lambda: self.mtu_size - 3, mine
                        )
                    )
        except asyncio.CancelledError:
            raise
        except Exception as error:
            raise BleakError(f"the virtual central cannot connect: {error!r}") from error

    def _gone(self) -> None:
        self._connection = self._peer = None
        if self._disconnected_callback is not None:
            self._disconnected_callback()

    async def disconnect(self) -> None:
        if self._connection is not None:
            await self._connection.disconnect()

    async def pair(self, *_: Any, **__: Any) -> None:
        raise NotImplementedError

    async def unpair(self) -> None:
        raise NotImplementedError

    async def read_gatt_char(self, *_: Any, **__: Any) -> bytearray:
        raise NotImplementedError

    async def read_gatt_descriptor(self, *_: Any, **__: Any) -> bytearray:
        raise NotImplementedError

    async def write_gatt_descriptor(self, descriptor: BleakGATTDescriptor, data: Any) -> None:
        raise NotImplementedError

    async def write_gatt_char(self, characteristic: BleakGATTCharacteristic, data: Any, response: bool) -> None:
        if self._peer is None:
            raise BleakError("not connected")
        if not response and len(data) > self.mtu_size - 3:
            raise BleakError(f"{len(data)} bytes do not fit into one write at MTU {self.mtu_size}")
        await characteristic.obj.write_value(bytes(data), with_response=response)

    async def start_notify(
        self, characteristic: BleakGATTCharacteristic, callback: Callable[[bytearray], None], **_: Any
    ) -> None:
        await characteristic.obj.subscribe(lambda value: callback(bytearray(value)))

    async def stop_notify(self, characteristic: BleakGATTCharacteristic) -> None:
        await characteristic.obj.unsubscribe()


def _full(uuid: Any) -> str:
    text = uuid.to_hex_str("-").lower()
    return text if len(text) == 36 else f"0000{text[-4:]}-0000-1000-8000-00805f9b34fb"


def _properties(found: Any) -> Any:
    names = ("broadcast", "read", "write-without-response", "write", "notify", "indicate")
    return [name for bit, name in enumerate(names) if int(found.properties) >> bit & 1]
