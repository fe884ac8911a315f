"""The adapter's daemon: it answers on the bus, scans, connects and passes notifications on.

It does what a Bluetooth library asks of org.bluez and refuses, and remembers, everything else. It
was never compared with the real daemon; it shows nothing of a radio.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from typing import Any

from dbus_fast import Message, MessageType, NameFlag, RequestNameReply, Variant
from dbus_fast.aio import MessageBus

from simulators.ble import tell
from simulators.ble.device import Characteristic, Descriptor, Device
from simulators.ble.outbox import Outbox

_PATH = "/org/bluez/hci0"
_OBJECTS = "org.freedesktop.DBus.ObjectManager"
_PROPERTIES = "org.freedesktop.DBus.Properties"
_FAILED = "org.bluez.Error.Failed"


class _Refused(Exception):
    def __init__(self, name: str, text: str) -> None:
        super().__init__(text)
        self.name = name


class Daemon:
    """The stand-in for org.bluez on one bus."""

    def __init__(self, address: str, *, adapter: bool = True, interval: float = 0.02) -> None:
        """``address`` of the bus; ``interval``: seconds between advertisements."""
        self.powered = True
        self.hanging: set[str] = set()
        """Methods that are never answered."""
        self.refusing: dict[str, tuple[str, str]] = {}
        """Method → the D-Bus error it is answered with."""
        self.refused: list[str] = []
        """What was asked that is not here; a test expects none."""
        self.reads = 0
        """How often a value was read."""
        self.connecting_at_once = 0
        self.scans_at_once = 0
        self._address = address
        self._adapter = adapter
        self._interval = interval
        self._devices: list[Device] = []
        self._scanning: set[str] = set()
        self._things: dict[str, tell.Thing] = {}
        self._tasks: set[asyncio.Task[None]] = set()
        self._connecting = 0

    async def start(self) -> None:
        """Takes its name on the bus."""
        self._bus = MessageBus(bus_address=self._address)
        await self._bus.connect()
        self._outbox = Outbox(self._bus)
        self._bus.add_message_handler(self._asked)
        await self._bus.call(
            Message(
                destination="org.freedesktop.DBus",
                path="/org/freedesktop/DBus",
                interface="org.freedesktop.DBus",
                member="AddMatch",
                signature="s",
                body=["type='signal',member='NameOwnerChanged'"],
            )
        )
        taken = await self._bus.request_name("org.bluez", NameFlag.DO_NOT_QUEUE)
        assert taken is RequestNameReply.PRIMARY_OWNER, "another daemon is on this bus"
        self._spawn(self._advertising())

    async def stop(self) -> None:
        """Vanishes from the bus without a word, as a daemon that dies."""
        for task in list(self._tasks):
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        self._outbox.stop()
        self._bus.disconnect()
        with contextlib.suppress(Exception):
            # The bus library leaves this call without types.
            await self._bus.wait_for_disconnect()  # type: ignore[no-untyped-call]

    def add(self, device: Device) -> Device:
        """Puts a device within reach."""
        device.number(_PATH)
        self._devices.append(device)
        return device

    def notify(self, device: Device, one: Characteristic, value: bytes) -> bool:
        """The device sends ``value``; whether anybody had subscribed. Longer values are split as
        the connection's MTU demands."""
        if not (device.connected and one.sessions):
            return False
        size = device.mtu - 3
        for at in range(0, len(value), size):
            for _ in range(len(one.sessions) * device.copies):  # each session is told by itself
                part = Variant("ay", value[at : at + size])
                self._changed(one.path, tell.CHARACTERISTIC, {"Value": part})
        return True

    def vanish(self, device: Device) -> None:
        """The battery is out: the connection is lost, and nothing is heard any more."""
        device.on_air = False
        self.drop(device)

    def drop(self, device: Device) -> None:
        """The connection is lost; the device goes on advertising."""
        if not device.connected:
            return
        device.connected = False
        if device.resolved:
            device.resolved = False
            self._changed(device.path, tell.DEVICE, {"ServicesResolved": Variant("b", False)})
        self._changed(device.path, tell.DEVICE, {"Connected": Variant("b", False)})

    def _spawn(self, work: Any) -> None:
        task = asyncio.get_running_loop().create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _advertising(self) -> None:
        while True:
            for device in self._devices if self._scanning else []:
                for _ in range(device.advertisements):
                    self._advertise(device)
            await asyncio.sleep(self._interval)

    def _advertise(self, device: Device) -> None:
        if not device.on_air or device.connected:
            return
        if device.present:
            self._changed(device.path, tell.DEVICE, {"RSSI": Variant("n", -60)})
            return
        device.present = True
        self._added(device.path, tell.DEVICE, tell.device(device, _PATH))

    # what is said on the bus

    def _signal(self, path: str, interface: str, member: str, shape: str, body: list[Any]) -> None:
        self._outbox.send(
            Message(
                message_type=MessageType.SIGNAL,
                path=path,
                interface=interface,
                member=member,
                signature=shape,
                body=body,
            )
        )

    def _changed(self, path: str, interface: str, now: tell.Properties) -> None:
        self._signal(path, _PROPERTIES, "PropertiesChanged", "sa{sv}as", [interface, now, []])

    def _added(self, path: str, interface: str, properties: tell.Properties) -> None:
        body = [path, {interface: properties}]
        self._signal("/", _OBJECTS, "InterfacesAdded", "oa{sa{sv}}", body)

    # what is asked

    def _asked(self, message: Message) -> bool | None:
        if message.message_type is MessageType.SIGNAL:
            if message.member == "NameOwnerChanged" and not message.body[2]:
                self._client_ended(message.body[0])
            return None
        if message.message_type is not MessageType.METHOD_CALL:
            return None
        if message.member in self.hanging:
            return True
        self._spawn(self._answer(message))
        return True

    async def _answer(self, message: Message) -> None:
        try:
            if (why := self.refusing.get(message.member or "")) is not None:
                raise _Refused(*why)
            reply = await self._do(message)
        except _Refused as refused:
            reply = Message.new_error(message, refused.name, str(refused))
        self._outbox.send(reply or Message.new_method_return(message))

    async def _do(self, message: Message) -> Message | None:
        """What a method does; finished without waiting, except where a connection is made."""
        path, member, sender = message.path or "", message.member or "", message.sender or ""
        if member == "GetManagedObjects":
            return Message.new_method_return(message, "a{oa{sa{sv}}}", [self._objects()])
        device = next((one for one in self._devices if one.path == path and one.present), None)
        thing = self._things.get(path)
        if path == _PATH and member in ("SetDiscoveryFilter", "StartDiscovery", "StopDiscovery"):
            self._scan(member, sender)
        elif device is not None and member == "Connect":
            await self._connect(device)
        elif device is not None and member == "Disconnect":
            self.drop(device)
        elif isinstance(thing, Characteristic | Descriptor):
            return self._touch(message, thing, member, sender)
        elif path.startswith(f"{_PATH}/dev_") and device is None:
            raise _Refused("org.freedesktop.DBus.Error.UnknownObject", f"no object {path}")
        else:
            self.refused.append(f"{message.interface}.{member} {path}")
            raise _Refused("org.freedesktop.DBus.Error.UnknownMethod", member)
        return None

    def _scan(self, member: str, sender: str) -> None:
        if not self.powered:
            raise _Refused("org.bluez.Error.NotReady", "Resource Not Ready")
        if member == "StartDiscovery":
            if sender in self._scanning:
                raise _Refused("org.bluez.Error.InProgress", "Operation already in progress")
            self._scanning.add(sender)
            self.scans_at_once = max(self.scans_at_once, len(self._scanning))
        elif member == "StopDiscovery":
            if sender not in self._scanning:
                raise _Refused(_FAILED, "No discovery started")
            self._scanning.discard(sender)

    async def _connect(self, device: Device) -> None:
        if device.connected:
            raise _Refused("org.bluez.Error.AlreadyConnected", "Already Connected")
        self._connecting += 1
        self.connecting_at_once = max(self.connecting_at_once, self._connecting)
        try:
            await asyncio.sleep(0.002)
        finally:
            self._connecting -= 1
        if device.connect_errors:
            raise _Refused(*device.connect_errors.pop(0))
        if not device.on_air:
            raise _Refused(_FAILED, "le-connection-timeout")
        device.connected = True
        self._changed(device.path, tell.DEVICE, {"Connected": Variant("b", True)})
        asyncio.get_running_loop().call_soon(self._resolve, device)

    def _resolve(self, device: Device) -> None:
        if device.drops_early:
            device.drops_early -= 1
            self.drop(device)
            return
        for path, interface, properties, thing in tell.gatt(device):
            if path not in self._things:
                self._things[path] = thing
                self._added(path, interface, properties)
        device.resolved = True
        self._changed(device.path, tell.DEVICE, {"ServicesResolved": Variant("b", True)})

    def _touch(
        self, message: Message, thing: Characteristic | Descriptor, member: str, sender: str
    ) -> Message | None:
        device = next(one for one in self._devices if thing.path.startswith(one.path))
        if member in ("ReadValue", "WriteValue", "StartNotify") and not device.connected:
            raise _Refused(_FAILED, "Not connected")
        if isinstance(thing, Characteristic) and thing.refuses and member != "WriteValue":
            raise _Refused(*thing.refuses)
        if member == "ReadValue":
            self.reads += 1
            if isinstance(thing, Characteristic):
                changed = {"Value": Variant("ay", thing.value)}
                self._changed(thing.path, tell.CHARACTERISTIC, changed)
            return Message.new_method_return(message, "ay", [thing.value])
        if isinstance(thing, Descriptor):
            raise _Refused("org.bluez.Error.NotPermitted", "Write not permitted")
        doing: dict[str, Callable[[], None]] = {
            "StartNotify": lambda: thing.sessions.add(sender),
            "StopNotify": lambda: thing.sessions.discard(sender),
            "WriteValue": lambda: (thing.on_write or _ignore)(bytes(message.body[0])),
        }
        doing[member]()
        return None

    def _client_ended(self, name: str) -> None:
        """Only the end of a client ends its subscriptions: the loss of the link does not."""
        self._scanning.discard(name)
        for device in self._devices:
            for one in device.characteristics():
                one.sessions.discard(name)

    def _objects(self) -> dict[str, dict[str, tell.Properties]]:
        objects: dict[str, dict[str, tell.Properties]] = {}
        if self._adapter:
            told = tell.adapter(self.powered, bool(self._scanning))
            objects[_PATH] = {tell.ADAPTER: told}
        for device in self._devices:
            if device.present:
                objects[device.path] = {tell.DEVICE: tell.device(device, _PATH)}
                for path, interface, properties, _ in tell.gatt(device):
                    if path in self._things:
                        objects[path] = {interface: properties}
        return objects


def _ignore(_: bytes) -> None:
    """What a characteristic does with what is written, where nobody says otherwise."""
