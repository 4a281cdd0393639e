"""Data files that people break: the exact sentence for each, and never a traceback or a file that is run."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.data_files import CheckedFile, check_file, check_text
from procedures.library import shipped_amplifiers, shipped_procedures

CORPUS = Path(__file__).with_name("broken_files.toml")
BROKEN = tomllib.loads(CORPUS.read_text(encoding="utf-8"))["broken"]
ROOT = Path(__file__).resolve().parents[2]
SHIPPED = [
    *sorted((ROOT / "procedures" / "library").rglob("*.toml")),
    *sorted((ROOT / "drivers" / "simulated" / "units").glob("*.toml")),
]
TEXTS = [path.read_text(encoding="utf-8") for path in SHIPPED]


@pytest.mark.parametrize("broken", BROKEN, ids=[one["what"] for one in BROKEN])
def test_each_mistake_has_its_sentence(broken: dict[str, object], tmp_path: Path) -> None:
    """All that is wrong at once, with the place and what would be right."""
    file = tmp_path / "mine.toml"
    file.write_text(str(broken["text"]), encoding="utf-8")

    checked = check_file(file)

    assert not checked.fine
    assert [line.removeprefix(f"{file}: ") for line in checked.words.splitlines()] == broken["says"]


def test_there_are_enough_of_them() -> None:
    """Every kind of file, and every step kind that can be written wrong."""
    assert len(BROKEN) >= 60
    assert len({one["text"] for one in BROKEN}) == len(BROKEN)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_what_ships_is_right(path: Path) -> None:
    """The same check finds nothing."""
    assert check_file(path).fine


def test_several_mistakes_come_at_once(tmp_path: Path) -> None:
    """Nobody mends one to be told the next."""
    file = tmp_path / "mine.toml"
    text = (ROOT / "procedures" / "library" / "warm-up.toml").read_text(encoding="utf-8")
    text = text.replace('kind = "power"', 'kind = "pwoer"', 1).replace("until =", "untill =")
    file.write_text(text.replace("format = 1", "format = 9"), encoding="utf-8")

    assert len(check_file(file).words.splitlines()) == 3


# --- anything at all --------------------------------------------------------------------------------------


def _is_answered(checked: CheckedFile) -> None:
    assert checked.words.strip()
    assert "Traceback" not in checked.words


@given(st.text(max_size=300))
def test_any_text_is_answered(text: str) -> None:
    """With a sentence."""
    _is_answered(check_text(text, "mine.toml"))


_LEAVES = st.one_of(
    st.none().map(lambda _: "[]"),
    st.integers(-(10**20), 10**20).map(str),
    st.floats(allow_nan=True).map(lambda x: str(x).replace("inf", "inf")),
    st.sampled_from(["true", "1979-05-27", "07:32:00", "{}", '""', '"x"', "[1, [2]]", "{ a = 1 }", "1e400"]),
)


@settings(max_examples=150)
@given(st.sampled_from(range(len(TEXTS))), st.data())
def test_a_shipped_file_with_any_value_replaced_is_answered(which: int, data: st.DataObject) -> None:
    """Whatever stands where something else should."""
    lines = TEXTS[which].splitlines()
    places = [n for n, line in enumerate(lines) if " = " in line and '"""' not in line]
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.sampled_from(places))
        lines[at] = f"{lines[at].split(' = ')[0]} = {data.draw(_LEAVES)}"

    _is_answered(check_text("\n".join(lines), "mine.toml"))


@settings(max_examples=100)
@given(st.sampled_from(range(len(TEXTS))), st.data())
def test_a_shipped_file_with_lines_lost_or_doubled_is_answered(which: int, data: st.DataObject) -> None:
    """As after a careless paste."""
    lines = TEXTS[which].splitlines()
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(lines) - 1))
        if data.draw(st.booleans()):
            lines.insert(at, lines[data.draw(st.integers(0, len(lines) - 1))])
        elif len(lines) > 1:
            del lines[at]

    _is_answered(check_text("\n".join(lines), "mine.toml"))


@pytest.mark.parametrize(
    "text", ["a = " + "[" * 5000, "a." * 3000 + "b = 1", "[" + "x." * 3000 + "y]", "\x00", "x" * 300_000]
)
def test_what_is_nested_or_long_beyond_sense_is_answered(text: str) -> None:
    """At once, without hanging."""
    assert not check_text(text, "mine.toml").fine


def test_nothing_in_a_file_is_carried_out(tmp_path: Path) -> None:
    """Words stay words, whatever language they are in."""
    mark = tmp_path / "mark"
    code = f"__import__('pathlib').Path('{mark}').touch()"
    text = f"""
format = 1
id = "mine"
title = "{{{{ {code} }}}}"
purpose = "${{{code}}}"
[[step]]
id = "a"
kind = "note"
title = "%s {code}"
text = "{code}"
"""
    assert check_text(text, "mine.toml").fine
    assert not mark.exists()


def test_all_shipped_files_were_read() -> None:
    """So that the fuzzing above begins from every kind of file."""
    assert len(SHIPPED) > len(shipped_procedures()) + len(shipped_amplifiers())
