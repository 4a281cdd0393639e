"""The newest seconds of a channel: whether they are steady enough to be taken down by themselves."""

from __future__ import annotations

from collections import deque
from statistics import median

SPAN_S = 10.0
_FEWEST = 3


class Steadiness:
    """Keeps the last seconds of one channel.

    Steady means that a value can be read off now, not that it will stay.
    """

    def __init__(self, span_s: float = SPAN_S) -> None:
        self._span_s = span_s
        self._kept: deque[tuple[float, float]] = deque()

    def __len__(self) -> int:
        return len(self._kept)

    def take(self, at_s: float, value: float) -> None:
        """Take a reading; what is older than the span is forgotten."""
        self._kept.append((at_s, value))
        while self._kept and self._kept[0][0] < at_s - self._span_s:
            self._kept.popleft()

    def forget(self) -> None:
        """Start anew: a gap, another lead, a trimmer turned."""
        self._kept.clear()

    def value(self) -> float | None:
        """The median of the kept readings; None without any."""
        return median(value for _, value in self._kept) if self._kept else None

    def newest(self, seconds: float) -> float | None:
        """The median of the last seconds; None without any reading."""
        if not self._kept:
            return None
        since_s = self._kept[-1][0] - seconds
        return median(value for at_s, value in self._kept if at_s >= since_s)

    def older(self, seconds: float) -> float | None:
        """The median of what is older than the last seconds; None when nothing is."""
        if not self._kept:
            return None
        until_s = self._kept[-1][0] - seconds
        kept = [value for at_s, value in self._kept if at_s <= until_s]
        return median(kept) if kept else None

    def steady(self, tolerance: float) -> bool:
        """Whether the span is full and its two halves agree within `tolerance` (in the channel's unit)."""
        if len(self._kept) < _FEWEST or self._kept[-1][0] - self._kept[0][0] < 0.8 * self._span_s:
            return False
        half = len(self._kept) // 2
        values = [value for _, value in self._kept]
        return abs(median(values[:half]) - median(values[half:])) <= tolerance
