"""Finding meters: one broken bus never hides the rest, and a missing permission is named as such."""

from __future__ import annotations

import socket
import sys
import threading
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import pytest
from serial.tools import list_ports

from drivers.addresses import AddressKind, parse_address
from drivers.clock import host_seconds
from drivers.discovery import (
    Found,
    Source,
    SourceMissing,
    find_meters,
    local_instruments,
    serial_ports,
    udev_hint,
    usual_sources,
)

GOOD = Found("TCPIP::127.0.0.1::INSTR", "network instrument", "good")


def failing() -> list[Found]:
    raise RuntimeError("an odd device\nwith details")


def missing() -> list[Found]:
    raise SourceMissing("needs a library")


def test_one_broken_bus_does_not_hide_the_rest() -> None:
    found, troubles = find_meters(
        [Source("broken", failing), Source("missing", missing), Source("good", lambda: [GOOD])]
    )

    assert found == (GOOD,)
    assert [trouble.source for trouble in troubles] == ["broken", "missing"]
    assert "RuntimeError: an odd device" in troubles[0].sentence
    assert "\n" not in troubles[0].sentence
    assert troubles[1].sentence == "needs a library"


def test_a_bus_that_hangs_is_left_to_itself() -> None:
    release = threading.Event()

    def hanging() -> list[Found]:
        release.wait(5.0)
        return []

    started = host_seconds()
    found, troubles = find_meters([Source("hanging", hanging), Source("good", lambda: [GOOD])], limit_s=0.05)
    release.set()

    assert found == (GOOD,)
    assert troubles[0].sentence == "gave no answer within 0.05 s"
    assert host_seconds() - started < 2.0


def test_the_same_address_is_listed_once() -> None:
    found, _ = find_meters([Source("one", lambda: [GOOD]), Source("two", lambda: [GOOD])])

    assert found == (GOOD,)


def test_the_usual_buses_are_searched_apart() -> None:
    assert len({source.name for source in usual_sources()}) == 5


def test_serial_ports_without_hardware_are_not_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    ports = [
        SimpleNamespace(device="/dev/ttyS4", hwid="n/a", description="n/a"),
        SimpleNamespace(device="/dev/ttyUSB0", hwid="USB VID:PID=1234:5678", description="adapter"),
        SimpleNamespace(device="COM7", hwid="PCI", description="card"),
    ]
    monkeypatch.setattr(list_ports, "comports", lambda: ports)
    found = serial_ports()

    assert [each.address for each in found] == ["ASRL/dev/ttyUSB0::INSTR", "ASRL7::INSTR"]
    assert all(parse_address(each.address).kind is AddressKind.SERIAL for each in found)
    assert "dialout" in found[0].hint


class FakeDevice:
    """A device as PyUSB lists it; reading its serial number may fail."""

    bus, address, idVendor, idProduct = 1, 7, 0x1234, 0x5678  # noqa: N815 - as PyUSB calls them

    def __init__(self, interface_class: int = 0xFE, serial: str | Exception = "SN1\0\0") -> None:
        self._class = interface_class
        self._serial = serial
        self.touched: list[str] = []

    def __iter__(self) -> Iterator[list[SimpleNamespace]]:
        yield [SimpleNamespace(bInterfaceClass=self._class, bInterfaceSubClass=3)]

    def __getattr__(self, name: str) -> Any:
        self.touched.append(name)
        raise AttributeError(name)

    @property
    def serial_number(self) -> str:
        if isinstance(self._serial, Exception):
            raise self._serial
        return self._serial


class TestUsb:
    @pytest.fixture
    def devices(self, monkeypatch: pytest.MonkeyPatch) -> list[FakeDevice]:
        devices: list[FakeDevice] = []
        core = SimpleNamespace(
            find=lambda find_all: iter(devices),
            USBError=OSError,
            NoBackendError=type("NoBackend", (Exception,), {}),
        )
        monkeypatch.setitem(sys.modules, "usb", SimpleNamespace(core=core))
        monkeypatch.setitem(sys.modules, "usb.core", core)
        return devices

    def search(self) -> tuple[Found, ...]:
        source = next(source for source in usual_sources() if source.name == "USB")
        found, troubles = find_meters([source])
        assert troubles == ()
        return found

    def test_instruments_are_listed_by_their_descriptors(self, devices: list[FakeDevice]) -> None:
        devices += [FakeDevice(), FakeDevice(interface_class=3)]

        assert [each.address for each in self.search()] == ["USB::0x1234::0x5678::SN1::INSTR"]
        assert devices[0].touched == []

    def test_a_missing_permission_shows_the_udev_line(self, devices: list[FakeDevice]) -> None:
        devices.append(FakeDevice(serial=ValueError("The device has no langid")))
        (found,) = self.search()

        assert found.hint == udev_hint(0x1234)
        assert 'ATTR{idVendor}=="1234"' in found.hint

    def test_an_odd_device_does_not_hide_the_next(self, devices: list[FakeDevice]) -> None:
        class Odd(FakeDevice):
            def __iter__(self) -> Iterator[list[SimpleNamespace]]:
                raise OSError(5, "input/output error")

        devices += [Odd(), FakeDevice()]
        found = self.search()

        assert len(found) == 2
        assert "input/output error" in found[0].hint

    def test_without_the_library_the_cure_is_named(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setitem(sys.modules, "usb", None)
        monkeypatch.setitem(sys.modules, "usb.core", None)
        source = next(source for source in usual_sources() if source.name == "USB")
        _, troubles = find_meters([source])

        assert "pip install pyusb" in troubles[0].sentence


def test_a_program_on_an_instrument_port_of_this_computer_is_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A port where nobody listens is not."""
    with socket.create_server(("127.0.0.1", 0)) as listening, socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        ports = {listening.getsockname()[1]: GOOD.address, unused.getsockname()[1]: "nobody"}
        monkeypatch.setattr("drivers.discovery._LOCAL_PORTS", ports)

        found = local_instruments()

    assert [each.address for each in found] == [GOOD.address]
