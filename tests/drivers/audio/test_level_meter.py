"""A multimeter's AC volts: what it shows, never without the bandwidth that was declared for it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from loopback_servers import Conversation, LineServer

from drivers.audio.level_meter import AcBand, ScpiLevelMeter
from drivers.audio.refusal import AudioRefused
from drivers.errors import DialectError
from drivers.scpi.dialect import Dialect, read_dialect

TOLD = AcBand(40.0, 400.0, "average", 0.01, "as was told")
DECLARED = """
name = "declared"
title = "a meter with a declared bandwidth"
[read]
lines = ["READ?"]
[ac]
line = "MEAS:VOLT:AC?"
low_hz = 20
high_hz = 100_000
responding = "true rms"
of_reading = 0.002
"""


class Meter:
    """An invented meter that answers one question."""

    def __init__(self) -> None:
        self.shows = b"+1.23450000E+01"
        self.asked: list[bytes] = []

    def answer(self, number: int, line: bytes, conversation: Conversation) -> bytes | None:
        self.asked.append(line)
        if line == b"*IDN?":
            return b"INVENTED,M-3,0001,1.0"
        return self.shows if line == b"MEAS:VOLT:AC?" else None


@pytest.fixture
def shown() -> Meter:
    return Meter()


@pytest.fixture
def address(shown: Meter) -> Iterator[str]:
    server = LineServer(shown.answer)
    yield server.address
    server.stop()


def opened(address: str, told: AcBand | None = None, text: str = DECLARED) -> ScpiLevelMeter:
    dialects: tuple[Dialect, ...] = (read_dialect(text, "declared.toml"),)
    return ScpiLevelMeter(address, told, dialects)


def test_a_level_comes_with_the_bandwidth_of_the_dialect(address: str) -> None:
    meter = opened(address)
    assert meter.read("left") == 12.345
    assert meter.band == AcBand(20.0, 100e3, "true rms", 0.002, "dialect declared")
    assert meter.band.words() == "true RMS, 20 to 100000 Hz (dialect declared)"
    meter.close()


def test_what_a_person_told_goes_before_the_dialect(address: str) -> None:
    meter = opened(address, TOLD)
    assert meter.band.words() == "average-responding, 40 to 400 Hz (as was told)"
    meter.close()


def test_an_undeclared_bandwidth_says_so(address: str) -> None:
    silent = DECLARED.partition("low_hz")[0]
    meter = opened(address, text=silent)
    assert not meter.band.declared
    assert meter.band.words() == "not said how it responds, bandwidth not declared"
    meter.close()


@pytest.mark.parametrize(
    ("shows", "sentence"),
    [
        (b"+9.90000000E+37", "over its range"),
        (b"+9.91000000E+37", "shows no AC volts"),
        (b"-1.0", "shows no AC volts"),
        (b"VAC", "which is not a reading"),
        (b"1.0,2.0", "2 fields where 1 field should come"),
    ],
)
def test_what_is_no_level_is_refused_in_a_sentence(
    address: str, shown: Meter, shows: bytes, sentence: str
) -> None:
    meter = opened(address)
    shown.shows = shows
    with pytest.raises(AudioRefused, match=sentence):
        meter.read("left")
    shown.shows = b"2.5"
    assert meter.read("left") == 2.5
    meter.close()


def test_a_dialect_without_ac_volts_is_refused_with_what_to_do(address: str) -> None:
    with pytest.raises(AudioRefused, match=r"says nothing of AC volts; add a block \[ac\]"):
        opened(address, text=DECLARED.partition("[ac]")[0])


@pytest.mark.parametrize("wrong", ["nowhere", "TCPIP::127.0.0.1::1::SOCKET"])
def test_an_address_that_cannot_be_used_is_one_sentence(wrong: str) -> None:
    with pytest.raises(AudioRefused) as refused:
        opened(wrong)
    assert str(refused.value).endswith(".")


def test_a_bandwidth_the_wrong_way_round_is_refused_with_its_place() -> None:
    with pytest.raises(DialectError, match="must be below high_hz"):
        read_dialect(DECLARED.replace("low_hz = 20", "low_hz = 200_000"), "own.toml")
