"""A recorded session put together again: its run fed with the recorded inputs, its traces in a store."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from app.bench.leads_in_time import LeadsInTime
from app.bench.snapshot import SnapshotStore
from app.records.session_folder import Session
from drivers.reading import MeterStatus
from procedures.events import (
    ChannelGap,
    ChannelReading,
    LeadMoved,
    MeterChanged,
    SegmentOpened,
    Tick,
)
from procedures.leads import Leads
from procedures.records.codec import Fact, is_input
from procedures.replay import replay, setup_of
from procedures.runner import Run
from procedures.setup import RunSetup


@dataclass(frozen=True, slots=True)
class Restored:
    """A session as it stood at its last fact."""

    session: Session
    setup: RunSetup
    run: Run
    store: SnapshotStore
    leads: Leads
    last_s: float

    def last_seen(self) -> datetime:
        """The wall clock at the last fact, by the nearest anchor before it."""
        anchors = self.session.journal.anchors
        if not anchors:
            return self.session.journal.header.started_utc
        return anchors[-1].utc + timedelta(seconds=max(0.0, self.last_s - anchors[-1].session_s))


def restore(session: Session) -> Restored:
    """Judge the session again and show everything that was measured. Raises LineRefused."""
    journal = session.journal
    setup = setup_of(journal.header)
    run, _ = replay(setup, journal.facts)
    leads = LeadsInTime(Leads(setup.leads))
    store = SnapshotStore(run.view(), leads.now)
    last_s = fill(store, journal.facts, leads)
    store.publish(run.view(), leads.now, " ".join(journal.problems[:3]))
    return Restored(session, setup, run, store, leads.now, last_s)


def fill(store: SnapshotStore, facts: Iterable[Fact], leads: LeadsInTime) -> float:
    """Put recorded facts into a store, as the conductor did, and move the leads; the last session second."""
    last_s = 0.0
    for fact in facts:
        last_s = max(last_s, fact.until_s if isinstance(fact, ChannelGap) else fact.at_s)
        match fact:
            case ChannelReading():
                store.reading(fact.channel, fact.unit, fact.at_s, fact.value)
            case ChannelGap():
                store.miss(fact.channel, fact.until_s)
            case MeterChanged():
                store.meter(MeterStatus(fact.meter, fact.state, fact.at_s, fact.detail, fact.identity))
            case Tick():
                pass
            case _ if is_input(fact):
                _interrupt(store, fact, leads)
                store.fed(fact)  # type: ignore[arg-type]
            case _:
                store.said(fact)  # type: ignore[arg-type]
    return last_s


def _interrupt(store: SnapshotStore, fact: Fact, leads: LeadsInTime) -> None:
    """Draw no line across a moved lead or an unwatched break."""
    if isinstance(fact, SegmentOpened):
        store.interrupt_all()
    elif isinstance(fact, LeadMoved):
        store.moved(leads.move(fact))
