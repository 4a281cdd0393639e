"""The CSV table: exact, blank where there is nothing, harmless in a spreadsheet, the same in any language."""

from __future__ import annotations

import csv
import io
import locale
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.records.export_csv import plain, write_csv, write_table
from drivers.reading import GapReason, ReadingFlag, Unit
from drivers.readings_table import open_table
from drivers.replayed import read_file
from procedures.events import ChannelGap, ChannelReading, Note, Tick
from procedures.records.journal import Anchor
from procedures.records.practised import HandMoved

ANCHOR = Anchor(0.0, datetime(2026, 1, 5, 9, 0, tzinfo=UTC))


def _rows(entries: list[object]) -> list[dict[str, str]]:
    file = io.StringIO(newline="")
    write_table(file, entries)  # type: ignore[arg-type]
    file.seek(0)
    return list(csv.DictReader(file))


def test_each_channel_has_a_column_with_its_unit() -> None:
    """A row holds what was read at that moment, and blanks for the rest."""
    rows = _rows(
        [
            ANCHOR,
            ChannelReading(1.0, "left bias", 0.0131),
            ChannelReading(1.2, "right bias", 0.0127),
            ChannelReading(1.5, "heatsink", 41.5, Unit.CELSIUS),
            Tick(2.0),
        ]
    )

    assert len(rows) == 3
    assert (rows[0]["left bias [mV]"], rows[0]["right bias [mV]"]) == ("13.1", "")
    assert rows[2]["heatsink [degC]"] == "41.5"
    assert rows[0]["time UTC"] == "2026-01-05T09:00:01.000Z"


def test_a_decimal_comma_is_a_choice() -> None:
    """With semicolons between the cells; nothing else differs."""
    file = io.StringIO(newline="")
    write_table(file, [ChannelReading(1.5, "left bias", 0.0131)], comma=True)

    assert file.getvalue().split("\r\n")[1] == "1,5;13,1;;;"


def test_a_gap_is_blank_with_its_reason() -> None:
    """Missing is never zero."""
    (row,) = _rows([ChannelGap(1.0, 2.0, "left bias", GapReason.OVERLOAD, "over range")])

    assert row["left bias [mV]"] == ""
    assert "overload" in row["remark"]


def test_typed_readings_are_marked() -> None:
    """A value that a person read off a display can be told from one that a meter sent."""
    (row,) = _rows([ChannelReading(1.0, "left bias", 0.013, flags=frozenset({ReadingFlag.TYPED}))])

    assert row["flags"] == "typed"


@given(st.text(max_size=40))
def test_no_cell_of_words_is_taken_for_a_formula(words: str) -> None:
    """Whatever a note says, no cell begins with a sign that starts a formula."""
    (row,) = _rows([Note(1.0, words)])

    assert not row["remark"].startswith(("=", "+", "-", "@", "\t", "\r"))
    assert not plain(words).startswith(("=", "+", "-", "@", "\t", "\r"))


def test_a_channels_name_cannot_be_a_formula_either() -> None:
    """Headers are words too."""
    file = io.StringIO()
    write_table(file, [ChannelReading(1.0, "=1+1", 0.1)])

    assert "'=1+1 [mV]" in file.getvalue()


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_come_back_exactly(value: float) -> None:
    """Every digit is written."""
    (row,) = _rows([ChannelReading(1.0, "left bias", value)])

    assert float(Decimal(row["left bias [mV]"]).scaleb(-3)) == value


def test_a_decimal_comma_of_the_system_changes_nothing(tmp_path: Path) -> None:
    """The same bytes under every locale that is installed."""
    entries = [ANCHOR, ChannelReading(1.5, "left bias", 0.0131)]
    write_csv(tmp_path / "a.csv", entries)
    before = locale.setlocale(locale.LC_ALL)
    try:
        for name in ("de_DE.UTF-8", "fr_FR.UTF-8", "C.UTF-8"):
            try:
                locale.setlocale(locale.LC_ALL, name)
            except locale.Error:
                continue
            write_csv(tmp_path / "b.csv", entries)
            assert (tmp_path / "b.csv").read_bytes() == (tmp_path / "a.csv").read_bytes()
    finally:
        locale.setlocale(locale.LC_ALL, before)


def test_the_file_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    """Nothing but the table is left in the folder."""
    count = write_csv(tmp_path / "a.csv", [ChannelReading(1.0, "left bias", 0.1)])

    assert count == 1
    assert [path.name for path in tmp_path.iterdir()] == ["a.csv"]


READINGS = st.lists(
    st.builds(
        ChannelReading,
        at_s=st.floats(0.0, 1e6),
        channel=st.sampled_from(["left bias", "right bias", "heatsink"]),
        value=st.floats(-1e3, 1e3),
    ),
    max_size=50,
)


@given(READINGS)
def test_the_table_holds_every_reading_of_every_channel(readings: list[ChannelReading]) -> None:
    """Read back from the table, each channel has its readings, in order, to the last bit."""
    rows = _rows([*readings])

    for channel in ("left bias", "right bias", "heatsink"):
        cells = [row[f"{channel} [mV]"] for row in rows if row.get(f"{channel} [mV]")]
        told = [float(Decimal(cell).scaleb(-3)) for cell in cells]
        assert told == [reading.value for reading in readings if reading.channel == channel]


NAMED = st.sampled_from(["left bias", "-right, bias", 'heat"sink', "= [odd]", "µ point"])
REMARKS = st.builds(Note, at_s=st.floats(0.0, 6e5), text=st.text(max_size=30))


@given(
    st.lists(
        st.builds(
            ChannelReading,
            at_s=st.floats(0.0, 6e5),
            channel=NAMED,
            value=st.floats(-1e30, 1e30),
        ),
        min_size=1,
        max_size=40,
    ),
    st.lists(REMARKS, max_size=5),
)
def test_what_was_exported_is_read_again(
    tmp_path_factory: pytest.TempPathFactory, readings: list[ChannelReading], notes: list[Note]
) -> None:
    """Both readers of tables give each channel its readings to the last bit; words are passed over."""
    entries = sorted([*readings, *notes], key=lambda entry: entry.at_s)
    path = tmp_path_factory.mktemp("table") / "a.csv"
    write_csv(path, [ANCHOR, *entries])

    table = open_table(path)
    rows = list(table.rows())
    replayed = read_file(path)

    assert (table.bad, table.named, table.passed_over) == (0, [], ("time UTC", "flags", "remark"))
    for place, column in enumerate(table.columns):
        told = [
            (round(e.at_s, 6), e.value)
            for e in entries
            if getattr(e, "value", None) is not None and e.channel == column.channel
        ]
        assert [(at_s, values[place]) for at_s, values in rows if values[place] is not None] == told
    assert replayed.inputs == tuple(column.channel for column in table.columns)
    assert sum(value is not None for values in replayed.rows for value in values) == len(readings)


def test_a_table_of_practice_says_so_in_its_first_row() -> None:
    """A session of practice begins with the speed of its bench; what hands did stands among the remarks."""
    rows = _rows(
        [
            HandMoved(0.0, "speed", "", 10.0),
            ChannelReading(1.0, "left bias", 0.0131),
            HandMoved(2.0, "turn", "left bias", 0.012),
        ]
    )

    assert rows[0]["remark"] == "practice on the simulated bench, bench time ×10."
    assert rows[2]["remark"] == "practice: turn left bias +1.20 % of its travel."


def test_a_sensor_that_was_silent_at_first_keeps_its_own_unit() -> None:
    """A gap has no unit: the column is called after what is read there, or 25 degrees became 25 mV."""
    rows = _rows(
        [
            ChannelGap(0.0, 1.0, "heatsink", GapReason.TIMED_OUT, "no answer"),
            ChannelReading(2.0, "heatsink", 25.0, Unit.CELSIUS),
            ChannelGap(3.0, 4.0, "left bias", GapReason.TIMED_OUT, "no answer"),
        ]
    )

    assert list(rows[0])[1:3] == ["heatsink [degC]", "left bias [mV]"]
    assert rows[1]["heatsink [degC]"] == "25.0"


def test_a_channel_that_is_read_in_two_units_has_two_columns() -> None:
    """A lead that was moved to a thermometer: each value stands under its own unit."""
    rows = _rows(
        [ChannelReading(1.0, "input", 0.0131), ChannelReading(2.0, "input", 25.0, Unit.CELSIUS)],
    )

    assert (rows[0]["input [mV]"], rows[0]["input [degC]"]) == ("13.1", "")
    assert (rows[1]["input [mV]"], rows[1]["input [degC]"]) == ("", "25.0")
