"""After a crash or a power cut: what a session was doing, and going on with it or closing it.

The amplifier may have been on and unwatched all the time; the person says for how long it was off. After an
alarm to switch off there is no going on.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from app.bench.live_bench import BenchParts, LiveBench
from app.bench.real_meters import MeterAt, own_dialects, polled, way_of
from app.bench.restoring import Restored, restore
from app.bench.sleep import ComputerSleep
from app.records.session_folder import SessionRecord, SessionUnreadable, open_session
from app.settings import Settings
from drivers.clock import Clock, LifeClock
from drivers.reading import GapReason
from procedures.events import ChannelGap, Input, SegmentOpened, StopRequested, Supply, SupplyChanged
from procedures.leads import Lead
from procedures.records.journal import Anchor

REASON = "the program was cut off"
PRACTICE = "A simulated unit does not outlive the program: close the session and begin a new one."


@dataclass(frozen=True, slots=True)
class LeftOpen:
    """A session that was not closed. `refusal` says why it cannot go on; empty when it can."""

    last_seen: datetime
    supply: Supply
    refusal: str


def look_at(folder: Path) -> LeftOpen:
    """What an unfinished session was doing when it was cut off. Raises SessionUnreadable, LineRefused."""
    restored = restore(open_session(folder))
    refusal = restored.run.resume_refusal
    if not refusal and restored.setup.practice:
        refusal = PRACTICE
    return LeftOpen(restored.last_seen(), restored.run.view().supply, refusal)


def resume(
    folder: Path,
    off_minutes: float | None,
    settings: Settings,
    clock: Clock | None = None,
) -> LiveBench:
    """The session's bench again, in a new segment, not yet started.

    Raises ValueError with the reason when it may not go on, SessionUnreadable, LineRefused, OSError.
    """
    record, restored = _taken_up(folder)
    try:
        return _resumed(record, restored, off_minutes, settings, clock)
    except BaseException:
        record.abandon()  # else it would count as being recorded until the program ends
        raise


def _taken_up(folder: Path) -> tuple[SessionRecord, Restored]:
    """Take an unfinished session's record, then read it: what is read before may be closed by another window.

    Raises SessionUnreadable, LineRefused, OSError; then nothing is held.
    """
    record = SessionRecord.resume(folder)
    try:
        session = open_session(folder)
        if session.journal.closed:
            raise SessionUnreadable(f"{folder}: this session was closed meanwhile, by another window")
        return record, restore(session)
    except BaseException:
        record.abandon()
        raise


def _resumed(
    record: SessionRecord,
    restored: Restored,
    off_minutes: float | None,
    settings: Settings,
    clock: Clock | None,
) -> LiveBench:
    refusal = restored.run.resume_refusal or (PRACTICE if restored.setup.practice else "")
    if refusal:
        raise ValueError(refusal)
    life = clock or LifeClock()
    own = own_dialects()
    begin_s = restored.last_s + _away_s(restored, life)
    bench = LiveBench(
        BenchParts(
            clock=life,
            setup=restored.setup,
            record=record,
            meters=[polled(at, life, settings, own, volts) for at, volts in _meters(restored)],
            sleep=ComputerSleep() if clock is None else None,
            unit_name=restored.session.journal.header.unit,
            run=restored.run,
            store=restored.store,
            leads=restored.leads,
            begin_s=begin_s,
            ask_every_s=settings.typing_every_s,
        )
    )
    for fact in break_facts(restored, begin_s, off_minutes):
        bench.conductor.post(fact)
    return bench


def _meters(restored: Restored) -> list[tuple[MeterAt, float | None]]:
    """The session's meters with the inputs that they had, each with what it is to read in volts."""
    found = []
    channels = {channel.channel: channel for channel in restored.setup.channels}
    for name, address in restored.session.journal.header.meters.items():
        leads = [lead for lead in restored.leads if lead.meter == name] or [Lead(name, "1", None)]
        first = leads[0]
        read = channels.get(first.channel or "")
        more = tuple((lead.input, lead.channel or "") for lead in leads[1:])
        dialect, pattern = way_of(restored.session.journal.header.ways.get(name, {}))
        at = MeterAt(
            name,
            address,
            first.channel,
            dialect=dialect,
            pattern=pattern,
            first_input=first.input,
            more=more,
        )
        found.append((at, (read.target_volts or read.high_volts) if read is not None else None))
    return found


def break_facts(restored: Restored, begin_s: float, off_minutes: float | None) -> list[Input]:
    """What is to be recorded about the time that nobody watched."""
    last_s = restored.last_s
    facts: list[Input] = [
        ChannelGap(last_s, begin_s, lead.channel, GapReason.NOT_RUNNING, REASON)
        for lead in restored.leads
        if lead.channel is not None
    ]
    supply = restored.run.view().supply
    if off_minutes:
        off_s = max(last_s, begin_s - off_minutes * 60.0)
        facts.append(SupplyChanged(off_s, Supply.OFF))
        supply = Supply.OFF
    facts.append(SegmentOpened(begin_s, REASON, begin_s - last_s, supply))
    return facts


def close_as_it_stands(folder: Path, off_minutes: float | None, now: datetime | None = None) -> None:
    """Close an unfinished session; what is known of the break is kept. Raises as `resume`."""
    record, restored = _taken_up(folder)
    moment = now or datetime.now(UTC)
    begin_s = restored.last_s + max(0.0, (moment - restored.last_seen()).total_seconds())
    try:
        entries: list[Input] = break_facts(restored, begin_s, off_minutes)
        if restored.run.view().ended is None:
            entries.append(StopRequested(begin_s, "Closed after the program was cut off."))
        said = [event for fact in entries for event in (fact, *restored.run.feed(fact))]
        record.append([Anchor(begin_s, moment), *said])
        record.close()
    finally:
        record.abandon()


def _away_s(restored: Restored, clock: Clock) -> float:
    """Seconds from the last fact to now, by the wall clock; a clock that was set back counts as none."""
    return max(0.0, (clock.utc() - restored.last_seen()).total_seconds())
