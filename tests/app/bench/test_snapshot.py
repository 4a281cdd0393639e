"""What readers of the snapshot store may rely on."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from app.bench.snapshot import SnapshotStore
from drivers.reading import Unit
from procedures.leads import Leads
from procedures.view import RunView

VIEW = RunView(at_s=0.0, procedure="watch", title="Watch")


def _store(values: int) -> SnapshotStore:
    store = SnapshotStore(VIEW)
    for i in range(values):
        store.reading("left bias", Unit.VOLT, i * 0.5, 0.01 + i * 1e-6)
    store.publish(VIEW, Leads(), "")
    return store


def test_a_snapshot_stays_true_while_the_store_goes_on() -> None:
    """Growing past several doublings changes nothing that was handed out."""
    store = _store(200)
    early = store.newest()
    trace = early.trace("left bias")
    assert trace is not None
    seconds, values = trace.seconds.copy(), trace.values.copy()

    for i in range(200, 5000):
        store.reading("left bias", Unit.VOLT, i * 0.5, 1.0)
    store.publish(VIEW, Leads(), "")

    assert np.array_equal(trace.seconds, seconds)
    assert np.array_equal(trace.values, values)
    late = store.newest().trace("left bias")
    assert late is not None
    assert len(late.seconds) == 5000
    assert np.array_equal(late.values[:200], values)


def test_views_are_references_and_read_only() -> None:
    """Two snapshots without growth in between share memory, and nobody can write into it."""
    store = _store(100)
    first = store.newest().traces[0]
    store.reading("left bias", Unit.VOLT, 50.0, 0.02)
    store.publish(VIEW, Leads(), "")
    second = store.newest().traces[0]

    assert np.shares_memory(first.values, second.values)
    assert not second.values.flags.writeable


def test_no_line_leads_across_a_missed_reading() -> None:
    """The reading before a miss is not joined to the one after; all others are."""
    store = _store(3)
    store.miss("left bias", 1.5)
    for i in range(4, 7):
        store.reading("left bias", Unit.VOLT, i * 0.5, 0.01)
    store.publish(VIEW, Leads(), "")

    trace = store.newest().traces[0]

    assert trace.joined.tolist() == [True, True, False, True, True, True]
    assert trace.missed.tolist() == [1.5]
    assert np.isfinite(trace.values).all()


def test_seconds_never_go_back() -> None:
    """Two meters that read one channel in turn may overlap; the trace stays in order."""
    store = _store(3)
    store.reading("left bias", Unit.VOLT, 0.9, 0.01)
    store.publish(VIEW, Leads(), "")

    assert (np.diff(store.newest().traces[0].seconds) >= 0).all()


def test_nothing_is_seen_before_it_is_published() -> None:
    """A reader sees whole turns."""
    store = _store(3)
    store.reading("left bias", Unit.VOLT, 9.0, 0.5)

    assert len(store.newest().traces[0].values) == 3


@given(st.lists(st.one_of(st.floats(-1.0, 1.0), st.none()), max_size=400))
def test_every_reading_is_kept_and_every_break_is_seen(moments: list[float | None]) -> None:
    """For any sequence of readings and misses: all values, and a break wherever something was missed."""
    store = SnapshotStore(VIEW)
    expected: list[float] = []
    breaks = 0
    missed = False
    for at_s, value in enumerate(moments):
        if value is None:
            store.miss("left bias", float(at_s))
            missed = True
        else:
            breaks += missed and bool(expected)
            store.reading("left bias", Unit.VOLT, float(at_s), value)
            expected.append(value)
            missed = False
    store.publish(VIEW, Leads(), "")

    if moments:
        (trace,) = store.newest().traces
        assert trace.values.tolist() == expected
        assert int((~trace.joined[:-1]).sum()) == breaks
        assert len(trace.missed) == moments.count(None)
