"""What has been measured and said so far, for whoever shows it: append-only, referenced, never copied.

One writer (the conductor) appends and then publishes; any number of readers take the newest `Snapshot` at
any moment without a lock. A snapshot stays true for ever: buffers only grow behind it, and where one is
full a doubled one takes its place while old snapshots keep the old.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from drivers.reading import MeterStatus, Unit
from procedures.events import Event, Input
from procedures.leads import Leads
from procedures.view import RunView

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Trace:
    """One channel's readings, oldest first: read-only views of buffers that only grow.

    `seconds`: shape (n,), session seconds, ascending. `values`: shape (n,), in `unit`, finite. `joined`:
    shape (n,), False where no line leads to the next reading (the last one says nothing yet). `missed`:
    shape (m,), session seconds at which a reading could not be had.
    """

    channel: str
    unit: Unit
    seconds: NDArray[np.float64]
    values: NDArray[np.float64]
    joined: NDArray[np.bool_]
    missed: NDArray[np.float64]


class SoFar(Sequence[T]):
    """The first `count` items of a list that somebody goes on appending to."""

    __slots__ = ("_count", "_items")

    def __init__(self, items: list[T], count: int) -> None:
        self._items = items
        self._count = count

    def __len__(self) -> int:
        return self._count

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[T]: ...
    def __getitem__(self, index: int | slice) -> T | Sequence[T]:
        if isinstance(index, slice):
            return [self._items[i] for i in range(*index.indices(self._count))]
        if not -self._count <= index < self._count:
            raise IndexError(index)
        return self._items[index if index >= 0 else self._count + index]


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Everything known at one moment. The same `serial` means that nothing changed."""

    serial: int
    view: RunView
    traces: tuple[Trace, ...] = ()
    inputs: Sequence[Input] = ()
    events: Sequence[Event] = ()
    meters: tuple[MeterStatus, ...] = ()
    leads: Leads = field(default_factory=Leads)
    trouble: str = ""  # one sentence: what the record or the bench cannot do just now

    def trace(self, channel: str) -> Trace | None:
        """The readings of one channel, or None if it never had any."""
        return next((trace for trace in self.traces if trace.channel == channel), None)


class _Column:
    """One growing array; `upto` gives a read-only view of its first elements."""

    __slots__ = ("_buffer",)

    def __init__(self, kind: type, capacity: int = 256) -> None:
        self._buffer: NDArray[Any] = np.empty(capacity, dtype=kind)

    def put(self, index: int, value: float | bool) -> None:
        if index >= len(self._buffer):
            doubled = np.empty(2 * len(self._buffer), dtype=self._buffer.dtype)
            doubled[: len(self._buffer)] = self._buffer
            self._buffer = doubled
        self._buffer[index] = value

    def put_all(self, index: int, values: NDArray[Any]) -> None:
        room = len(self._buffer)
        while index + len(values) > room:
            room *= 2
        if room != len(self._buffer):
            larger = np.empty(room, dtype=self._buffer.dtype)
            larger[:index] = self._buffer[:index]
            self._buffer = larger
        self._buffer[index : index + len(values)] = values

    def upto(self, count: int) -> NDArray[Any]:
        view = self._buffer[:count]
        view.flags.writeable = False
        return view


class _Growing:
    """The growing readings of one channel."""

    def __init__(self, channel: str) -> None:
        self.channel = channel
        self.unit = Unit.VOLT
        self._seconds = _Column(np.float64)
        self._values = _Column(np.float64)
        self._joined = _Column(np.bool_)
        self._missed = _Column(np.float64)
        self._count = 0
        self._misses = 0
        self._last_s = -np.inf
        self._broken = False
        self._trace: Trace | None = None

    def append(self, at_s: float, value: float) -> None:
        if self._count:
            # Written only now: to a reader of the shorter view its last flag means nothing.
            self._joined.put(self._count - 1, not self._broken)
        # Two meters that read the same channel one after the other may overlap by a reading's length.
        self._last_s = max(self._last_s, at_s)
        self._seconds.put(self._count, self._last_s)
        self._values.put(self._count, value)
        self._joined.put(self._count, True)
        self._count += 1
        self._broken = False
        self._trace = None

    def extend(
        self, seconds: NDArray[np.float64], values: NDArray[np.float64], led: NDArray[np.bool_]
    ) -> None:
        """Append many; `led`: whether a line leads to each from the one before it."""
        if not len(seconds):
            return
        if self._count:
            self._joined.put(self._count - 1, bool(led[0]) and not self._broken)
        self._seconds.put_all(self._count, np.maximum(np.maximum.accumulate(seconds), self._last_s))
        self._values.put_all(self._count, values)
        self._joined.put_all(self._count, np.concatenate((led[1:], [True])))
        self._count += len(seconds)
        self._last_s = max(self._last_s, float(seconds.max()))
        self._broken = False
        self._trace = None

    def miss(self, at_s: float) -> None:
        self._missed.put(self._misses, at_s)
        self._misses += 1
        self.interrupt()

    def interrupt(self) -> None:
        self._broken = True
        self._trace = None

    def trace(self) -> Trace:
        if self._trace is None:
            self._trace = Trace(
                self.channel,
                self.unit,
                self._seconds.upto(self._count),
                self._values.upto(self._count),
                self._joined.upto(self._count),
                self._missed.upto(self._misses),
            )
        return self._trace


class SnapshotStore:
    """Where the conductor puts what there is to show. Writing belongs to one thread, reading to all."""

    def __init__(self, view: RunView, leads: Leads | None = None) -> None:
        self._channels: dict[str, _Growing] = {}
        self._inputs: list[Input] = []
        self._events: list[Event] = []
        self._meters: dict[str, MeterStatus] = {}
        self._newest = Snapshot(serial=0, view=view, leads=leads or Leads())

    def newest(self) -> Snapshot:
        """The newest published snapshot. Any thread, any time; never blocks."""
        return self._newest

    def reading(self, channel: str, unit: Unit, at_s: float, value: float) -> None:
        """Append a reading (seen from the next `publish` on)."""
        growing = self._channels.get(channel)
        if growing is None:
            growing = self._channels[channel] = _Growing(channel)
        growing.unit = unit
        growing.append(at_s, value)

    def readings(
        self,
        channel: str,
        unit: Unit,
        seconds: NDArray[np.float64],
        values: NDArray[np.float64],
        led: NDArray[np.bool_] | None = None,
    ) -> None:
        """Append many readings, shapes (n,). `led`: whether a line leads to each; by default to all."""
        growing = self._channels.setdefault(channel, _Growing(channel))
        growing.unit = unit
        growing.extend(seconds, values, np.ones(len(seconds), dtype=np.bool_) if led is None else led)

    def miss(self, channel: str, at_s: float) -> None:
        """Append the absence of a reading: no line is drawn across it."""
        self._channels.setdefault(channel, _Growing(channel)).miss(at_s)

    def moved(self, channels: Iterable[str]) -> None:
        """Draw no line from the newest readings of these channels to the next: a lead was moved."""
        for channel in channels:
            if channel in self._channels:
                self._channels[channel].interrupt()

    def interrupt_all(self) -> None:
        """Draw no line from any newest reading to the next: nobody was watching."""
        for growing in self._channels.values():
            growing.interrupt()

    def fed(self, given: Input) -> None:
        """Append an input that is of interest beside the readings."""
        self._inputs.append(given)

    def said(self, event: Event) -> None:
        """Append what the run said."""
        self._events.append(event)

    def meter(self, status: MeterStatus) -> None:
        """Replace what is known about a meter."""
        self._meters[status.meter] = status

    def publish(self, view: RunView, leads: Leads, trouble: str) -> None:
        """Let readers see all that was appended."""
        self._newest = Snapshot(
            serial=self._newest.serial + 1,
            view=view,
            traces=tuple(growing.trace() for growing in self._channels.values()),
            inputs=SoFar(self._inputs, len(self._inputs)),
            events=SoFar(self._events, len(self._events)),
            meters=tuple(self._meters.values()),
            leads=leads,
            trouble=trouble,
        )
