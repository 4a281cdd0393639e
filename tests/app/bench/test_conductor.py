"""The rules of the conductor, with a hand-written run and record."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import pytest

from app.bench.conductor import Conductor, Entry
from app.bench.sleep import Slept
from app.bench.snapshot import SnapshotStore
from drivers.clock import SteppedClock
from drivers.reading import Gap, GapReason, Reading, RequestOutcome, Unit
from procedures.events import (
    Action,
    ChannelGap,
    ChannelReading,
    Event,
    Input,
    LeadMoved,
    Note,
    Request,
    RequestClosed,
    SegmentOpened,
    StepChanged,
    StepState,
    Supply,
    Tick,
)
from procedures.leads import Lead, Leads
from procedures.records.journal import Anchor, Fault
from procedures.view import RunView

LEADS = Leads((Lead("dmm", "1", "left bias"), Lead("second", "1", None)))


@dataclass
class RehearsedRun:
    """Says what it was told to say, and keeps what it was fed."""

    says: Callable[[Input], Sequence[Event]] = lambda fact: ()
    fed: list[Input] = field(default_factory=list)
    deadline_s: float | None = None

    def feed(self, fact: Input) -> Sequence[Event]:
        self.fed.append(fact)
        if isinstance(fact, Tick):
            self.deadline_s = None
        return self.says(fact)

    def next_deadline(self) -> float | None:
        return self.deadline_s

    def view(self) -> RunView:
        return RunView(at_s=0.0, procedure="watch", title="Watch", supply=Supply.MAINS)


@dataclass
class KeptRecord:
    """Keeps what it is given, or refuses as a full disk does."""

    entries: list[Entry] = field(default_factory=list)
    full: bool = False
    forced: int = 0

    def append(self, entries: Sequence[Entry]) -> None:
        if self.full:
            raise OSError(28, "No space left on device")
        self.entries.extend(entries)

    def force_soon(self) -> None:
        self.forced += 1


@dataclass
class Asked:
    """A worker that notes what it was asked for."""

    requests: list[Request] = field(default_factory=list)

    def request(self, request: Request) -> None:
        self.requests.append(request)


class Bench:
    """A conductor with everything around it, started at bench second 100."""

    def __init__(self, run: RehearsedRun | None = None, leads: Leads = LEADS) -> None:
        self.clock = SteppedClock(start_s=100.0)
        self.run = run or RehearsedRun()
        self.record = KeptRecord()
        self.store = SnapshotStore(self.run.view(), leads)
        self.worker = Asked()
        self.slept: Slept | None = None
        self.conductor = Conductor(
            clock=self.clock,
            run=self.run,
            record=self.record,
            store=self.store,
            leads=leads,
            workers={"dmm": self.worker},
            sleep=self,
        )

    def since_last_turn(self) -> Slept | None:
        slept, self.slept = self.slept, None
        return slept

    def turn(self, at_s: float) -> float:
        self.clock.advance_to(at_s)
        return self.conductor.advance(at_s)

    def fed(self, kind: type) -> list[Input]:
        return [fact for fact in self.run.fed if isinstance(fact, kind)]


def _reading(start_s: float, end_s: float, value: float = 0.013, meter: str = "dmm") -> Reading:
    return Reading(meter, "1", value, Unit.VOLT, start_s, end_s)


def test_a_reading_reaches_run_record_and_snapshot_in_session_seconds() -> None:
    """Bench second 100 is session second 0; a reading counts at its middle."""
    bench = Bench()
    bench.conductor.post(_reading(102.0, 102.4))
    bench.turn(102.5)

    expected = ChannelReading(pytest.approx(2.2), "left bias", 0.013, Unit.VOLT, pytest.approx(0.2))  # type: ignore[arg-type]
    assert bench.fed(ChannelReading) == [expected]
    assert expected in bench.record.entries
    assert bench.store.newest().traces[0].values.tolist() == [0.013]


def test_a_gap_is_recorded_with_its_reason_and_is_never_a_value() -> None:
    """Missing is never zero."""
    bench = Bench()
    bench.conductor.post(Gap("dmm", "1", 101.0, 103.0, GapReason.TIMED_OUT, "no answer"))
    bench.turn(103.0)

    assert bench.fed(ChannelGap) == [ChannelGap(1.0, 3.0, "left bias", GapReason.TIMED_OUT, "no answer")]
    trace = bench.store.newest().traces[0]
    assert (len(trace.values), trace.missed.tolist()) == (0, [3.0])


def test_an_input_without_a_channel_is_not_recorded() -> None:
    """A meter whose probes touch nothing reads nothing."""
    bench = Bench()
    bench.conductor.post(_reading(101.0, 101.2, meter="second"))
    bench.turn(101.3)

    assert bench.fed(ChannelReading) == []


def test_leads_that_count_are_those_of_the_readings_interval() -> None:
    """Before the move the old channel, across the move a gap, after it the new channel."""
    bench = Bench()
    bench.conductor.post(LeadMoved(5.0, "dmm", "1", "right bias"))
    bench.conductor.post(_reading(104.0, 104.9))
    bench.conductor.post(_reading(104.9, 105.3))
    bench.conductor.post(_reading(105.3, 105.7))
    bench.turn(106.0)

    assert [f.channel for f in bench.fed(ChannelReading)] == ["left bias", "right bias"]  # type: ignore[union-attr]
    (gap,) = bench.fed(ChannelGap)
    assert isinstance(gap, ChannelGap)
    assert (gap.channel, gap.reason) == ("right bias", GapReason.MOVED)


def test_traces_are_not_joined_across_a_moved_lead() -> None:
    """Left, right and left again: the two left pieces stay apart."""
    bench = Bench()
    for start in (101.0, 102.0):
        bench.conductor.post(_reading(start, start + 0.2))
    bench.conductor.post(LeadMoved(3.0, "dmm", "1", "right bias"))
    bench.conductor.post(_reading(103.0, 103.2))
    bench.conductor.post(LeadMoved(4.0, "dmm", "1", "left bias"))
    bench.conductor.post(_reading(104.0, 104.2))
    bench.turn(105.0)

    left = bench.store.newest().trace("left bias")
    assert left is not None
    assert left.joined.tolist() == [True, False, True]


def test_inputs_keep_the_order_of_posting() -> None:
    """One inbox, one order, whoever posts."""
    bench = Bench()
    for i in range(20):
        bench.conductor.post(Note(float(i), f"note {i}"))
    bench.turn(120.0)

    assert [f.text for f in bench.fed(Note)] == [f"note {i}" for i in range(20)]  # type: ignore[union-attr]


def test_a_tick_comes_when_the_run_asked_for_one_and_not_before() -> None:
    """The next turn is due at the run's deadline or after a quarter of a second, whichever is first."""
    bench = Bench()
    bench.turn(100.1)
    bench.run.deadline_s = 0.4
    bench.run.fed.clear()

    assert bench.turn(100.2) == pytest.approx(100.4)
    assert bench.fed(Tick) == []
    assert bench.turn(100.4) == pytest.approx(100.65)
    assert bench.fed(Tick) == [Tick(pytest.approx(0.4))]  # type: ignore[arg-type]


def test_a_run_begins_with_the_first_turn() -> None:
    """A run starts with the first fact that it is fed, so something is fed at once."""
    bench = Bench()
    bench.turn(100.0)

    assert bench.run.fed == [Tick(0.0)]


def test_wall_clock_anchors_come_at_the_start_and_every_minute() -> None:
    """Two hours of turns: 121 anchors, each a minute after the other on both clocks."""
    bench = Bench()
    for i in range(7201):
        bench.turn(100.0 + i)

    anchors = [e for e in bench.record.entries if isinstance(e, Anchor)]
    assert len(anchors) == 121
    assert (anchors[60].utc - anchors[0].utc).total_seconds() == pytest.approx(3600.0)
    assert anchors[60].session_s - anchors[0].session_s == pytest.approx(3600.0)


def test_a_request_goes_to_the_worker_that_reads_the_channel_and_its_outcome_comes_back() -> None:
    """The run only asks."""
    request = Request(1.0, "r1", Action.RANGE, "left bias", {"volts": 1.0}, 5.0)
    bench = Bench(RehearsedRun(says=lambda fact: [request] if isinstance(fact, Note) else []))
    bench.conductor.post(Note(1.0))
    bench.turn(101.0)
    assert bench.worker.requests == [request]

    bench.conductor.post(RequestOutcome("r1", 102.0, True))
    bench.turn(102.0)

    assert bench.fed(RequestClosed) == [RequestClosed(2.0, "r1", True, "")]


def test_a_request_that_nothing_can_carry_out_is_refused_with_a_reason() -> None:
    """Silence is no answer."""
    request = Request(1.0, "r1", Action.RANGE, "heatsink")
    bench = Bench(RehearsedRun(says=lambda fact: [request] if isinstance(fact, Note) else []))
    bench.conductor.post(Note(1.0))
    bench.turn(101.0)
    bench.turn(101.25)

    (closed,) = bench.fed(RequestClosed)
    assert isinstance(closed, RequestClosed)
    assert not closed.done
    assert "heatsink" in closed.detail


def test_a_step_change_is_forced_to_disk() -> None:
    """What a step decided survives a power cut."""
    change = StepChanged(1.0, "as-found", StepState.DONE)
    bench = Bench(RehearsedRun(says=lambda fact: [change] if isinstance(fact, Note) else []))
    bench.conductor.post(Note(1.0))
    bench.turn(101.0)

    assert bench.record.forced == 1


def test_an_error_in_the_run_is_said_and_recording_goes_on() -> None:
    """Nothing that was measured is lost by an error of the guidance."""

    def fails(fact: Input) -> Sequence[Event]:
        raise ZeroDivisionError("division by zero")

    bench = Bench(RehearsedRun(says=fails))
    for i in range(5):
        bench.conductor.post(_reading(101.0 + i, 101.2 + i))
        bench.turn(101.3 + i)

    kept = [e for e in bench.record.entries if isinstance(e, ChannelReading)]
    assert len(kept) == 5
    assert len([e for e in bench.record.entries if isinstance(e, Fault)]) == 1
    assert "ZeroDivisionError" in bench.store.newest().trouble
    assert len(bench.store.newest().traces[0].values) == 5


def test_a_full_disk_loses_nothing_once_there_is_room_again() -> None:
    """The batch is held and kept later, in order."""
    bench = Bench()
    bench.record.full = True
    for i in range(3):
        bench.conductor.post(_reading(101.0 + i, 101.2 + i, value=float(i)))
        bench.turn(101.3 + i)
    assert "No space left" in bench.store.newest().trouble

    bench.record.full = False
    bench.turn(105.0)

    kept = [e.value for e in bench.record.entries if isinstance(e, ChannelReading)]
    assert kept == [0.0, 1.0, 2.0]
    assert bench.store.newest().trouble == ""


def test_sleep_is_added_to_session_time_and_opens_a_segment() -> None:
    """The bench's clock stood still for ten minutes; the session did not."""
    bench = Bench()
    bench.turn(105.0)
    bench.slept = Slept(unwatched_s=600.0, hidden_s=600.0)
    bench.turn(105.25)

    (segment,) = bench.fed(SegmentOpened)
    assert isinstance(segment, SegmentOpened)
    assert segment.at_s == pytest.approx(605.25)
    assert (segment.unwatched_s, segment.supply) == (600.0, Supply.MAINS)
    (gap,) = bench.fed(ChannelGap)
    assert isinstance(gap, ChannelGap)
    assert (gap.reason, gap.until_s - gap.at_s) == (GapReason.NOT_RUNNING, pytest.approx(600.0))
    bench.conductor.post(_reading(106.0, 106.2))
    bench.turn(106.3)
    assert bench.fed(ChannelReading)[0].at_s == pytest.approx(606.1)


def test_a_resumed_session_goes_on_counting() -> None:
    """Session seconds begin where the resumed session stands."""
    bench = Bench()
    resumed = Conductor(
        clock=bench.clock,
        run=bench.run,
        record=bench.record,
        store=bench.store,
        leads=LEADS,
        begin_s=1234.0,
    )

    assert resumed.session_s(101.0) == pytest.approx(1235.0)


def test_the_view_of_a_run_that_cannot_give_one_stays_the_last() -> None:
    """Readers always have something true to show."""
    bench = Bench()
    bench.turn(101.0)
    last = bench.store.newest().view

    def fails() -> RunView:
        raise RuntimeError("lost")

    bench.run.view = fails  # type: ignore[method-assign]
    bench.conductor.post(_reading(102.0, 102.2))
    bench.turn(102.3)

    assert bench.store.newest().view == last
    assert "RuntimeError" in bench.store.newest().trouble
    assert replace(last, paused=True) != last


def test_an_entry_that_cannot_be_written_down_holds_up_no_other() -> None:
    """The rest of the batch is kept, and the trouble is said."""
    bench = Bench()
    keep = bench.record.append

    def choosy(entries: Sequence[Entry]) -> None:
        if any(isinstance(entry, Note) for entry in entries):
            raise ValueError("cannot be written down")
        keep(entries)

    bench.record.append = choosy  # type: ignore[method-assign]
    bench.conductor.post(_reading(101.0, 101.2, value=1.0))
    bench.conductor.post(Note(1.5, "odd"))
    bench.conductor.post(_reading(102.0, 102.2, value=2.0))
    bench.turn(103.0)

    kept = [e.value for e in bench.record.entries if isinstance(e, ChannelReading)]
    assert kept == [1.0, 2.0]
    assert "cannot be written down" in bench.store.newest().trouble


def test_something_odd_in_the_inbox_is_said_and_the_rest_is_taken() -> None:
    """A defect of one part of the program does not stop the record."""
    bench = Bench()
    bench.conductor.post(Reading("dmm", "1", 1.0, Unit.VOLT, "odd", "odd"))  # type: ignore[arg-type]
    bench.conductor.post(_reading(102.0, 102.2, value=2.0))
    bench.turn(103.0)

    kept = [e.value for e in bench.record.entries if isinstance(e, ChannelReading)]
    assert kept == [2.0]
    assert "TypeError" in bench.store.newest().trouble


def test_an_error_outside_the_run_does_not_end_the_turns() -> None:
    """A worker that cannot be asked costs the guidance; readings go on being kept."""
    wish = Request(1.0, "r1", Action.RANGE, "left bias", {"range_volts": 1.0}, 5.0)
    bench = Bench(RehearsedRun(says=lambda fact: [wish] if isinstance(fact, Tick) else []))

    def fails(request: Request) -> None:
        raise RuntimeError("gone")

    bench.worker.request = fails  # type: ignore[method-assign]
    bench.turn(101.0)
    bench.conductor.post(_reading(102.0, 102.2, value=2.0))
    bench.turn(103.0)

    assert [e.value for e in bench.record.entries if isinstance(e, ChannelReading)] == [2.0]
    assert "RuntimeError: gone" in bench.store.newest().trouble


def test_what_cannot_be_written_is_tried_the_seldomer_the_more_it_is() -> None:
    """Putting hours of readings into words four times a second would hold up the alarms; the end tries."""
    bench = Bench()
    tried: list[int] = []

    def full(entries: Sequence[Entry]) -> None:
        tried.append(len(entries))
        raise OSError(28, "No space left on device")

    bench.record.append = full  # type: ignore[method-assign]
    for i in range(400):
        for _ in range(10):
            bench.conductor.post(_reading(101.0 + i * 0.25, 101.1 + i * 0.25))
        bench.turn(101.25 + i * 0.25)

    assert sum(tried) < 400 * 4000 / 20  # every turn all of them would be a thousand times four hundred
    before = len(tried)
    bench.conductor.finish(bench.clock.now())
    assert len(tried) == before + 1
    assert tried[-1] > 4000


def test_a_step_change_is_forced_after_it_was_written() -> None:
    """Forced before, it would not be on the disk yet."""
    change = StepChanged(1.0, "as-found", StepState.DONE)
    bench = Bench(RehearsedRun(says=lambda fact: [change] if isinstance(fact, Note) else []))
    there: list[bool] = []
    bench.record.force_soon = lambda: there.append(change in bench.record.entries)  # type: ignore[method-assign]
    bench.conductor.post(Note(1.0))
    bench.turn(101.0)

    assert there == [True]
