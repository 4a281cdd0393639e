"""The guide to files of one's own: every example in it is checked, and the procedure is carried out."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from practised_units import carried_out

from app.data_files import check_text, procedure_from
from procedures.amplifier import Amplifier
from procedures.checking import checked
from procedures.steps import KINDS
from procedures.steps.findings import FINDINGS
from procedures.target import target_of

GUIDE = Path(__file__).resolve().parents[2] / "app" / "help" / "writing-procedures.md"
TEXT = GUIDE.read_text(encoding="utf-8")
EXAMPLES = re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL)
AMPLIFIER, PROCEDURE, ROUTE = EXAMPLES


@pytest.mark.parametrize(
    ("text", "what"), [(AMPLIFIER, "amplifier"), (PROCEDURE, "procedure"), (ROUTE, "route")]
)
def test_every_example_is_right(text: str, what: str) -> None:
    checked = check_text(text, "example.toml")

    assert checked.fine, checked.words
    assert f"the {what} " in checked.words


@pytest.mark.parametrize(
    ("unit", "outcome", "words"),
    [
        ("right_as_found", "passed", "left bias: left alone"),
        ("untidy", "failed", "a wrong fuse is fitted"),
    ],
)
def test_the_procedure_is_carried_out(unit: str, outcome: str, words: str, tmp_path: Path) -> None:
    """On a unit that is right, and on one that is not."""
    file = tmp_path / "mine.toml"
    file.write_text(PROCEDURE, encoding="utf-8")

    done = carried_out(tmp_path, procedure_from(str(file)), unit)

    assert (done.outcome, words in done.reason) == (outcome, True), done.reason


def test_the_amplifier_reads_what_the_text_says(tmp_path: Path) -> None:
    """25 mA through 0.27 and 0.27 ohm are 13.5 mV (Ohm's law)."""
    file = tmp_path / "my-amplifier.toml"
    file.write_text(AMPLIFIER, encoding="utf-8")
    amplifier = checked(file.read_text("utf-8"), str(file), Amplifier)

    target = target_of(amplifier, amplifier.channel[0])

    assert target is not None
    assert target.volts == pytest.approx(0.0135)


def test_every_kind_and_every_word_that_it_ends_with_is_in_the_table() -> None:
    """As they are in the program."""
    rows = dict(re.findall(r"^\| `([a-z -]+)` \|.*\| (.*) \|$", TEXT, re.MULTILINE))

    assert set(rows) == set(KINDS)
    for kind, model in KINDS.items():
        if kind not in ("choose", "watch", "signal path"):
            assert set(rows[kind].split(", ")) == set(model.OUTCOMES), kind
    assert all(f"*{finding}*" in TEXT for finding in FINDINGS)


def test_what_the_text_names_in_passing_is_right() -> None:
    """The conditions and presets of the last section."""
    for entry in re.findall(r"`(\{ kind = .*?\})`", TEXT.replace("\n", " ")):
        condition = tomllib.loads(f"condition = {entry}")["condition"]
        more = "target_millivolts = 9\ntolerance_millivolts = 1\ncondition = "
        text = AMPLIFIER.replace("target_milliamperes = 25\ntolerance_percent = 10", more + entry, 1)
        assert check_text(text, "example.toml").fine, condition
