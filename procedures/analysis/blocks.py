"""Readings gathered into blocks of a few seconds, the spike-proof grain on which the analysis works.

A block adapts to the rate: many readings of a fast meter become one interquartile mean; a reading every
ten seconds, or one typed once a minute, is a block of its own. What the blocks mean is decided elsewhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

BLOCK_S = 5.0
_GRACE_S = 0.5  # a reading may arrive late by its own length
_MOST_VALUES = 2000  # of a very fast meter every block keeps this many readings at the most

# Steps in which displays count (one, two or five of a decimal place), coarse to fine.
_DISPLAY_STEPS = tuple(m * 10.0**e for e in range(0, -9, -1) for m in (5.0, 2.0, 1.0))


@dataclass(frozen=True, slots=True)
class Block:
    """What a channel showed for a few seconds, in the channel's unit.

    `at_s` is the mean time of the readings, `level` their interquartile mean, `noise` the scatter of a
    single reading (None when one reading is all there is), `low` and `high` the extremes.
    """

    start_s: float
    end_s: float
    at_s: float
    level: float
    noise: float | None
    count: int
    low: float
    high: float


class BlockBuilder:
    """Gathers one channel's readings into blocks on a fixed grid of session time."""

    def __init__(self, length_s: float = BLOCK_S, typed: bool = False) -> None:
        self._length_s = length_s
        self._typed = typed
        self._values: list[float] = []
        self._sum_s = 0.0
        self._index = 0
        self._last_s = -math.inf
        self._interval_s = 0.0

    @property
    def interval_s(self) -> float:
        """The usual time between readings (0 before it is known)."""
        return self._interval_s

    def add(self, at_s: float, value: float) -> tuple[Block, ...]:
        """Take a reading; the blocks that it completes. A late reading joins the open block."""
        index = int(at_s // self._length_s)
        if self._values and index <= self._index:
            if at_s > self._last_s:
                self._interval_s += (at_s - self._last_s - self._interval_s) * 0.05
                self._last_s = at_s
            if len(self._values) < _MOST_VALUES:
                self._values.append(value)
                self._sum_s += at_s
            return ()
        return self._begin(index, at_s, value)

    def _begin(self, index: int, at_s: float, value: float) -> tuple[Block, ...]:
        """Open a block with its first reading; close it at once where readings come slower than blocks."""
        closed = self.close()
        if at_s > self._last_s > -math.inf:
            step_s = at_s - self._last_s
            self._interval_s += (step_s - self._interval_s) * (0.05 if self._interval_s else 1.0)
        self._last_s = max(at_s, self._last_s)
        self._index, self._values, self._sum_s = index, [value], at_s
        alone = self.close() if self._typed or self._interval_s >= self._length_s else None
        return tuple(block for block in (closed, alone) if block)

    def due_s(self) -> float | None:
        """When the open block ends even if nothing more arrives; None without an open block."""
        return (self._index + 1) * self._length_s + _GRACE_S if self._values else None

    def close_by(self, now_s: float) -> Block | None:
        """End the open block if its time is over."""
        due_s = self.due_s()
        return self.close() if due_s is not None and now_s >= due_s else None

    def close(self) -> Block | None:
        """End the open block now; None if it holds nothing."""
        if not self._values:
            return None
        values = sorted(self._values)
        at_s = self._sum_s / len(values)
        start_s = self._index * self._length_s
        self._values, self._sum_s = [], 0.0
        return Block(
            start_s=start_s,
            end_s=start_s + self._length_s,
            at_s=at_s,
            level=interquartile_mean(values),
            noise=_scatter(values),
            count=len(values),
            low=values[0],
            high=values[-1],
        )

    def drop(self) -> None:
        """Forget the open block (the lead was moved, or nobody watched)."""
        self._values, self._sum_s, self._last_s = [], 0.0, -math.inf


class RecentBlocks:
    """Times and levels of the last blocks, in arrays that are written once and never shifted one by one."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._at_s = np.empty(4 * most)
        self._levels = np.empty(4 * most)
        self._start = self._end = 0
        self.newest: Block | None = None

    def __len__(self) -> int:
        return self._end - self._start

    def append(self, block: Block) -> None:
        """Add the newest block; the oldest goes when there are too many."""
        if self._end == len(self._at_s):
            kept = slice(self._start, self._end)
            self._end -= self._start
            self._at_s[: self._end] = self._at_s[kept]
            self._levels[: self._end] = self._levels[kept]
            self._start = 0
        self._at_s[self._end], self._levels[self._end] = block.at_s, block.level
        self._end += 1
        self._start = max(self._start, self._end - self._most)
        self.newest = block

    def clear(self) -> None:
        """Forget them all."""
        self._start = self._end = 0
        self.newest = None

    def within(self, span_s: float, least: int = 4) -> tuple[Floats, Floats]:
        """Times and levels, each of shape (n,), of the last `span_s`, at least `least` of them.

        Views, valid until the next block.
        """
        if not len(self):
            return self._at_s[:0], self._levels[:0]
        first = self._start + int(
            np.searchsorted(self._at_s[self._start : self._end], self._at_s[self._end - 1] - span_s)
        )
        first = max(self._start, min(first, self._end - least))
        return self._at_s[first : self._end], self._levels[first : self._end]


def interquartile_mean(ordered: list[float]) -> float:
    """Mean of the middle half of values that are in ascending order.

    Spikes at either end do not move it, and it does not stick to a display's steps as a median does.
    """
    count = len(ordered)
    if count < 4:
        return ordered[0] if count == 1 else (0.5 * (ordered[0] + ordered[1]) if count == 2 else ordered[1])
    cut = count // 4
    middle = ordered[cut : count - cut]
    return sum(middle) / len(middle)


def _scatter(ordered: list[float]) -> float | None:
    """Standard deviation of one reading from the quartiles of values in ascending order."""
    count = len(ordered)
    if count < 2:
        return None
    if count < 8:
        # Few readings: the range divided by its mean for a normal law (n = 2..7).
        return (ordered[-1] - ordered[0]) / (1.128, 1.693, 2.059, 2.326, 2.534, 2.704)[count - 2]
    cut = count // 4
    return (ordered[count - 1 - cut] - ordered[cut]) / 1.349  # closed form: quartiles of a normal law


class DisplayStep:
    """Finds the step in which a display counts: the largest of 1, 2, 5 decades that divides every value.

    Starts coarse and only ever gets finer, so that a constant reading is never taken for a fine meter.
    """

    def __init__(self, declared: float = 0.0) -> None:
        self._declared = declared
        self._place = 0
        self._distinct = 0
        self._last: float | None = None

    @property
    def step(self) -> float:
        """The step in the channel's unit; 0 when the readings are finer than can be told."""
        if self._place >= len(_DISPLAY_STEPS):
            return self._declared
        # Two or three values that differ say little about the step; a declared one is then the better guess.
        if self._declared and self._distinct < 4:
            return self._declared
        return max(self._declared, _DISPLAY_STEPS[self._place])

    def see(self, value: float) -> None:
        """Take notice of a value that the display showed."""
        if value != self._last and self._distinct < 4:
            self._distinct += 1
        self._last = value
        while self._place < len(_DISPLAY_STEPS):
            ratio = value / _DISPLAY_STEPS[self._place]
            if abs(ratio - round(ratio)) < 1e-4 * max(1.0, abs(ratio) * 1e-6):
                return
            self._place += 1
