"""A warm-up of the same unit that was recorded before, kept to sharpen the forecast of the next one.

Where the emitter resistors are known the two are compared in the z domain, in which a new trim setting or
another ambient only shifts the curve; elsewhere in proportion. Not here: how far it is believed (`forecast`).
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass

from procedures.analysis.z_domain import ZDomain


@dataclass(frozen=True, slots=True)
class RememberedWarmUp:
    """How a channel of this unit warmed up before.

    `elapsed_s` counts from power-on, ascending; `levels` are in the channel's unit, one each.
    `same_channel` is False where the other channel of the unit stands in.
    """

    channel: str
    elapsed_s: tuple[float, ...]
    levels: tuple[float, ...]
    same_channel: bool = True
    recorded: str = ""

    def __post_init__(self) -> None:
        """Refuse what cannot be a warm-up."""
        if len(self.elapsed_s) != len(self.levels) or len(self.levels) < 2:
            raise ValueError(
                f"{self.channel}: a remembered warm-up needs a level for each of two or more times"
            )
        if any(b <= a for a, b in zip(self.elapsed_s, self.elapsed_s[1:], strict=False)):
            raise ValueError(f"{self.channel}: the times of a remembered warm-up must ascend")

    def level(self, elapsed_s: float) -> float:
        """The level at a time from power-on; the first or last one outside what was recorded."""
        place = bisect_left(self.elapsed_s, elapsed_s)
        if place == 0:
            return self.levels[0]
        if place == len(self.levels):
            return self.levels[-1]
        before_s, after_s = self.elapsed_s[place - 1], self.elapsed_s[place]
        share = (elapsed_s - before_s) / (after_s - before_s)
        return self.levels[place - 1] + share * (self.levels[place] - self.levels[place - 1])


class Course:
    """The remembered warm-up as it would go from a given moment and level of the present one.

    Heat follows current: a channel that now carries more than it did then also warms up by more, in the
    same proportion. `other` says how far the two settings are apart (0 where they are alike).
    """

    def __init__(
        self, warm_up: RememberedWarmUp, domain: ZDomain | None, elapsed_s: float, level: float
    ) -> None:
        self._warm_up, self._domain = warm_up, domain
        self._level = level
        self._then = warm_up.level(elapsed_s)
        alike = self._then * level > 0.0
        self._heat = min(2.0, max(0.5, level / self._then)) if alike else 1.0
        self.other = abs(math.log(self._heat)) if alike else 1.0

    def change(self, elapsed_s: float) -> float:
        """How far the present level would have moved at a time from power-on."""
        then = self._warm_up.level(elapsed_s)
        if self._domain is not None and min(then, self._then, self._level) > 0.0:
            moved = self._heat * (self._domain.z(then) - self._domain.z(self._then))
            return self._domain.volts(self._domain.z(self._level) + moved) - self._level
        if not self._then:
            return then - self._then
        return self._heat * self._level * (then / self._then - 1.0)
