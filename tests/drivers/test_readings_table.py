"""Tables of readings as people and programs write them: read alike, or refused in one sentence."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import GapReason, Unit
from drivers.readings_table import Table, TableRefused, open_table

OVERLOAD, GARBLED = GapReason.OVERLOAD, GapReason.GARBLED


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "a.csv"


def opened(path: Path, content: str | bytes) -> tuple[Table, list[tuple[float, list[object]]]]:
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    table = open_table(path)
    return table, [(at_s, list(values)) for at_s, values in table.rows()]


TEXT = "elapsed [s],left bias [mV]\n0,13.4\n1,\n2,13.5\n"
READ = [(0.0, [0.0134]), (1.0, [None]), (2.0, [0.0135])]


@pytest.mark.parametrize(
    "content",
    [
        TEXT.encode(),
        TEXT.encode("utf-8-sig"),
        TEXT.encode("utf-16"),
        TEXT.encode("utf-16-le"),
        TEXT.encode("utf-16-be"),
        TEXT.replace("\n", "\r\n").encode(),
        TEXT.replace("\n", "\r").encode(),
        TEXT.replace(",", "\t").encode(),
        TEXT.replace(",", ";").replace(".", ",").encode(),
        TEXT.replace(",", "\t").replace(".", ",").encode(),
        b"sep=;\r\n" + TEXT.replace(",", ";").encode(),
        b"sep=\t\r\n" + TEXT.replace(",", "\t").encode(),
        b"# made by hand\n\n" + TEXT.encode(),
        TEXT.rstrip().encode() + b"\n\n\0\0\0\0",
        b'"elapsed [s]","left bias [mV]"\n"0","13.4"\n"1",""\n"2","13.5"\n',
    ],
)
def test_the_same_table_however_it_was_written(path: Path, content: bytes) -> None:
    table, rows = opened(path, content)

    assert (rows, table.bad) == (READ, 0)


@pytest.mark.parametrize(
    ("unit", "kind", "one"),
    [
        ("V", Unit.VOLT, 1.0),
        ("mV", Unit.VOLT, 1e-3),
        ("µV", Unit.VOLT, 1e-6),
        ("\u03bcV", Unit.VOLT, 1e-6),
        ("nV", Unit.VOLT, 1e-9),
        ("A", Unit.AMPERE, 1.0),
        ("mA", Unit.AMPERE, 1e-3),
        ("W", Unit.WATT, 1.0),
        ("ohm", Unit.OHM, 1.0),
        ("kΩ", Unit.OHM, 1e3),
        ("Hz", Unit.HERTZ, 1.0),
        ("°C", Unit.CELSIUS, 1.0),
        ("degC", Unit.CELSIUS, 1.0),
        ("K", Unit.CELSIUS, 1.0 - 273.15),  # SI brochure, 9th edition, 2.3.1: t/degC = T/K - 273.15
    ],
)
def test_a_unit_in_brackets_says_what_one_is(path: Path, unit: str, kind: Unit, one: float) -> None:
    table, rows = opened(path, f"s,a [{unit}]\n0,1\n")

    assert (table.columns[0].unit, rows) == (kind, [(0.0, [one])])


@pytest.mark.parametrize(("unit", "factor"), [("s", 1.0), ("ms", 1e-3), ("min", 60.0), ("h", 3600.0)])
def test_the_time_may_be_in_another_unit(path: Path, unit: str, factor: float) -> None:
    assert opened(path, f"t [{unit}],a [V]\n2,1\n")[1] == [(2.0 * factor, [1.0])]


@pytest.mark.parametrize("word", ["9.9E37", "-9.9e37", "OL", "-OL", "O.L", "inf", "-inf", "OVLD", "overload"])
def test_an_overload_is_a_gap_and_never_a_number(path: Path, word: str) -> None:
    assert opened(path, f"s,a [mV]\n0,{word}\n")[1] == [(0.0, [OVERLOAD])]


@pytest.mark.parametrize("word", ["", " ", "-", "--", "nan", "NaN", "null", "N/A"])
def test_a_blank_is_nothing(path: Path, word: str) -> None:
    table, rows = opened(path, f"s,a [mV]\n0,{word}\n")

    assert (rows, table.bad) == ([(0.0, [None])], 0)


def test_bad_rows_are_counted_and_named_and_the_rest_of_them_is_used(path: Path) -> None:
    table, rows = opened(
        path, "s,a [V],b [V]\nx,1,1\n1,one,2\n0.5,1,1\n2,1,2,3\n,1,1\n3,1_0,3\n4,1\n4,1,4\ninf,1,1\n"
    )

    assert rows == [(1.0, [GARBLED, 2.0]), (3.0, [GARBLED, 3.0]), (4.0, [1.0, None]), (4.0, [1.0, 4.0])]
    assert table.bad == 7
    assert [line.split(":")[0] for line in table.named] == [f"line {n}" for n in (2, 3, 4, 5, 6, 7, 10)]


def test_a_power_of_ten_that_no_number_has_is_one_bad_cell(path: Path) -> None:
    table, rows = opened(path, "s,a [kOhm]\n0,1e999998\n1,2\n")

    assert rows == [(0.0, [GARBLED]), (1.0, [2000.0])]
    assert table.bad == 1


def test_a_decimal_comma_in_a_table_of_commas_never_becomes_another_value(path: Path) -> None:
    table, rows = opened(path, "elapsed [s],left bias [mV]\n0,13,4\n1,13.5\n")

    assert rows == [(1.0, [0.0135])]
    assert table.named == ["line 2: it has 3 cells, the header 2"]


@pytest.mark.parametrize("time", ["1e308", "1732500000"])  # a calendar clock counts from 1970
def test_a_time_that_cannot_be_elapsed_is_refused_and_not_waited_for(path: Path, time: str) -> None:
    table, rows = opened(path, f"elapsed [s],left bias [mV]\n0,13.4\n{time},13.5\n2,13.6\n")

    assert [at_s for at_s, _ in rows] == [0.0, 2.0]
    assert "seconds since power-on" in table.named[0]


def test_a_column_of_words_is_passed_over(path: Path) -> None:
    """Its cells may hold commas, quotes and ends of lines."""
    table, rows = opened(path, 's,a [V],remark\n0,1,"x, ""y""\nand z"\n1,2,\n')

    assert (rows, table.passed_over, table.bad) == ([(0.0, [1.0]), (1.0, [2.0])], ("remark",), 0)


@pytest.mark.parametrize("row", ['1,"2', '"1,2', '1,"2,'])
def test_a_quote_that_is_never_closed_swallows_nothing_else(path: Path, row: str) -> None:
    later = "".join(f"{n},{n}\n" for n in range(2, 30))
    _, rows = opened(path, f"s,a [V]\n0,0\n{row}\n{later}")

    assert [at_s for at_s, _ in rows if at_s != 1.0] == [0.0, *(float(n) for n in range(2, 30))]


def test_a_huge_cell_is_one_bad_row(path: Path) -> None:
    table, rows = opened(path, f"s,a [V]\n0,{'9' * 500_000}\n1,{'x' * 500_000}\n2,3\n")

    assert [values for at_s, values in rows if at_s == 2.0] == [[3.0]]
    assert len(table.named[-1]) < 120


def test_a_bad_character_far_down_is_one_bad_row(path: Path) -> None:
    many = "".join(f"{n},1\n" for n in range(20_000)).encode()
    table, rows = opened(path, b"s,a [V]\n" + many + b"20000,\xff\xfe\n20001,2\n")

    assert rows[-1] == (20001.0, [2.0])
    assert table.named == ["line 20002: '\ufffd\ufffd' is no value of a"]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\n\n# nothing\n", "empty"),
        (b"elapsed\n1\n", "one column only"),
        (b"0,13.5\n1,13.5\n", "first line holds numbers"),
        (b"elapsed,left bias\n0,1\n", "unit in brackets"),
        (b"elapsed,left bias [furlong]\n0,1\n", r"column 2 is in \[furlong\]; units are"),
        (b"elapsed [week],left bias [mV]\n0,1\n", "a time in one of"),
        (b"elapsed,a [mV],a [mV]\n0,1,1\n", "a name of its own"),
        (bytes(range(256)), "not a text file"),
        (b"\x89PNG\r\n\x1a\n", "picture"),
        (b"PK\x03\x04", "spreadsheet"),
        (b"\xff\xfe\x00\x80", "one column only"),
    ],
)
def test_what_is_no_table_is_refused_in_one_sentence(path: Path, content: bytes, words: str) -> None:
    with pytest.raises(TableRefused, match=words) as refused:
        opened(path, content)

    assert str(refused.value).startswith(f"{path}: ")
    assert "\n" not in str(refused.value)


def test_a_file_that_is_not_there_or_is_a_folder_is_refused_in_one_sentence(path: Path) -> None:
    with pytest.raises(TableRefused, match="no such file; check its name"):
        open_table(path)
    with pytest.raises(TableRefused, match="this is a folder"):
        open_table(path.parent)


@given(st.binary(max_size=300), st.booleans())
def test_no_bytes_lead_to_anything_but_rows_or_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, content: bytes, headed: bool
) -> None:
    path = tmp_path_factory.mktemp("bytes") / "a.csv"
    path.write_bytes(b"s,a [mV]\n" * headed + content)
    try:
        times = [at_s for at_s, _ in open_table(path).rows()]
    except TableRefused:
        return
    assert times == sorted(times)
