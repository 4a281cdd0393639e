"""The search for the level at which a stated distortion is reached: steps upward, then halving.

The search only names the next level; who drives and who measures is elsewhere. It stops by itself at its
limits, and dwells at high power no longer than it must.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

_STEP_DB = 1.0
_FINE_DB = 0.05
_FELL = 0.5  # of what a lower level gave


@dataclass(frozen=True, slots=True)
class LevelPoint:
    """One measured level."""

    level_db: float
    volts: float
    distortion: float


class LevelSearch:
    """Find the output level where distortion first reaches a limit, on the way up.

    `start_db` and `highest_db` are generator levels. Feed each measurement; `next_db` is None when done.
    """

    def __init__(self, limit: float, start_db: float, highest_db: float) -> None:
        if not (0.0 < limit < 1.0 and start_db < highest_db):
            raise ValueError(
                f"no search from {start_db:g} to {highest_db:g} dB for a distortion of {limit:g}"
            )
        self.limit = limit
        self.next_db: float | None = start_db
        self.points: list[LevelPoint] = []
        self.stopped_because = ""
        self._highest_db = highest_db
        self._below: LevelPoint | None = None
        self._above: LevelPoint | None = None

    def feed(self, volts: float, distortion: float) -> None:
        """Take the measurement made at `next_db`.

        Raises:
            ValueError: the search has ended.
        """
        if self.next_db is None:
            raise ValueError("the search has ended")
        point = LevelPoint(self.next_db, volts, distortion)
        self.points.append(point)
        if self.fell_away:
            self.stop(
                "the output fell away there: the protection may have acted, or a fuse; switch off and look"
            )
            return
        # At low level noise alone may exceed the limit; only what follows a good point counts as reached.
        if distortion < self.limit:
            self._below = point
        elif self._below is not None:
            self._above = point
        self.next_db = self._next()

    @property
    def fell_away(self) -> bool:
        """Whether the last level gave far less than a lower one: something has opened."""
        if not self.points:
            return False
        last = self.points[-1]
        lower = max((p.volts for p in self.points if p.level_db < last.level_db), default=0.0)
        return last.volts < _FELL * lower

    @property
    def most_left(self) -> int:
        """How many measurements may still come: steps to the highest level, or halvings, at the most."""
        if self.next_db is None:
            return 0
        halvings = math.ceil(math.log2(_STEP_DB / _FINE_DB))
        if self._below is not None and self._above is not None:
            return math.ceil(math.log2((self._above.level_db - self._below.level_db) / _FINE_DB)) + 1
        return math.floor((self._highest_db - self.next_db) / _STEP_DB) + 1 + halvings

    def stop(self, reason: str) -> None:
        """End it early: a rail, a temperature, a person."""
        self.next_db = None
        self.stopped_because = reason

    def _next(self) -> float | None:
        if self._below is None or self._above is None:
            level = self.points[-1].level_db + _STEP_DB
            if level > self._highest_db + 1e-9:
                self.stopped_because = (
                    "the highest permitted level was reached below the limit"
                    if self._below is not None
                    else "the distortion was above the limit at every level"
                )
                return None
            return level
        if self._above.level_db - self._below.level_db <= _FINE_DB:
            return None
        return (self._above.level_db + self._below.level_db) / 2.0

    @property
    def volts_at_limit(self) -> float | None:
        """Output volts where the limit is met, between the two nearest points; None if it was not reached."""
        below, above = self._below, self._above
        if below is None or above is None:
            return None
        low, high = math.log(max(below.distortion, 1e-12)), math.log(max(above.distortion, 1e-12))
        share = (math.log(self.limit) - low) / (high - low) if high > low else 0.5
        return below.volts + share * (above.volts - below.volts)
