"""Whatever the zoom, columns show what the readings show."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.bench.columns import Columns, Stretch
from app.bench.snapshot import Trace
from drivers.reading import Unit


def _trace(seconds: np.ndarray, values: np.ndarray, joined: np.ndarray) -> Trace:
    return Trace("left bias", Unit.VOLT, seconds, values, joined, np.empty(0))


def _part(trace: Trace, count: int) -> Trace:
    return _trace(trace.seconds[:count], trace.values[:count], trace.joined[:count])


@st.composite
def _recordings(draw: st.DrawFn) -> Trace:
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    count = draw(st.integers(1, 3000))
    seconds = np.cumsum(rng.exponential(draw(st.sampled_from([0.05, 0.5, 20.0])), count))
    return _trace(seconds, rng.standard_normal(count), rng.random(count) > 0.02)


@settings(max_examples=60, deadline=None)
@given(_recordings(), st.integers(1, 7), st.floats(0.0, 1.0), st.floats(0.001, 1.0), st.integers(10, 500))
def test_no_value_in_view_is_lost_or_invented(
    trace: Trace, steps: int, where: float, share: float, dots: int
) -> None:
    """However it grew: the extremes in view are those of the readings, and every reading is in a column."""
    columns = Columns()
    for step in range(1, steps + 1):
        columns.extend(_part(trace, len(trace.seconds) * step // steps))
    length = float(trace.seconds[-1]) + 1.0
    begin, end = where * length, where * length + share * length

    part = columns.between(trace, begin, end, (end - begin) / dots)

    inside = (trace.seconds >= begin) & (trace.seconds <= end)
    for at, value in zip(trace.seconds[inside], trace.values[inside], strict=True):
        holding = (part.first_s <= at) & (at <= part.last_s)
        assert holding.any()
        assert part.low[holding].min() <= value <= part.high[holding].max()
    assert set(part.low) | set(part.high) | set(part.first) | set(part.last) <= set(trace.values)


@settings(max_examples=40, deadline=None)
@given(_recordings(), st.integers(10, 300))
def test_columns_end_where_the_readings_are_not_joined(trace: Trace, dots: int) -> None:
    """A line leads on exactly where it leads on from the column's last reading."""
    columns = Columns()
    columns.extend(trace)
    end = float(trace.seconds[-1])

    part = columns.between(trace, 0.0, end, max(end, 1.0) / dots)

    flags = dict(zip(trace.seconds, trace.joined, strict=True))
    assert [flags[at] for at in part.last_s] == list(part.joined)


@pytest.mark.parametrize("dot_s", [0.3, 1.0, 7.0, 40.0, 300.0])
def test_one_spike_in_a_day_stays_visible(dot_s: float) -> None:
    """At every zoom, wherever it is."""
    seconds = np.arange(0.0, 86400.0, 0.5)
    values = np.full(len(seconds), 0.0135)
    values[70_001] = 0.019
    trace = _trace(seconds, values, np.ones(len(seconds), dtype=bool))
    columns = Columns()
    columns.extend(trace)

    part = columns.between(trace, 0.0, 86400.0, dot_s)

    assert part.high.max() == 0.019
    spike = int(part.high.argmax())
    assert part.first_s[spike] <= seconds[70_001] <= part.last_s[spike]
    assert part.last_s[spike] - part.first_s[spike] <= 1.5 * dot_s


def test_a_day_becomes_about_as_many_columns_as_there_are_dots() -> None:
    """What is drawn does not grow with what was recorded."""
    seconds = np.arange(0.0, 86400.0, 0.1)
    trace = _trace(seconds, np.sin(seconds), np.ones(len(seconds), dtype=bool))
    columns = Columns()
    columns.extend(trace)

    assert 1000 <= len(columns.between(trace, 0.0, 86400.0, 72.0)) <= 1202
    assert isinstance(columns.between(trace, 3600.0, 3660.0, 0.05), Stretch)


def test_nothing_read_is_nothing_to_draw() -> None:
    """An empty trace, and one reading."""
    empty = _trace(np.empty(0), np.empty(0), np.empty(0, dtype=bool))
    columns = Columns()
    columns.extend(empty)
    assert len(columns.between(empty, 0.0, 10.0, 0.1)) == 0
    one = _trace(np.array([3.0]), np.array([0.0135]), np.array([True]))
    columns.extend(one)
    assert len(columns.between(one, 0.0, 10.0, 0.1)) == 1
