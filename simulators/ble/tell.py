"""What the daemon says of its objects: the properties on the bus."""

from __future__ import annotations

from collections.abc import Iterator

from dbus_fast import Variant

from simulators.ble.device import Characteristic, Descriptor, Device, Service

ADAPTER = "org.bluez.Adapter1"
DEVICE = "org.bluez.Device1"
SERVICE = "org.bluez.GattService1"
CHARACTERISTIC = "org.bluez.GattCharacteristic1"
DESCRIPTOR = "org.bluez.GattDescriptor1"
Properties = dict[str, Variant]
Thing = Service | Characteristic | Descriptor


def adapter(powered: bool, discovering: bool) -> Properties:
    """Of the adapter."""
    return {
        "Address": Variant("s", "00:00:00:00:00:01"),
        "Name": Variant("s", "simulated"),
        "Alias": Variant("s", "simulated"),
        "Powered": Variant("b", powered),
        "Discovering": Variant("b", discovering),
        "Roles": Variant("as", ["central"]),
        "UUIDs": Variant("as", []),
    }


def device(one: Device, adapter_path: str) -> Properties:
    """Of a device."""
    return {
        "Address": Variant("s", one.address),
        "AddressType": Variant("s", "random"),
        "Name": Variant("s", one.name),
        "Alias": Variant("s", one.name),
        "Adapter": Variant("o", adapter_path),
        "Paired": Variant("b", False),
        "Bonded": Variant("b", False),
        "Trusted": Variant("b", False),
        "Connected": Variant("b", one.connected),
        "ServicesResolved": Variant("b", one.resolved),
        "UUIDs": Variant("as", [service.uuid for service in one.services]),
        "RSSI": Variant("n", -60),
    }


def gatt(one: Device) -> Iterator[tuple[str, str, Properties, Thing]]:
    """Path, interface, properties and object of everything a connected device offers."""
    for service in one.services:
        told = {
            "UUID": Variant("s", service.uuid),
            "Primary": Variant("b", True),
            "Device": Variant("o", one.path),
            "Includes": Variant("ao", []),
        }
        yield service.path, SERVICE, told, service
        for characteristic in service.characteristics:
            told = {
                "UUID": Variant("s", characteristic.uuid),
                "Service": Variant("o", service.path),
                "Value": Variant("ay", b""),
                "Flags": Variant("as", list(characteristic.flags)),
                "MTU": Variant("q", one.mtu),
                "Notifying": Variant("b", bool(characteristic.sessions)),
            }
            yield characteristic.path, CHARACTERISTIC, told, characteristic
            for descriptor in characteristic.descriptors:
                told = {
                    "UUID": Variant("s", descriptor.uuid),
                    "Characteristic": Variant("o", characteristic.path),
                    "Value": Variant("ay", b""),
                }
                yield descriptor.path, DESCRIPTOR, told, descriptor
