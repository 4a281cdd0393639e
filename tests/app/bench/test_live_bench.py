"""A whole bench in stepped time with the built-in `watch` and a scripted meter: meter to CSV."""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from app.bench.live_bench import BenchParts, LiveBench, PolledMeter
from app.records.session_folder import SessionRecord, is_in_use, list_sessions, open_session
from drivers.clock import SteppedClock
from drivers.errors import LinkTimedOut, ReplyRefused
from drivers.meter import MeterFacts, MeterSetup
from drivers.reading import Gap, GapReason, MeterState, Reading, ReadingFlag, Unit
from procedures.events import ChannelGap, ChannelReading, Note
from procedures.leads import Lead
from procedures.library import shipped_procedures
from procedures.records.journal import Header
from procedures.replay import compare, setup_entry
from procedures.setup import RULES_VERSION, RunSetup

STARTED = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)


@dataclass
class RisingMeter:
    """A meter whose reading rises as a healthy unit's does; silent while `mute`."""

    clock: SteppedClock
    name: str = "dmm"
    address: str = "scripted"
    inputs: tuple[str, ...] = ("1",)
    mute: bool = False
    setups: list[MeterSetup] = field(default_factory=list)

    def connect(self, deadline: float) -> str:
        return "Scripted,DMM,1,1.0"

    def configure(self, setup: MeterSetup, deadline: float) -> MeterFacts:
        self.setups.append(setup)
        return MeterFacts("Scripted,DMM,1,1.0", setup.range_volts, setup.integration_s, 0.2)

    def read(self, deadline: float) -> tuple[Reading | Gap, ...]:
        if self.mute:
            raise LinkTimedOut(self.address, "no answer")
        now = self.clock.now()
        value = 0.0135 * (1.0 - 0.3 * math.exp(-now / 300.0))
        return (Reading(self.name, "1", value, Unit.VOLT, now - 0.2, now),)

    def recover(self, deadline: float) -> None:
        if self.mute:
            raise LinkTimedOut(self.address, "no answer")

    def abort(self) -> None:
        pass

    def disconnect(self) -> None:
        pass


def _bench(root: Path, *leads: Lead) -> tuple[LiveBench, RisingMeter]:
    clock = SteppedClock(start_s=1000.0)
    meter = RisingMeter(clock)
    wired = leads or (Lead("dmm", "1", "left bias"),)
    setup = RunSetup.build(shipped_procedures()["watch"], leads=wired)
    header = Header("0001", STARTED, setup_entry(setup), RULES_VERSION, title="Watch")
    record = SessionRecord.create(root, header)
    return LiveBench(BenchParts(clock, setup, record, [PolledMeter(meter, MeterSetup(), 0.5)])), meter


def test_ten_minutes_of_watching_reach_the_csv(session_root: Path, tmp_path: Path) -> None:
    """Meter, worker, conductor, run, journal, CSV: 1 200 readings, each exactly as the meter gave it."""
    bench, _ = _bench(session_root)
    bench.turns().run(lambda: False, 600.0)
    bench.leave()
    path = tmp_path / "out.csv"
    sentence = bench.export_csv(path)

    with open(path, newline="", encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["left bias [mV]"]]
    assert 1190 <= len(rows) <= 1210
    assert f"{len(rows)} readings" in sentence
    trace = bench.snapshot().traces[0]
    assert [float(Decimal(row["left bias [mV]"]).scaleb(-3)) for row in rows] == trace.values.tolist()
    (past,) = list_sessions(session_root)
    assert past.closed
    assert past.lasted_s == pytest.approx(600.0, abs=1.0)


def test_a_bench_left_open_is_found_by_the_next_start(session_root: Path) -> None:
    """All readings are there, nothing was stopped, and the folder is free for whoever takes it up."""
    bench, _ = _bench(session_root)
    bench.turns().run(lambda: False, 60.0)
    bench.leave_open()
    (past,) = list_sessions(session_root)
    assert not past.closed
    assert past.lasted_s == pytest.approx(60.0, abs=2.0)
    assert not is_in_use(past.folder)


def test_the_session_is_judged_the_same_again(session_root: Path) -> None:
    """Header and inputs are all that the decisions came from."""
    bench, _ = _bench(session_root)
    bench.turns().run(lambda: False, 300.0)
    bench.leave()

    journal = open_session(bench.record.folder).journal
    comparison = compare(journal.header, journal.facts)

    assert comparison.same, comparison.sentence


def test_a_silent_meter_is_a_gap_and_the_trace_is_not_joined(session_root: Path) -> None:
    """Ten silent seconds: a gap in the record, a break in the trace, the meter's state in words."""
    bench, meter = _bench(session_root)
    turns = bench.turns()
    turns.run(lambda: False, 10.0)
    meter.mute = True
    turns.run(lambda: False, 10.0)
    (state,) = bench.snapshot().meters
    assert state.state is not MeterState.POLLING
    meter.mute = False
    turns.run(lambda: False, 20.0)
    bench.leave()

    trace = bench.snapshot().traces[0]
    assert (~trace.joined[:-1]).sum() == 1
    assert len(trace.missed) >= 1
    facts = open_session(bench.record.folder).journal.facts
    assert any(isinstance(fact, ChannelGap) for fact in facts)
    assert 0.0 not in [fact.value for fact in facts if isinstance(fact, ChannelReading)]


def test_a_typed_value_is_a_reading_without_a_meter(session_root: Path) -> None:
    """Typed once, confirmed unchanged once: two readings, both marked."""
    bench, _ = _bench(session_root)
    turns = bench.turns()
    turns.run(lambda: False, 1.0)
    bench.typed("right bias", 0.0127)
    bench.unchanged("right bias")
    bench.unchanged("heatsink")
    turns.run(lambda: False, 1.0)
    bench.leave()

    facts = open_session(bench.record.folder).journal.facts
    typed = [f for f in facts if isinstance(f, ChannelReading) and ReadingFlag.TYPED in f.flags]
    assert [(f.channel, f.value) for f in typed] == [("right bias", 0.0127)] * 2
    assert ReadingFlag.UNCHANGED in typed[1].flags


def test_what_is_read_off_is_in_the_channels_own_unit(session_root: Path) -> None:
    """A heatsink's display shows degrees: a bare number there is no millivolts."""
    bench, _ = _bench(session_root, Lead("dmm", "1", "left bias"))
    warm = replace(bench.setup.channels[0], channel="heatsink", unit=Unit.CELSIUS, typed=True)
    bench.setup = replace(bench.setup, channels=(*bench.setup.channels, warm))
    turns = bench.turns()
    bench.read_off("heatsink", "48,5")
    bench.unchanged("heatsink")
    bench.read_off("heatsink", "OL")
    for wrong, sentence in (("48.5 mV", "is in V, heatsink in °C"), ("4 8", "is not a reading")):
        with pytest.raises(ReplyRefused, match=sentence):
            bench.read_off("heatsink", wrong)
    with pytest.raises(ReplyRefused, match="400 V is more than an output stage can show"):
        bench.read_off("left bias", "400 V")
    turns.run(lambda: False, 1.0)
    bench.leave()

    facts = open_session(bench.record.folder).journal.facts
    warmths = [f for f in facts if isinstance(f, ChannelReading) and f.channel == "heatsink"]
    assert [(f.value, f.unit) for f in warmths] == [(48.5, Unit.CELSIUS)] * 2
    gaps = [f for f in facts if isinstance(f, ChannelGap) and f.channel == "heatsink"]
    assert [gap.reason for gap in gaps] == [GapReason.OVERLOAD]


def test_one_lead_serves_two_channels_and_their_traces_stay_apart(session_root: Path) -> None:
    """Lead moved: one call, a gap, the other channel."""
    bench, _ = _bench(session_root)
    turns = bench.turns()
    turns.run(lambda: False, 5.0)
    bench.move_lead("dmm", "1", "right bias")
    turns.run(lambda: False, 5.0)
    bench.move_lead("dmm", "1", "left bias")
    turns.run(lambda: False, 5.0)
    bench.leave()

    left, right = bench.snapshot().trace("left bias"), bench.snapshot().trace("right bias")
    assert left is not None
    assert right is not None
    assert (~left.joined[:-1]).sum() == 1
    assert right.seconds.min() >= 5.0
    assert right.seconds.max() <= 10.0


def test_a_note_can_be_taken_back_and_stays_in_the_record(session_root: Path) -> None:
    """Shown no more, and both the note and its withdrawal are kept."""
    bench, _ = _bench(session_root)
    turns = bench.turns()
    turns.run(lambda: False, 1.0)
    bench.note("hum")
    turns.run(lambda: False, 1.0)
    assert [mark.text for mark in bench.picture().marks if mark.kind == "note"] == ["hum"]

    assert bench.undo_note() == "hum"
    assert bench.undo_note() == ""
    turns.run(lambda: False, 1.0)
    bench.leave()

    assert [mark.text for mark in bench.picture().marks if mark.kind == "note"] == []
    journal = open_session(bench.record.folder).journal
    assert any(isinstance(fact, Note) for fact in journal.facts)
    assert len(journal.taken_back) == 1


def test_the_picture_is_the_same_object_while_nothing_changes(session_root: Path) -> None:
    """Whoever draws can tell cheaply that there is nothing to draw."""
    bench, _ = _bench(session_root)
    bench.turns().run(lambda: False, 2.0)

    assert bench.picture() is bench.picture()
    bench.leave()


def test_leaving_twice_closes_once(session_root: Path) -> None:
    """A window that closes in a hurry does no harm."""
    bench, _ = _bench(session_root)
    bench.turns().run(lambda: False, 2.0)
    bench.leave()
    bench.leave()

    assert open_session(bench.record.folder).journal.closed


def test_a_session_is_named_while_it_runs(session_root: Path) -> None:
    """The name stands in the record and in the picture."""
    bench, _ = _bench(session_root)
    bench.turns().run(lambda: False, 2.0)
    bench.name("Amsel A-60, serial 0042", "117")
    bench.name("", "118")  # what is left empty stays
    bench.turns().run(lambda: False, 2.0)
    bench.leave()

    assert bench.picture().unit_name == "Amsel A-60, serial 0042"
    assert list_sessions(session_root)[0].unit == "Amsel A-60, serial 0042"


def test_a_memory_that_fails_does_not_leave_the_record_open(session_root: Path) -> None:
    """What is done at leaving is of no weight beside the record: it is closed and let go all the same."""
    bench, _ = _bench(session_root)
    done: list[str] = []

    def fails() -> None:
        raise ZeroDivisionError

    bench.on_leave(fails)
    bench.on_leave(lambda: done.append("the next"))
    with pytest.raises(ZeroDivisionError):
        bench.leave()

    assert done == ["the next"]
    assert open_session(bench.record.folder).journal.closed
    assert not is_in_use(bench.record.folder)
