"""Addresses: what a person types to say which instrument is meant.

VISA resource strings name what VISA knows. Our own words name the rest:

    typed                     a person reads a display and types
    typed:NAME                the same, where there are several
    simulated                 the simulated bench (its first meter)
    simulated:NAME            a named meter of the simulated bench
    stream:VISA-STRING        text lines that arrive by themselves, over serial or TCP
    file:PATH                 a file of readings standing in for a meter

Behind a serial address may stand how the port is set and how the meter behaves on it:
`ASRL3::INSTR 19200 8N2 dsrdtr`, `ASRL3::INSTR 9600 echo prompt==> failure=?> ctrl-c`.

`parse_address` only reads the text; nothing is opened. `link_for` builds the link for those that have one.
"""

from __future__ import annotations

import difflib
import ipaddress
import re
from dataclasses import dataclass
from enum import StrEnum

from drivers.errors import AddressError
from drivers.links import Link
from drivers.links.line import LineLink

EXAMPLES = ("TCPIP::192.168.1.20::5025::SOCKET", "TCPIP::192.168.1.20::hislip0::INSTR", "typed", "simulated")
_OWN_WORDS = ("typed", "simulated", "stream", "file")
_HOST_AND_PORT = re.compile(r"^(?P<host>[A-Za-z0-9][A-Za-z0-9.-]*)(?::(?P<port>\d{1,5}))?$")
_BUS = re.compile(r"^(?:PRLGX-TCPIP|PRLGX-ASRL|TCPIP|ASRL|USB|GPIB|VICP|VXI|PXI)", re.IGNORECASE)
_SERIAL_PORT = re.compile(r"^(?:/dev/\S+|COM\d+)$", re.IGNORECASE)


class AddressKind(StrEnum):
    """How an address is reached."""

    TCP_LINE = "line over TCP"
    SERIAL = "serial port"
    VISA = "VISA"
    SIMULATED = "simulated bench"
    TYPED = "typed by a person"
    STREAM = "stream of lines"
    FILE = "file of readings"


@dataclass(frozen=True, slots=True)
class Address:
    """An address taken apart.

    `host` and `port` belong to TCP_LINE, `port_name` to SERIAL, `detail` is the part after the colon of
    our own words or the settings of a serial port, and `inner` is the address that a STREAM arrives from.
    """

    text: str
    kind: AddressKind
    host: str = ""
    port: int = 0
    port_name: str = ""
    detail: str = ""
    inner: Address | None = None

    def __str__(self) -> str:
        return self.text


def parse_address(text: str) -> Address:
    """Take an address apart.

    Raises:
        AddressError: with one sentence that says what is wrong and, where there is one, the likely meaning.
    """
    cleaned = text.strip()
    if not cleaned:
        raise AddressError(f"the address is empty: give one such as {EXAMPLES[0]} or typed")
    word, _, detail = cleaned.partition(":")
    if word.lower() in _OWN_WORDS and not detail.startswith(":"):
        return _own(word.lower(), detail.strip())
    if "::" not in cleaned:
        raise _no_visa_string(cleaned)
    cleaned, _, settings = cleaned.partition(" ")
    from pyvisa import rname  # our own words, and whoever only asks which kinds there are, do without

    try:
        parsed = rname.ResourceName.from_string(_with_capitals(cleaned))
    except rname.InvalidResourceName as problem:
        raise AddressError(_visa_sentence(cleaned, problem)) from problem
    if settings.strip() and not isinstance(parsed, rname.ASRLInstr):
        raise AddressError(f"{text.strip()!r}: {settings.strip()!r} may stand behind a serial address only")
    if isinstance(parsed, rname.TCPIPSocket):
        return Address(
            cleaned, AddressKind.TCP_LINE, host=parsed.host_address, port=_port(cleaned, parsed.port)
        )
    if isinstance(parsed, rname.ASRLInstr):
        from drivers.links.serial import serial_format

        serial_format(settings)
        text = f"{_with_capitals(cleaned)} {' '.join(settings.split())}".strip()
        return Address(
            text, AddressKind.SERIAL, port_name=_serial_name(parsed.board), detail=settings.strip()
        )
    return Address(_with_capitals(cleaned), AddressKind.VISA)


def link_for(address: str | Address, *, visa_library: str = "@py") -> Link:
    """The link for an address, not yet open.

    Args:
        address: as typed, or already taken apart.
        visa_library: which VISA carries USB, GPIB, VXI-11 and HiSLIP: "@py" (PyVISA-py), or "@ivi" or a
            library's path for an installed vendor VISA.

    Raises:
        AddressError: when the address is wrong, or is of a kind that has no link (typed, simulated, file).
    """
    known = parse_address(address) if isinstance(address, str) else address
    if known.kind is AddressKind.TCP_LINE:
        from drivers.links.tcp import TcpLink

        return TcpLink(known.host, known.port, address=known.text)
    if known.kind is AddressKind.SERIAL:
        from drivers.links.serial import SerialLink, serial_format

        return SerialLink(known.port_name, address=known.text, form=serial_format(known.detail))
    if known.kind is AddressKind.VISA:
        from drivers.links.visa import VisaLink

        return VisaLink(known.text, library=visa_library)
    raise AddressError(f"{known.text}: {known.kind.value} has no link of its own to open")


def _with_capitals(text: str) -> str:
    """The bus and the last word in capitals, as PyVISA wants them; names in between keep their case."""
    parts = text.split("::")
    if parts[-1].upper() in ("INSTR", "SOCKET", "RAW", "INTFC"):
        parts[-1] = parts[-1].upper()
    bus = _BUS.match(parts[0])
    if bus:
        parts[0] = bus[0].upper() + parts[0][bus.end() :]
    return "::".join(parts)


def stream_link(address: str | Address) -> LineLink:
    """The link for the lines of a `stream:` address, not yet open. Raises AddressError."""
    known = parse_address(address) if isinstance(address, str) else address
    inner = known.inner
    if inner is None:
        raise AddressError(f"{known.text} is not a stream of lines; write stream: in front of it")
    if inner.kind is AddressKind.SERIAL:
        from drivers.links.serial import SerialLink, serial_format

        form = serial_format(inner.detail)
        return SerialLink(inner.port_name, address=known.text, form=form, talks=True)
    from drivers.links.tcp import TcpLink

    return TcpLink(inner.host, inner.port, address=known.text)


def _own(word: str, detail: str) -> Address:
    if word == "typed":
        return Address(f"typed:{detail}" if detail else "typed", AddressKind.TYPED, detail=detail)
    if word == "simulated":
        return Address(f"simulated:{detail}" if detail else "simulated", AddressKind.SIMULATED, detail=detail)
    if word == "file":
        if not detail:
            raise AddressError("file: needs the path of a file of readings after the colon")
        return Address(f"file:{detail}", AddressKind.FILE, detail=detail)
    if not detail:
        raise AddressError("stream: needs the address the lines come from, such as stream:ASRL3::INSTR")
    inner = parse_address(detail)
    if inner.kind not in (AddressKind.SERIAL, AddressKind.TCP_LINE):
        raise AddressError(f"stream:{detail}: lines can arrive over a serial port or a TCP socket only")
    return Address(f"stream:{inner.text}", AddressKind.STREAM, detail=inner.text, inner=inner)


def _no_visa_string(text: str) -> AddressError:
    """The error for what is neither a VISA string nor one of our words, with a guess at what was meant."""
    if _SERIAL_PORT.match(text):
        name = text if text.startswith("/") else text[3:]
        return _meant(text, f"ASRL{name}::INSTR", "is a serial port without the VISA words around it")
    host = _HOST_AND_PORT.match(text)
    if host and (host["port"] or _is_ip(host["host"])):
        port = host["port"] or "5025"
        return _meant(
            text,
            f"TCPIP::{host['host']}::{port}::SOCKET",
            "is a network address without the VISA words around it",
        )
    if text.lower().endswith((".csv", ".jsonl")):
        return _meant(text, f"file:{text}", "looks like a file")
    near = difflib.get_close_matches(text.lower().split(":")[0], _OWN_WORDS, n=1, cutoff=0.6)
    if near:
        return _meant(text, near[0], "is not an address")
    return AddressError(
        f"{text!r} is not an address: give a VISA resource string such as {EXAMPLES[0]}, "
        "or typed, or simulated"
    )


def _meant(text: str, suggestion: str, what: str) -> AddressError:
    return AddressError(f"{text!r} {what}; did you mean {suggestion} ?", suggestion)


def _visa_sentence(text: str, problem: Exception) -> str:
    start = text.split("::", maxsplit=1)[0].upper()
    interfaces = sorted({key[0] for key in _syntaxes()}, key=len)
    if not any(start.startswith(interface) for interface in interfaces):
        near = difflib.get_close_matches(start, interfaces, n=1, cutoff=0.5)
        meant = "::".join([near[0], *text.split("::")[1:]]) if near else ""
        guess = f"; did you mean {meant} ?" if near else f"; an address looks like {EXAMPLES[0]}"
        return f"{text!r} does not begin with a bus that VISA knows{guess}"
    if "[" in text:
        return (
            f"{text!r}: an IPv6 address cannot be written in a VISA string; "
            "give the instrument's name or its IPv4 address"
        )
    syntax = next((shown for key, shown in _syntaxes().items() if start.startswith(key[0])), EXAMPLES[0])
    if start.startswith("TCPIP"):
        syntax = f"{EXAMPLES[0]} or {EXAMPLES[1]}"
    return f"{text!r} is not a complete VISA address; it should look like {syntax}"


def _syntaxes() -> dict[tuple[str, str], str]:
    return {
        ("TCPIP", "SOCKET"): EXAMPLES[0],
        ("ASRL", "INSTR"): "ASRL/dev/ttyUSB0::INSTR or ASRL3::INSTR",
        ("USB", "INSTR"): "USB::0x1234::0x5678::SERIAL::INSTR",
        ("GPIB", "INSTR"): "GPIB0::22::INSTR",
        ("VICP", "INSTR"): "VICP::192.168.1.20::INSTR",
        ("PRLGX-TCPIP", "INTFC"): "PRLGX-TCPIP::192.168.1.20::1234::INTFC",
    }


def _port(text: str, port: str) -> int:
    if not port.isdecimal() or not 0 < int(port) < 65536:
        raise AddressError(f"{text!r}: the port {port!r} must be a number from 1 to 65535 (often 5025)")
    return int(port)


def _serial_name(board: str) -> str:
    """A bare number is the number of a COM port."""
    return f"COM{board}" if board.isdecimal() else board


def _is_ip(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True
