"""A long session opened from its columns and facts, shown as it was recorded instead of judged again.

Judging a day again takes a minute; putting its picture together takes a moment. Steps, alarms, verdicts and
recorded values are those of the record; where a channel stands is told from its readings. Forecasts are
left out: they would have to be worked out again.
"""

from __future__ import annotations

import bisect
import contextlib
import dataclasses
import threading
from collections.abc import Callable
from pathlib import Path

import numpy as np

from app.apart import apart
from app.bench.leads_in_time import LeadsInTime
from app.bench.marks import Marks
from app.bench.recalled import Recalled
from app.bench.restoring import Restored
from app.bench.snapshot import Snapshot, SnapshotStore, Trace
from app.bench.winding_bench import WindingBench
from app.records.column_file import ChannelColumns, ColumnFile, load_columns
from app.records.exporting import export_session
from app.records.quick_journal import Floats, read_quickly
from app.records.session_folder import is_long
from app.windows.ports import BenchPicture
from drivers.clock import host_seconds
from drivers.reading import MeterStatus, Unit
from procedures.events import ChannelGap, LeadMoved, MeterChanged, SegmentOpened
from procedures.leads import Leads
from procedures.records.codec import Fact, is_input
from procedures.replay import setup_of
from procedures.runner import Run


class _Into:
    """Puts readings and breaks into a store."""

    def __init__(self, store: SnapshotStore, leads: LeadsInTime) -> None:
        self._store = store
        self._leads = leads

    def readings(self, channel: str, unit: Unit, seconds: Floats, values: Floats, /) -> None:
        self._store.readings(channel, unit, seconds, values)

    def between(self, fact: Fact) -> None:
        if isinstance(fact, ChannelGap):
            self._store.miss(fact.channel, fact.until_s)
        elif isinstance(fact, SegmentOpened):
            self._store.interrupt_all()
        elif isinstance(fact, LeadMoved):
            self._store.moved(self._leads.move(fact))


def _nobody_waits(_share: float) -> None:
    """Nobody wants to know how far it is."""


def recall(folder: Path, progress: Callable[[float], None] = _nobody_waits) -> Restored:
    """Open a long session. Raises SessionUnreadable, LineRefused, OSError.

    Where there is no column file that covers the journal, one is written for the next time.
    """
    stored = load_columns(folder)
    leads = LeadsInTime(Leads())
    store = SnapshotStore(Recalled.nothing(), leads.now)
    last_s = 0.0
    for one in stored.channels:
        store.readings(one.channel, Unit(one.unit), one.seconds, one.values, one.led)
        for at_s in one.missed.tolist():
            store.miss(one.channel, at_s)
        last_s = max(last_s, float(one.seconds[-1]) if len(one.seconds) else 0.0)
    quick = read_quickly(folder, _Into(store, leads), stored.covered, progress)
    last_s = max(last_s, quick.last_s)
    journal = quick.session.journal
    setup = setup_of(journal.header)
    now = LeadsInTime(Leads(setup.leads))
    for fact in journal.facts:
        if isinstance(fact, LeadMoved):
            now.move(fact)
        if isinstance(fact, ChannelGap):
            continue  # a miss, not of interest beside the readings
        if isinstance(fact, MeterChanged):
            store.meter(MeterStatus(fact.meter, fact.state, fact.at_s, fact.detail, fact.identity))
        elif is_input(fact):
            store.fed(fact)  # type: ignore[arg-type]
        else:
            store.said(fact)  # type: ignore[arg-type]
    store.publish(Recalled.nothing(), now.now, " ".join(journal.problems[:3]))
    traces = store.newest().traces
    view = Recalled(setup, journal.facts).view(last_s, traces)
    store.publish(view, now.now, " ".join(journal.problems[:3]))
    if stored.covered < quick.size and quick.whole and is_long(folder):
        _keep_columns(folder, traces, quick.size)
    return Restored(quick.session, setup, Run(setup), store, now.now, last_s)


def _keep_columns(folder: Path, traces: tuple[Trace, ...], covered: int) -> None:
    """Write the column file; a folder that cannot be written only costs time at the next opening."""
    columns = [
        ChannelColumns(
            t.channel,
            t.unit.value,
            t.seconds,
            t.values,
            np.concatenate(([True], t.joined[:-1])) if len(t.joined) else t.joined,
            t.missed,
        )
        for t in traces
    ]
    with contextlib.suppress(OSError):
        ColumnFile(folder).write(columns, covered)


def prepare_columns(folder: Path) -> threading.Thread | None:
    """Have the column file of a long session written that has just been closed, for its first opening.

    In a process of its own, so that the next recording does not feel it; None where the session is short.
    """
    if not is_long(folder):
        return None

    def work() -> None:
        with contextlib.suppress(OSError, ValueError):
            apart(_prepared, folder)

    thread = threading.Thread(target=work, name="columns", daemon=True)
    thread.start()
    return thread


def _prepared(folder: Path) -> None:
    recall(folder)


class LongReview(WindingBench):
    """See `app.windows.ports.Replayed`. Belongs to the thread that draws."""

    def __init__(
        self, restored: Restored, unit_name: str, seconds: Callable[[], float] = host_seconds
    ) -> None:
        super().__init__(restored, unit_name, 60.0, seconds)
        self._facts = sorted(restored.session.journal.facts, key=lambda fact: fact.at_s)
        self._moments = [fact.at_s for fact in self._facts]
        self._recalled = Recalled(restored.setup, self._facts)

    def picture(self) -> BenchPicture:
        """The session as it stood at the position."""
        self._move()
        whole = super().picture()
        if self._position_s >= self.length_s:
            return dataclasses.replace(whole, serial=-1 - self._serial, speed=self._speed)
        traces = tuple(_until(trace, self._position_s) for trace in whole.traces)
        shown = tuple(trace for trace in traces if len(trace.seconds) or len(trace.missed))
        view = self._recalled.view(self._position_s, shown)
        facts = self._facts[: bisect.bisect_right(self._moments, self._position_s)]
        snapshot = Snapshot(
            self._serial,
            view,
            inputs=[fact for fact in facts if is_input(fact)],  # type: ignore[misc]
            events=[fact for fact in facts if not is_input(fact)],  # type: ignore[misc]
        )
        marks = Marks(self._whole.setup.procedure)
        return dataclasses.replace(
            whole,
            serial=self._serial,
            view=view,
            traces=shown,
            marks=marks.of(snapshot),
            speed=self._speed,
        )

    def export_csv(self, path: Path) -> str:
        """Write the readings; a sentence that says what was written. Raises OSError."""
        return export_session(self._whole.session.folder, path)


def _until(trace: Trace, at_s: float) -> Trace:
    """What of a trace had been read by a moment."""
    count = int(np.searchsorted(trace.seconds, at_s, "right"))
    missed = int(np.searchsorted(trace.missed, at_s, "right"))
    return dataclasses.replace(
        trace,
        seconds=trace.seconds[:count],
        values=trace.values[:count],
        joined=trace.joined[:count],
        missed=trace.missed[:missed],
    )
