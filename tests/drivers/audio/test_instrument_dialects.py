"""Descriptions of generators and digitisers: own ones before those that ship, a broken one is named."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from app.bench.audio.devices import checked_choice, own_instruments
from app.settings import AudioChoice
from drivers.audio.dialect import (
    DigitiserDialect,
    GeneratorDialect,
    dialect_for,
    instrument_dialects_in,
    read_instrument_dialect,
    shipped_instrument_dialects,
)
from drivers.audio.refusal import AudioRefused

README = Path(__file__).resolve().parents[3] / "drivers" / "audio" / "dialects" / "README.md"
OWN = """
role = "generator"
name = "own"
identity = "^Fenrow,G"
on = "ON"
off = "OFF"
state = "STATE?"
[[setting]]
name = "frequency"
read_back = "F?"
value = "hz"
"""


DIGITISER = """
role = "digitiser"
name = "own"
begin = "INIT"
complete = "*OPC?"
fetch = "FETC{channel}?"
range_read_back = "RANG{channel}?"
samples = "real 32"
[[setting]]
name = "points"
read_back = "POIN?"
value = "points"
"""


def test_a_users_own_description_goes_before_the_shipped_ones(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(OWN, encoding="utf-8")
    own, problems = instrument_dialects_in([tmp_path])
    assert problems == ()
    assert dialect_for("Fenrow,G20,1,1", GeneratorDialect, own).name == "own"
    assert dialect_for("Fenrow,G20,1,1", GeneratorDialect).name == "simulated generator"
    assert dialect_for("Other,G20,1,1", GeneratorDialect, own).name == "generic generator"
    assert dialect_for("Fenrow,D2,1,1", DigitiserDialect, own).name == "simulated digitiser"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("role = 'meter'", "role must be"),
        (OWN.replace("^Fenrow", "(Fenrow"), "is not a regular expression"),
        (OWN + "loudness = 3\n", "no such entry"),
        ("\xff", "cannot be read"),
        (OWN.replace('value = "hz"', ""), "by value or by accept"),
        (OWN.replace('value = "hz"', 'value = "points"'), "nothing that is set here"),
        (OWN.replace('"F?"', '"F {points}?"'), "{points} is not filled in"),
        (OWN.replace('"STATE?"', '"STATE {hz}?"'), "where there is {channel}"),
        (DIGITISER.replace("real 32", "integer 16"), "needs volts_a_step"),
        (DIGITISER.replace('"INIT"', '"INIT {channel}"'), "where there is no place"),
    ],
)
def test_a_broken_one_is_named_and_costs_itself_alone(tmp_path: Path, text: str, words: str) -> None:
    (tmp_path / "broken.toml").write_bytes(text.encode("latin-1"))
    (tmp_path / "own.toml").write_text(OWN, encoding="utf-8")
    own, sentences = own_instruments(tmp_path)
    assert [dialect.name for dialect in own] == ["own"]
    assert len(sentences) == 1
    assert "broken.toml" in sentences[0]
    assert words in sentences[0]


def test_no_folder_is_no_description_and_no_trouble(tmp_path: Path) -> None:
    assert own_instruments(tmp_path / "nowhere") == ((), ())


def test_the_examples_of_the_description_can_be_read() -> None:
    examples = re.findall(r"```toml\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    assert [read_instrument_dialect(text, "README.md").role for text in examples] == [
        "generator",
        "digitiser",
    ]


def test_every_instrument_finds_a_shipped_description() -> None:
    assert {dialect.role for dialect in shipped_instrument_dialects()} == {"generator", "digitiser"}
    assert dialect_for("", GeneratorDialect).name == "generic generator"
    assert dialect_for("", DigitiserDialect).name == "generic digitiser"


def test_an_address_and_a_device_are_kept_and_no_address_is_refused() -> None:
    choice = checked_choice(AudioChoice(recorder="TCPIP::192.0.2.9::5025::SOCKET", generator="Card"))
    assert (choice.recorder, choice.generator) == ("TCPIP::192.0.2.9::5025::SOCKET", "Card")
    with pytest.raises(AudioRefused, match="Generator: "):
        checked_choice(AudioChoice(generator="TCPIP::192.0.2.9::port::SOCKET"))
