"""Typing what a display shows: in turn, at an interval that may be ignored, one key for unchanged."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from app.bench.live_bench import BenchParts, LiveBench
from app.bench.session_header import header_of
from app.records.session_folder import SessionRecord, open_session
from app.typing_desk import TypingDesk
from drivers.clock import SteppedClock
from drivers.reading import GapReason, ReadingFlag
from procedures.events import Alarm, ChannelGap, ChannelReading, Disturbance, Supply, Tier
from procedures.library import shipped_amplifiers, shipped_procedures
from procedures.records.codec import Fact
from procedures.replay import compare
from procedures.setup import RunSetup


class Table:
    """A stepped bench of typed channels with a desk at it."""

    def __init__(self, root: Path, channels: tuple[str, ...], every_s: float) -> None:
        self.clock = SteppedClock()
        setup = RunSetup.build(
            shipped_procedures()["watch"], shipped_amplifiers()["Kestrow K-40"], typed=channels
        )
        record = SessionRecord.create(root, header_of(setup, self.clock.utc()))
        self.bench = LiveBench(BenchParts(clock=self.clock, setup=setup, record=record))
        self.turns = self.bench.turns()
        self.said: list[str] = []
        self.desk = TypingDesk(self.bench, channels, every_s, self.said.append)

    def wait(self, seconds: float) -> None:
        for _ in range(round(seconds)):
            self.turns.run(lambda: False, 1.0)
            self.desk.look(self.bench.session_s())

    def facts(self) -> list[Fact]:
        self.bench.leave()
        return open_session(self.bench.record.folder).journal.facts

    def readings(self) -> list[ChannelReading]:
        return [fact for fact in self.facts() if isinstance(fact, ChannelReading)]


@pytest.fixture
def table(session_root: Path) -> Iterator[Table]:
    made = Table(session_root, ("left bias", "right bias"), 60.0)
    yield made
    made.bench.leave()


def test_enter_stamps_the_time_of_the_value(table: Table) -> None:
    table.wait(7)
    table.desk.take("13,4")
    table.wait(5)
    table.desk.take("0.0141 V")
    table.wait(1)

    left, right = table.readings()
    assert (left.channel, left.value, left.at_s) == ("left bias", 0.0134, pytest.approx(7.0))
    assert (right.channel, right.value, right.at_s) == ("right bias", 0.0141, pytest.approx(12.0))
    assert left.flags == {ReadingFlag.TYPED}


def test_enter_alone_says_unchanged(table: Table) -> None:
    for line in ("13.4", "14.1", "", "="):
        table.desk.take(line)
        table.wait(30)

    values = [
        (reading.channel, reading.value, ReadingFlag.UNCHANGED in reading.flags)
        for reading in table.readings()
    ]
    assert values == [
        ("left bias", 0.0134, False),
        ("right bias", 0.0141, False),
        ("left bias", 0.0134, True),
        ("right bias", 0.0141, True),
    ]


def test_nothing_can_be_unchanged_before_something_was_typed(table: Table) -> None:
    table.desk.take("")

    assert "type the reading once" in table.said[-1]
    assert table.readings() == []


@pytest.mark.parametrize("line", ["13..4", "words", "13.4 mA", "1e9", "7: 13.4"])
def test_what_is_no_reading_is_a_sentence_and_asked_again(table: Table, line: str) -> None:
    table.desk.take(line)
    assert table.said[-1].endswith(".")
    table.desk.take("13.4")
    table.wait(1)

    assert [reading.channel for reading in table.readings()] == ["left bias"]


def test_a_channel_can_be_chosen_by_its_number(table: Table) -> None:
    table.desk.take("2: 14.1")
    table.wait(1)

    assert [reading.channel for reading in table.readings()] == ["right bias"]


def test_a_prompt_comes_at_its_interval_and_may_be_ignored(table: Table) -> None:
    table.wait(300)

    assert table.said == ["left bias ?"] * 5


def test_without_an_interval_nobody_is_asked(session_root: Path) -> None:
    table = Table(session_root, ("left bias",), 0.0)
    table.wait(300)
    table.desk.take("13.4")

    assert table.said == []
    table.bench.leave()


def test_silence_of_a_typed_channel_is_no_alarm(table: Table) -> None:
    """A polled channel is blind after 15 s; a typed one is said once to be watched only when you type."""
    table.bench.supply(Supply.MAINS)
    table.desk.take("13.4")
    table.wait(900)
    facts = table.facts()

    assert not [fact for fact in facts if isinstance(fact, Alarm) and fact.tier is Tier.BLIND]
    told = [fact.text for fact in facts if isinstance(fact, Disturbance)]
    assert told == ["Left bias is watched only when you type."]


def test_typed_overload_alarms_at_once_and_is_no_number(table: Table) -> None:
    """One overload of a display that a person reads is all there is to go by."""
    table.bench.supply(Supply.MAINS)
    table.desk.take("13.4")
    table.wait(30)
    table.desk.take("1: OL")
    table.wait(1)
    table.desk.take("1:")
    assert "type the reading once" in table.said[-1]
    facts = table.facts()

    (gap,) = [fact for fact in facts if isinstance(fact, ChannelGap)]
    assert gap.reason is GapReason.OVERLOAD
    assert [fact.tier for fact in facts if isinstance(fact, Alarm)] == [Tier.LEAD]


def test_a_typed_session_is_judged_again_the_same(table: Table) -> None:
    for line in ("13.4", "14.1", "", "14.2", "OL"):
        table.desk.take(line)
        table.wait(45)
    table.bench.leave()
    journal = open_session(table.bench.record.folder).journal

    assert compare(journal.header, journal.facts).same
