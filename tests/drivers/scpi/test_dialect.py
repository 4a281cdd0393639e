"""Dialect files: checked completely, with file, place and what is wrong; nothing evaluated."""

from __future__ import annotations

from pathlib import Path

import pytest

import drivers.scpi.dialect as dialect_module
from drivers.errors import DialectError
from drivers.scpi.dialect import dialects_in, filled, read_dialect, shipped_dialects

SMALL = 'name = "own"\ntitle = "own"\n[read]\nlines = ["READ?"]\n'


def test_a_small_file_is_a_dialect() -> None:
    dialect = read_dialect(SMALL, "own.toml")

    assert dialect.read.lines == ("READ?",)
    assert dialect.reply.fields == 1


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name = ", "own.toml: "),
        ('name = "x"\n', "own.toml: at title"),
        (SMALL + "\n[reply]\nfields = 0\n", "at reply.fields"),
        (SMALL + "\n[reply]\nfields = 2\nindex = 2\n", "index 2 does not exist"),
        (SMALL + "\n[reply]\nshape = 'round'\n", "at reply.shape"),
        (SMALL + "\n[colour]\n", "at colour: no such entry"),
        (SMALL + '\n[range]\nwrite = ["RANG {volts}"]\n', "{volts} is not one of"),
        (SMALL + '\n[range]\nwrite = ["RANG\\n"]\n', "printable ASCII"),
        (SMALL + "\n[range]\nranges_volts = [1.0, 0.1]\n", "must rise"),
        (SMALL + '\n[choose]\nidentity = "("\n', "not a regular expression"),
        (SMALL + '\n[integration]\nkind = "words"\n', "needs speeds"),
        (SMALL + '\n[range]\nwrite = ["RANG {nplc}"]\n', "{nplc} is not filled in"),
        (SMALL.replace("READ?", "READ? {channel}"), "{channel} is not filled in"),
        ('leave = ["RANG {range_volts}"]\n' + SMALL, "where there is no place"),
        ("rank = " + "1" * 5000, "more digits than can be read"),
        ("rank = " + "[" * 5000, "nested too deeply"),
    ],
)
def test_a_wrong_file_is_refused_with_file_and_place(text: str, words: str) -> None:
    with pytest.raises(DialectError) as problem:
        read_dialect(text, "own.toml")

    assert str(problem.value).startswith("own.toml: ")
    assert words in str(problem.value)


def test_a_users_folder_gives_its_good_files_and_a_sentence_for_each_bad_one(tmp_path: Path) -> None:
    (tmp_path / "good.toml").write_text(SMALL)
    (tmp_path / "bad.toml").write_text("name = ")
    (tmp_path / "binary.toml").write_bytes(b"\xff\xfe\x00")
    (tmp_path / "notes.txt").write_text("not a dialect")
    found, problems = dialects_in([tmp_path, tmp_path / "absent"])

    assert [dialect.name for dialect in found] == ["own"]
    assert len(problems) == 2


def test_places_are_filled_with_plain_numbers() -> None:
    assert filled("RANG {range_volts};NPLC {nplc}", range_volts=0.1, nplc=10.0) == b"RANG 0.1;NPLC 10"


def test_every_shipped_dialect_has_a_name_of_its_own() -> None:
    names = [dialect.name for dialect in shipped_dialects()]

    assert len(set(names)) == len(names)


def test_the_example_in_the_guide_is_a_dialect() -> None:
    guide = (Path(dialect_module.__file__).parent / "dialects" / "README.md").read_text(encoding="utf-8")
    example = guide.split("```toml")[1].split("```")[0]
    dialect = read_dialect(example, "README.md")

    assert dialect.accuracy_of(0.1).of_reading == 0.00005
