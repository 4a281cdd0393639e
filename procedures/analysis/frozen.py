"""A reading that no longer moves: a meter that fell asleep, or that repeats what it last had.

Decided from how often the last digit changed before: a coarse meter that stands still is not asleep. Typed
values are exempt. Not here: the absence of readings (`alarms`).
"""

from __future__ import annotations

import math

_LEAST_RUN = 20
_LEAST_S = 60.0
_LEARN = 0.01  # the share of changing readings is that of the last hundred or so
_UNLIKELY = math.log(1e-9)
_LIVELY = 0.5  # below this share a pause in the flicker is ordinary


class FrozenFinder:
    """Counts identical readings in a row."""

    def __init__(self) -> None:
        self._last: float | None = None
        self._since_s = 0.0
        self._run = 0
        self._seen = 0
        self._changing = 0.0
        self._told = False

    def see(self, at_s: float, value: float) -> float | None:
        """Take a reading; for how long it has been frozen, once, when that is certain."""
        if value != self._last:
            self._learn(True)
            self._last, self._since_s, self._run, self._told = value, at_s, 0, False
            return None
        self._run += 1
        if self._run < _LEAST_RUN:
            self._learn(False)
            return None
        held_s = at_s - self._since_s
        if self._told or held_s < _LEAST_S or self._seen < 100 or self._changing < _LIVELY:
            return None
        # Neighbouring readings hang together, so only every third counts as a chance to change.
        if self._run / 3.0 * math.log1p(-min(self._changing, 0.999)) > _UNLIKELY:
            return None
        self._told = True
        return held_s

    def _learn(self, changed: bool) -> None:
        self._seen += 1
        rate = max(_LEARN, 1.0 / self._seen)
        self._changing += ((1.0 if changed else 0.0) - self._changing) * rate
