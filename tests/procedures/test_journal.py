"""Header, anchors, closing, names given afterwards, and what is left of a damaged journal."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from drivers.reading import GapReason, Unit
from procedures.events import (
    Alarm,
    Answer,
    ChannelGap,
    ChannelReading,
    Note,
    Outcome,
    RecordedValue,
    RunEnded,
    SegmentOpened,
    Supply,
    SupplyChanged,
    Tier,
    Verdict,
)
from procedures.job import Naming, UnitName
from procedures.leads import Lead
from procedures.library import shipped_amplifiers, shipped_procedures
from procedures.records.codec import Fact, LineRefused, encode
from procedures.records.journal import (
    Anchor,
    Closing,
    Fault,
    Header,
    Seal,
    TakenBack,
    naming_line,
    read_journal,
)
from procedures.records.summary import summarise
from procedures.replay import setup_entry, setup_of
from procedures.setup import RunSetup

BEGAN = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
HEADER = Header("3f2a", BEGAN, {"procedure": {}}, rules="1", title="Watch", unit="Kestrow K-40")
FACTS: list[Fact] = [
    SupplyChanged(1.0, Supply.MAINS),
    ChannelReading(2.0, "left bias", 0.0135),
    ChannelGap(3.0, 5.0, "left bias", GapReason.TIMED_OUT),
    Note(5.0, "a click from the relay"),
]


def _closed(*lines: str) -> list[str]:
    seal = Seal()
    for line in lines:
        seal.add(line)
    return [*lines, seal.closing().line()]


def test_a_closed_journal_reads_whole() -> None:
    """Header, facts, anchors, faults, and the closing that vouches for them."""
    lines = _closed(
        HEADER.line(),
        Anchor(0.0, BEGAN).line(),
        *encode(FACTS),
        Fault(9.0, "gone").line(),
        TakenBack(9.5, 5.0).line(),
    )

    journal = read_journal(line + "\n" for line in lines)

    assert journal.header == HEADER
    assert journal.facts == FACTS
    assert journal.anchors == [Anchor(0.0, BEGAN)]
    assert journal.faults == [Fault(9.0, "gone")]
    assert journal.taken_back == [TakenBack(9.5, 5.0)]
    assert (journal.closed, journal.problems) == (True, [])


def test_a_torn_last_line_is_set_aside() -> None:
    """Nothing before it is lost, and the journal does not count as closed."""
    lines = [HEADER.line(), *encode(FACTS), '{"kind":"rows","rows":[[1']

    journal = read_journal(lines)

    assert journal.facts == FACTS
    assert journal.closed is False
    assert journal.problems == [f"Line {len(lines)} is set aside: the line is not complete JSON."]


def test_a_changed_line_shows_in_the_closing() -> None:
    """The digest covers every line before it."""
    lines = _closed(HEADER.line(), *encode(FACTS))
    lines[2] = lines[2].replace("0.0135", "0.0134")

    journal = read_journal(lines)

    assert journal.closed is False
    assert journal.problems[0].endswith("its count or digest does not fit the lines before it.")


def test_a_name_given_afterwards_is_added_and_closed_again() -> None:
    """Naming the unit and job keeps every reading and its digest."""
    naming = Naming(UnitName("Kestrow", "K-40", "K40-01127"), job="17", words="hums")
    lines = _closed(*_closed(HEADER.line(), *encode(FACTS)), naming_line(naming))

    journal = read_journal(lines)

    assert (journal.naming, journal.closed) == (naming, True)
    assert str(naming.unit) == "Kestrow K-40, serial K40-01127"


def test_the_closing_counts_and_digests() -> None:
    """SHA-256 over each line with its line end; of nothing it is that of the empty message (FIPS 180-4)."""
    assert Seal().closing() == Closing(0, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855")


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("", "the line is not complete JSON"),
        ('{"kind":"note","at_s":1}', "the file does not begin with a session's header"),
        (
            '{"kind":"header","format":99}',
            "the session is in format 99 and this version reads up to 1: open it with a newer one",
        ),
        ('{"kind":"header","format":1}', "the session's header is damaged"),
    ],
)
def test_without_a_header_nothing_is_read(line: str, sentence: str) -> None:
    """The reason is one sentence."""
    with pytest.raises(LineRefused) as refused:
        read_journal([line])

    assert str(refused.value) == sentence


def test_a_setup_survives_the_header() -> None:
    """Everything that decides stands in the first line and comes back equal."""
    for procedure in shipped_procedures().values():
        for amplifier in (None, *shipped_amplifiers().values()):
            setup = RunSetup.build(
                procedure,
                amplifier,
                leads=[Lead("one", "1", "left bias")],
                typed=["right bias"],
                practice=True,
            )
            header = Header("1", BEGAN, setup_entry(setup), rules=setup.rules)

            assert setup_of(Header.read(header.line())) == setup


def test_a_damaged_setup_is_refused_with_its_place() -> None:
    """Not guessed around."""
    with pytest.raises(LineRefused, match="the session's setup is damaged at procedure"):
        setup_of(HEADER)


def test_a_session_is_summed_up_from_its_facts() -> None:
    """The newest word on everything, and the highest of each alarm."""
    found = RecordedValue(3.0, "as found", "left bias", 0.011, Unit.VOLT)
    left = RecordedValue(8.0, "as left", "left bias", 0.0135, Unit.VOLT)
    whole = Verdict(10.0, "summary", None, Outcome.PASSED, "both inside")
    facts: list[Fact] = [
        *FACTS,
        found,
        Answer(5.5, "as-received/3/words", "", "burnt smell"),
        Alarm(6.0, "a", Tier.LOOK, "left bias", "rising"),
        Alarm(7.0, "a", Tier.ACT, "left bias", "far too high"),
        left,
        Verdict(8.0, "as-left", "left bias", Outcome.PASSED, "inside", 0.0135),
        SupplyChanged(9.0, Supply.OFF),
        whole,
        RunEnded(10.0, True, "done"),
    ]

    summary = summarise(facts)

    assert summary.value("as found", "left bias") == found
    assert summary.value("as left", "left bias") == left
    assert summary.value("as left", "right bias") is None
    assert summary.verdict("left bias") is not None
    assert summary.outcome == whole
    assert [alarm.tier for alarm in summary.alarms] == [Tier.ACT]
    assert [answer.text for answer in summary.words] == ["burnt smell"]
    assert (summary.readings, summary.gaps, len(summary.notes)) == (1, 1, 1)
    assert (summary.lasted_s, summary.on_s, summary.supply) == (10.0, 8.0, Supply.OFF)
    assert summary.ended == RunEnded(10.0, True, "done")


def test_what_feeds_the_unit_after_a_break_is_what_was_said_then() -> None:
    """Switched off while nobody watched: it does not count as on for the rest of the session."""
    summary = summarise(
        [
            SupplyChanged(10.0, Supply.MAINS),
            SegmentOpened(100.0, "crash", 60.0, Supply.OFF),
            Note(500.0, "tidied up"),
        ]
    )

    assert (summary.supply, summary.on_s) == (Supply.OFF, 90.0)


@pytest.mark.parametrize("moment", ["1" + "0" * 400, '"soon"', "null"])
def test_a_damaged_line_of_practice_is_set_aside(moment: str) -> None:
    """Also where its moment is larger than any number."""
    journal = read_journal([HEADER.line(), f'{{"kind":"hand","at_s":{moment},"deed":"lid"}}'])

    assert journal.practised == []
    assert journal.problems == ['Line 2 is set aside: the line of kind "hand" is damaged.']


def test_a_session_without_facts_is_summed_up_too() -> None:
    """A header alone is a session that never began."""
    assert summarise([]).outcome is None


def test_a_damaged_format_is_not_taken_for_a_newer_program() -> None:
    with pytest.raises(LineRefused, match="format is damaged"):
        Header.read('{"kind":"header","fo\ufffdmat":1}')


@pytest.mark.parametrize("began", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00"])
def test_a_moment_that_overflows_elsewhere_is_damage(began: str) -> None:
    """Another zone would be asked for a year that there is not."""
    line = f'{{"kind":"header","format":1,"session":"a","started_utc":"{began}","setup":{{}},"rules":"1"}}'
    with pytest.raises(LineRefused, match="damaged"):
        Header.read(line)
