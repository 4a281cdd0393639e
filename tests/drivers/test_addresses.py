"""What a person types as an address, and what becomes of it."""

from __future__ import annotations

import pytest

from drivers.addresses import AddressKind, link_for, parse_address
from drivers.errors import AddressError
from drivers.links.tcp import TcpLink
from drivers.links.visa import VisaLink


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("TCPIP::192.168.1.20::5025::SOCKET", AddressKind.TCP_LINE),
        ("tcpip0::meter.workshop::5025::socket", AddressKind.TCP_LINE),
        ("TCPIP::192.168.1.20::hislip0::INSTR", AddressKind.VISA),
        ("TCPIP::127.0.0.1::hislip0,4881::INSTR", AddressKind.VISA),
        ("TCPIP::192.168.1.20", AddressKind.VISA),
        ("USB0::0x1234::0x5678::SN1::INSTR", AddressKind.VISA),
        ("GPIB0::22::INSTR", AddressKind.VISA),
        ("ASRL/dev/ttyUSB0::INSTR", AddressKind.SERIAL),
        ("ASRL3::INSTR", AddressKind.SERIAL),
        ("typed", AddressKind.TYPED),
        ("Typed: front meter ", AddressKind.TYPED),
        ("simulated", AddressKind.SIMULATED),
        ("simulated:left", AddressKind.SIMULATED),
        ("stream:ASRL/dev/ttyACM0::INSTR", AddressKind.STREAM),
        ("file:C:\\traces\\a.csv", AddressKind.FILE),
    ],
)
def test_an_address_has_a_kind(text: str, kind: AddressKind) -> None:
    assert parse_address(text).kind is kind


def test_the_parts_of_an_address() -> None:
    assert (parse_address("TCPIP::10.0.0.2::5555::SOCKET").host, 5555) == ("10.0.0.2", 5555)
    assert parse_address("ASRL3::INSTR").port_name == "COM3"
    assert parse_address("ASRL/dev/ttyUSB0::INSTR").port_name == "/dev/ttyUSB0"
    assert parse_address("file:C:\\traces\\a.csv").detail == "C:\\traces\\a.csv"
    assert parse_address("simulated:left").detail == "left"
    assert str(parse_address(" typed ")) == "typed"


@pytest.mark.parametrize(
    ("text", "suggestion"),
    [
        ("192.168.1.20", "TCPIP::192.168.1.20::5025::SOCKET"),
        ("192.168.1.20:5555", "TCPIP::192.168.1.20::5555::SOCKET"),
        ("meter:5025", "TCPIP::meter::5025::SOCKET"),
        ("/dev/ttyUSB0", "ASRL/dev/ttyUSB0::INSTR"),
        ("COM3", "ASRL3::INSTR"),
        ("simulate", "simulated"),
        ("tiped", "typed"),
        ("readings.csv", "file:readings.csv"),
    ],
)
def test_a_likely_meaning_is_suggested_and_is_an_address(text: str, suggestion: str) -> None:
    with pytest.raises(AddressError, match="did you mean") as problem:
        parse_address(text)

    assert problem.value.suggestion == suggestion
    parse_address(suggestion)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("nonsense", "'nonsense' is not an address"),
        ("TCIP::192.168.1.20::5025::SOCKET", "did you mean TCPIP::192.168.1.20::5025::SOCKET"),
        ("TCPIP::192.168.1.20::5025::SOKET", "should look like TCPIP::"),
        ("TCPIP::192.168.1.20::99999::SOCKET", "port '99999'"),
        ("TCPIP::192.168.1.20::abc::SOCKET", "port 'abc'"),
        ("TCPIP::[::1]::5025::SOCKET", "IPv6"),
        ("USB::0x1234", "should look like USB::"),
        ("XYZ::1::INSTR", "does not begin with a bus"),
        ("stream:", "the address the lines come from"),
        ("stream:GPIB0::2::INSTR", "serial port or a TCP socket"),
        ("file:", "path"),
    ],
)
def test_a_wrong_address_is_one_sentence(text: str, words: str) -> None:
    with pytest.raises(AddressError) as problem:
        parse_address(text)

    assert words in str(problem.value)
    assert "\n" not in str(problem.value)


def test_each_kind_gets_its_link() -> None:
    assert isinstance(link_for("TCPIP::127.0.0.1::5025::SOCKET"), TcpLink)
    assert isinstance(link_for("TCPIP::127.0.0.1::hislip0::INSTR"), VisaLink)


@pytest.mark.parametrize("text", ["typed", "file:a.csv", "simulated"])
def test_an_address_without_a_link_says_so(text: str) -> None:
    with pytest.raises(AddressError, match="no link"):
        link_for(text)
