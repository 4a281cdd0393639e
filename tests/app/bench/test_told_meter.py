"""What a person tells about a meter: kept with its address, shown again as it was typed, or refused whole."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.bench.real_meters import OwnDialects, accuracy_of, ground_was_told, known_meter
from app.bench.told_meter import keep_told, told_of
from app.bench.told_words import ToldMeter
from app.settings import DISPLAY_TOLD, MOST_REMEMBERED, RememberedMeter, Settings
from drivers.errors import AddressError, DriverError
from drivers.meter import MeterAccuracy, MeterFacts

STREAM = "stream:TCPIP::192.0.2.11::9000::SOCKET"
METER = "TCPIP::192.0.2.10::hislip0::INSTR"
PATTERN = r"L=(?P<left_bias>\S+) R=(?P<right_bias>\S+)"
FIGURES = {"percent": "0.5", "digits": "3", "step_millivolts": "0.1"}


def test_a_streams_pattern_is_kept_and_used() -> None:
    told = ToldMeter(STREAM, lines=True, channels="left bias", pattern=PATTERN, unit="uV", **FIGURES)
    settings = keep_told(told, Settings())

    assert told_of(STREAM, settings) == told
    at = known_meter("meter", STREAM, None, settings)
    assert at.reads == "left_bias=left bias,right_bias=right bias"
    assert at.pattern is not None
    assert at.pattern.unit_of("left_bias").word == "uV"
    assert accuracy_of(at, 0.0135, OwnDialects(())) == MeterAccuracy(
        of_reading=0.005, counts=3.0, resolution=0.0001, declared_by=DISPLAY_TOLD
    )


def test_the_display_has_figures_and_no_lines() -> None:
    settings = keep_told(ToldMeter("typed", display=True, ground_referenced=True, **FIGURES), Settings())

    assert settings.display is not None
    assert settings.display.of_reading == 0.005
    assert told_of("typed", settings) == ToldMeter("typed", display=True, ground_referenced=True, **FIGURES)
    assert keep_told(ToldMeter("typed", display=True), settings).display is None


def test_what_was_told_outlasts_what_the_dialect_knows() -> None:
    """Figures from the dialect come at every meeting; what a person said of this very meter stands."""
    settings = keep_told(ToldMeter(METER, **FIGURES), Settings())
    met = settings.meters[0].as_met(
        MeterFacts("X,Y,1,1", 0.1, 0.2, 0.2, accuracy=MeterAccuracy(of_reading=0.1))
    )

    assert met.accuracy == settings.meters[0].accuracy


def test_telling_is_not_using() -> None:
    """The meters that were used last stay the first; a known one keeps its place and its identity."""
    used = RememberedMeter(name="bench meter", address=METER, identity="X,Y,1,1")
    full = Settings(meters=(used, *(used.model_copy(update={"address": f"a{n}"}) for n in range(19))))
    assert len(full.meters) == MOST_REMEMBERED

    added = keep_told(ToldMeter(STREAM, lines=True), full)
    changed = keep_told(ToldMeter(METER, channels="right bias"), added)

    assert (len(changed.meters), changed.meters[-1].address) == (MOST_REMEMBERED, STREAM)
    first = changed.meters[0]
    assert (first.address, first.identity, first.channel) == (METER, "X,Y,1,1", "right bias")


def test_ground_counts_only_when_it_was_told_of_every_earthed_source() -> None:
    settings = keep_told(ToldMeter(METER, ground_referenced=True), Settings())
    earthed, other = (known_meter("m", one, "left offset", settings) for one in (METER, "GPIB0::22::INSTR"))

    assert ground_was_told([earthed], True, settings)
    assert not ground_was_told([earthed, other], True, settings)
    assert ground_was_told([earthed, replace(other, isolated=True)], True, settings)
    assert not ground_was_told([earthed], False, settings)
    assert not ground_was_told([], True, settings)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"pattern": "(?P<left"}, "cannot be used"),
        ({"pattern": "no group"}, "names no input"),
        ({"pattern": "(?P<a>.*)" + "x" * 1000}, "letters at the most"),
        ({"unit": "furlong"}, "not a unit"),
        ({"channels": "=left bias"}, "names no input and channel"),
        ({"channels": "left bias, right bias"}, "need their inputs"),
        ({"pattern": PATTERN, "channels": "3=left bias"}, "no input called '3'"),
        ({"percent": "much"}, "is no percentage"),
        ({"percent": "-1"}, "is no percentage"),
        ({"percent": "nan"}, "is no percentage"),
        ({"digits": "3"}, "say how many millivolts"),
        ({"step_millivolts": "1e9"}, "last digit"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(changed: dict[str, str], words: str) -> None:
    told = replace(ToldMeter(STREAM, lines=True), **changed)  # type: ignore[arg-type]
    with pytest.raises((ValueError, DriverError), match=words) as refused:
        keep_told(told, Settings())
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("address", ["simulated", "file:a.csv"])
def test_there_is_nothing_to_tell_of_what_says_everything(address: str) -> None:
    with pytest.raises(ValueError, match="nothing to tell"):
        told_of(address, Settings())


def test_a_wrong_address_is_refused() -> None:
    with pytest.raises(AddressError):
        told_of("192.0.2.10", Settings())
