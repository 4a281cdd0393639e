"""The lowest and the highest reading of a channel so far, without looking through all of them each time."""

from __future__ import annotations

from app.bench.snapshot import Trace


class SeenRange:
    """Of one channel; fed with ever longer traces, and begins anew with a shorter or another one."""

    def __init__(self) -> None:
        self._count = 0
        self._last_s = 0.0
        self._range: tuple[float, float] | None = None

    def of(self, trace: Trace) -> tuple[float, float] | None:
        """Lowest and highest value; None before the first reading."""
        count = len(trace.values)
        if count < self._count or (self._count and trace.seconds[self._count - 1] != self._last_s):
            self._count, self._range = 0, None
        if count > self._count:
            fresh = trace.values[self._count :]
            low, high = float(fresh.min()), float(fresh.max())
            known = self._range
            self._range = (low, high) if known is None else (min(known[0], low), max(known[1], high))
            self._count, self._last_s = count, float(trace.seconds[count - 1])
        return self._range
