"""Finding what is there: each bus on its own, in its own thread, with a time limit.

One broken device or one silent bus never hides the rest, and nothing is opened that the user has not chosen
(opening alone freezes some instruments: pyvisa-py #333). What was found, and what went wrong on the way, come
back as facts; the typed address stays possible whatever is listed here.
"""

from __future__ import annotations

import importlib
import os
import queue
import re
import socket
import sys
import threading
import warnings
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from drivers.clock import host_seconds

LIMIT_S = 2.5


@dataclass(frozen=True, slots=True)
class Found:
    """Something that may be a meter. `hint` says what to do where it cannot be used as it is."""

    address: str
    what: str
    source: str
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Trouble:
    """A bus that could not be searched, and why, in one sentence."""

    source: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Source:
    """One bus: what it is called, and how it is searched. `search` may block and may raise anything."""

    name: str
    search: Callable[[], Iterable[Found]]


class SourceMissing(Exception):
    """A bus that this computer cannot search, with the reason for a person."""


def find_meters(
    sources: Iterable[Source] | None = None, *, limit_s: float = LIMIT_S
) -> tuple[tuple[Found, ...], tuple[Trouble, ...]]:
    """Search every bus at once.

    Args:
        sources: the buses; None searches the usual ones.
        limit_s: after this, a bus that has not answered is named as such and left to itself.

    Returns:
        What was found, and what went wrong, each in the order of the sources.
    """
    chosen = list(usual_sources() if sources is None else sources)
    answers: queue.SimpleQueue[tuple[int, tuple[Found, ...] | Trouble]] = queue.SimpleQueue()
    for number, source in enumerate(chosen):
        threading.Thread(
            target=_search, args=(number, source, answers), name=f"search {source.name}", daemon=True
        ).start()
    found: dict[int, tuple[Found, ...]] = {}
    troubles: dict[int, Trouble] = {}
    deadline = host_seconds() + limit_s
    while len(found) + len(troubles) < len(chosen):
        try:
            number, answer = answers.get(timeout=max(0.0, deadline - host_seconds()))
        except queue.Empty:
            break
        if isinstance(answer, Trouble):
            troubles[number] = answer
        else:
            found[number] = answer
    for number, source in enumerate(chosen):
        if number not in found and number not in troubles:
            troubles[number] = Trouble(source.name, f"gave no answer within {limit_s:g} s")
    every = {each.address: each for number in sorted(found) for each in found[number]}
    return tuple(every.values()), tuple(troubles[number] for number in sorted(troubles))


def _search(
    number: int, source: Source, answers: queue.SimpleQueue[tuple[int, tuple[Found, ...] | Trouble]]
) -> None:
    try:
        answers.put((number, tuple(source.search())))
    except SourceMissing as problem:
        answers.put((number, Trouble(source.name, str(problem))))
    except Exception as problem:  # whatever a bus library raises, the other buses are still searched
        words = str(problem).splitlines()[0] if str(problem) else ""
        answers.put(
            (number, Trouble(source.name, f"could not be searched ({type(problem).__name__}: {words})"))
        )


# --- the usual buses ------------------------------------------------------------------------------------


def usual_sources() -> tuple[Source, ...]:
    """Serial ports, USB, the local network, and programs of this computer that stand in for meters."""
    return (
        Source("serial ports", serial_ports),
        Source("USB", usb_instruments),
        Source("network (VXI-11)", vxi11_instruments),
        Source("network (HiSLIP, mDNS)", hislip_instruments),
        Source("this computer", local_instruments),
    )


def serial_ports() -> list[Found]:
    """Ports that have hardware behind them (Linux lists dozens of ttyS that have not)."""
    from serial.tools import list_ports

    found = []
    for port in list_ports.comports():
        if port.hwid in (None, "", "n/a"):
            continue
        name = re.sub(r"^COM(?=\d+$)", "", port.device)
        hint = "" if os.name == "nt" or os.access(port.device, os.R_OK | os.W_OK) else _GROUP_HINT
        found.append(Found(f"ASRL{name}::INSTR", port.description or "serial port", "serial ports", hint))
    return sorted(found, key=lambda each: each.address)


_GROUP_HINT = "this user may not use it: sudo usermod -a -G dialout $USER, then log in again"


def usb_instruments() -> list[Found]:
    """Test-and-measurement devices by their descriptors alone. Nothing is reset or configured."""
    try:
        core = importlib.import_module("usb.core")
    except ImportError:
        raise SourceMissing("USB instruments need PyUSB: pip install pyusb") from None
    try:
        devices = list(core.find(find_all=True))
    except core.NoBackendError:
        raise SourceMissing(
            "USB instruments need the library libusb (Debian: apt-get install libusb-1.0-0)"
        ) from None
    found = []
    for device in devices:
        try:
            if any(_is_test_and_measurement(device)):
                found.append(_usb_found(device))
        except (core.USBError, ValueError, NotImplementedError) as problem:
            found.append(
                Found(
                    f"USB::0x{device.idVendor:04X}::0x{device.idProduct:04X}::INSTR",
                    "USB device whose description cannot be read",
                    "USB",
                    str(problem),
                )
            )
    return found


def _is_test_and_measurement(device: object) -> Iterable[bool]:
    for configuration in device:  # type: ignore[attr-defined]
        for interface in configuration:
            # USBTMC 1.0, table 43: application-specific class, subclass test and measurement
            yield (interface.bInterfaceClass, interface.bInterfaceSubClass) == (0xFE, 3)


def _usb_found(device: object) -> Found:
    vendor, product = device.idVendor, device.idProduct  # type: ignore[attr-defined]
    start = f"USB::0x{vendor:04X}::0x{product:04X}"
    path = f"/dev/bus/usb/{device.bus or 0:03d}/{device.address or 0:03d}"  # type: ignore[attr-defined]
    if sys.platform.startswith("linux") and os.path.exists(path) and not os.access(path, os.R_OK | os.W_OK):
        return Found(f"{start}::INSTR", "USB instrument", "USB", udev_hint(vendor))
    try:
        serial = str(device.serial_number or "")  # type: ignore[attr-defined]
    except (ValueError, NotImplementedError, OSError):
        return Found(f"{start}::INSTR", "USB instrument", "USB", udev_hint(vendor))
    cleaned = serial.rstrip("\0").strip()
    return Found(f"{start}::{cleaned}::INSTR" if cleaned else f"{start}::INSTR", "USB instrument", "USB")


def udev_hint(vendor: int) -> str:
    """What lets an ordinary user use instruments of a USB vendor on Linux."""
    return (
        "this user may not use it; put into /etc/udev/rules.d/70-warmtrim.rules: "
        f'SUBSYSTEM=="usb", ATTR{{idVendor}}=="{vendor:04x}", TAG+="uaccess" and plug it in again'
    )


def vxi11_instruments() -> list[Found]:
    """Instruments that answer a VXI-11 broadcast; takes a second."""
    from pyvisa_py.tcpip import TCPIPInstrVxi11

    # It says so on every search where psutil is missing; one network is what a bench has.
    warnings.filterwarnings("ignore", message="TCPIP:instr resource discovery is limited")
    return [
        Found(each, "network instrument", "network (VXI-11)") for each in TCPIPInstrVxi11.list_resources()
    ]


def hislip_instruments() -> list[Found]:
    """Instruments that announce HiSLIP by mDNS; takes a second."""
    from pyvisa_py import tcpip

    if tcpip.zeroconf is None:
        raise SourceMissing("needs the package zeroconf; an address can be typed all the same")
    return [
        Found(each, "network instrument", "network (HiSLIP, mDNS)")
        for each in tcpip.TCPIPInstrHiSLIP.list_resources()
    ]


_LOCAL_PORTS = {  # registered with IANA: hislip 4880, scpi-raw 5025
    4880: "TCPIP::127.0.0.1::hislip0::INSTR",
    5025: "TCPIP::127.0.0.1::5025::SOCKET",
}


def local_instruments() -> list[Found]:
    """Programs that listen on the instrument ports of this computer: simulations, bridges to other buses."""
    found = []
    for port, address in _LOCAL_PORTS.items():
        with socket.socket() as trial:
            trial.settimeout(0.2)
            if trial.connect_ex(("127.0.0.1", port)) == 0:
                found.append(Found(address, "program on this computer", "this computer"))
    return found
