"""The readings of one channel as columns of time, so that a day can be drawn as fast as a minute.

A column holds what was read in a stretch of time: first, last, lowest and highest value, and whether a line
leads on to the next column. There are several levels, each four times as wide as the one before. Columns
are closed once and then never change; what comes after the last closed one is taken from the level below,
and at last from the readings themselves. So a picture made of columns shows every spike, whatever its width.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.bench.snapshot import Trace

WIDTHS_S = (1.0, 4.0, 16.0, 64.0, 256.0, 1024.0)
_FIELDS = 6  # first_s, last_s, first, last, low, high

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Columns in order of time; arrays of shape (n,). `joined`: a line leads to the next column."""

    first_s: Floats
    last_s: Floats
    first: Floats
    last: Floats
    low: Floats
    high: Floats
    joined: Flags

    @classmethod
    def of_readings(cls, trace: Trace, begin: int, end: int) -> Stretch:
        """Readings as columns of one reading each."""
        at, values = trace.seconds[begin:end], trace.values[begin:end]
        return cls(at, at, values, values, values, values, trace.joined[begin:end])

    def __len__(self) -> int:
        return len(self.first_s)

    def merged(self, places: NDArray[Any]) -> Stretch:
        """One column for each run of equal `places`, shape (n,)."""
        if len(self) < 2:
            return self
        starts = np.flatnonzero(np.concatenate(([True], places[1:] != places[:-1])))
        ends = np.concatenate((starts[1:], [len(self)])) - 1
        return Stretch(
            self.first_s[starts],
            self.last_s[ends],
            self.first[starts],
            self.last[ends],
            np.minimum.reduceat(self.low, starts),
            np.maximum.reduceat(self.high, starts),
            self.joined[ends],
        )


def chained(parts: list[Stretch]) -> Stretch:
    """Stretches one after the other."""
    if len(parts) == 1:
        return parts[0]
    names = ("first_s", "last_s", "first", "last", "low", "high", "joined")
    return Stretch(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


class Level:
    """The closed columns of one width; the arrays only grow."""

    __slots__ = ("_joined", "_numbers", "count", "covered", "width_s")

    def __init__(self, width_s: float) -> None:
        self.width_s = width_s
        self.count = 0
        self.covered = 0  # how many columns of the level below (readings, for the lowest) are in closed ones
        self._numbers: Floats = np.empty((_FIELDS, 64))
        self._joined: Flags = np.empty(64, dtype=np.bool_)

    def append(self, closed: Stretch) -> None:
        """Take closed columns."""
        wanted = self.count + len(closed)
        if wanted > self._numbers.shape[1]:
            room = max(wanted, 2 * self._numbers.shape[1])
            numbers, joined = np.empty((_FIELDS, room)), np.empty(room, dtype=np.bool_)
            numbers[:, : self.count] = self._numbers[:, : self.count]
            joined[: self.count] = self._joined[: self.count]
            self._numbers, self._joined = numbers, joined
        fields = (closed.first_s, closed.last_s, closed.first, closed.last, closed.low, closed.high)
        for row, field in zip(self._numbers, fields, strict=True):
            row[self.count : wanted] = field
        self._joined[self.count : wanted] = closed.joined
        self.count = wanted

    def part(self, begin: int, end: int) -> Stretch:
        """The columns from `begin` up to `end`."""
        first_s, last_s, first, last, low, high = self._numbers[:, begin:end]
        return Stretch(first_s, last_s, first, last, low, high, self._joined[begin:end])

    @property
    def begins(self) -> Floats:
        """When each column begins."""
        return self._numbers[0, : self.count]

    @property
    def ends(self) -> Floats:
        """When each column ends."""
        return self._numbers[1, : self.count]


class Columns:
    """All levels of one channel. Belongs to one thread; fed with ever longer traces of the channel."""

    def __init__(self, levels: list[Level] | None = None) -> None:
        self.levels = levels or [Level(width) for width in WIDTHS_S]

    def extend(self, trace: Trace) -> None:
        """Take the readings that came since; the newest waits, because what follows it decides its line."""
        lowest = self.levels[0]
        fresh = Stretch.of_readings(trace, lowest.covered, max(lowest.covered, len(trace.seconds) - 1))
        for place, level in enumerate(self.levels):
            closed, used = _closed(fresh, level.width_s)
            if not used:
                return
            level.append(closed)
            level.covered += used
            if place + 1 < len(self.levels):
                above = self.levels[place + 1]
                fresh = level.part(above.covered, level.count)

    def between(self, trace: Trace, begin_s: float, end_s: float, dot_s: float) -> Stretch:
        """What is to be drawn from `begin_s` to `end_s`, one column a dot of `dot_s` where there are many.

        What lies just outside on either side is there too, so that lines lead out of the picture.
        """
        chosen = sum(level.width_s * 2.0 <= dot_s for level in self.levels) - 1
        parts: list[Stretch] = []
        done = 0  # columns of the level below that are in the picture's levels already
        for level in reversed(self.levels[: chosen + 1]):
            low = max(done, int(np.searchsorted(level.ends, begin_s)) - 1)
            high = min(level.count, int(np.searchsorted(level.begins, end_s, "right")) + 1)
            if low < high:
                parts.append(level.part(low, high))
            done = level.covered
        low = max(done, int(np.searchsorted(trace.seconds, begin_s)) - 1)
        high = min(len(trace.seconds), int(np.searchsorted(trace.seconds, end_s, "right")) + 1)
        if low < high or not parts:
            parts.append(Stretch.of_readings(trace, low, max(low, high)))
        whole = chained(parts)
        if len(whole) < 2:
            return whole
        return whole.merged(np.floor((whole.first_s - begin_s) / dot_s))


def _closed(fresh: Stretch, width_s: float) -> tuple[Stretch, int]:
    """The columns that are complete, and how many of `fresh` went into them."""
    if len(fresh) < 2:
        return fresh, 0
    places = np.floor(fresh.first_s / width_s)
    used = int(np.searchsorted(places, places[-1]))
    if not used:
        return fresh, 0
    part = Stretch(
        fresh.first_s[:used],
        fresh.last_s[:used],
        fresh.first[:used],
        fresh.last[:used],
        fresh.low[:used],
        fresh.high[:used],
        fresh.joined[:used],
    )
    return part.merged(places[:used]), used


def shown_span(part: Stretch, begin_s: float, end_s: float) -> tuple[float, float] | None:
    """The lowest and the highest value from `begin_s` to `end_s`; None where nothing was read."""
    inside = (part.last_s >= begin_s) & (part.first_s <= end_s)
    if not inside.any():
        return None
    low, high = float(part.low[inside].min()), float(part.high[inside].max())
    return (low, high) if math.isfinite(low) and math.isfinite(high) else None
