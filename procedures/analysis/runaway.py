"""Whether a channel's current is running away, or is far too high: the symptoms, from its levels alone.

Everything is judged as a ratio to the target and from the last minutes only. A channel that settles rises
ever more slowly; one that runs away does not. So the rise of the last seconds is compared with the rise
before it, on several scales, and carried on in the same proportion: when that passes twice the target soon,
it is time to act. Measured with the benchmark `runaway`. Not here: who is told and how (`alarms`).
"""

from __future__ import annotations

import itertools
import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from procedures.events import Tier

DOUBLE = 2.0
_SEGMENTS = (1, 2, 4)  # blocks in a quarter of the span that is looked at
_KEPT = 4 * _SEGMENTS[-1] + 1
_HEADING_WITHIN_MIN = 6.0
_HEADING_RATE = 0.06
_FIRST_MIN, _FIRST_WITHIN_MIN, _FIRST_RATE = 1.5, 4.5, 0.25  # so soon healthy units rise steeply too
_LARGEST_SHARE = 0.45
_SHARE = {2: 0.85, 3: 0.7, 4: 0.55, 5: 0.45}  # of so many rises; of two, one always holds half
_WARM_UP_MIN = 3.0
_COLD_HIGH = 1.2
_COLD_WITHIN_MIN = 3.0
_COLD_RESTS = 1.5
_HOT = 1.5
_HOT_WITHIN_MIN = 8.0
_STILL_RISING_RATE = 0.03
_STILL_RISING_MIN = 5.0
_FAST_RATE = 0.10
_FAST_ABOVE = 1.3


class Symptom(StrEnum):
    """What is wrong with a level."""

    HIGH = "high"  # above 1.5 x target
    STILL_RISING = "still rising"  # faster than 3 %/min after 5 min
    FORECAST_HIGH = "forecast high"
    HEADING_UP = "heading up"  # rises without slowing, towards twice the target
    HOT_RISING = "hot and rising"
    FAR_ABOVE = "far above"  # above 2.5 x target
    FAST = "fast"  # faster than 10 %/min above 1.3 x
    EXTREME = "extreme"  # above 3 x target


TIER_OF = {
    Symptom.HIGH: Tier.LOOK,
    Symptom.STILL_RISING: Tier.LOOK,
    Symptom.FORECAST_HIGH: Tier.LOOK,
    Symptom.HEADING_UP: Tier.ACT,
    Symptom.HOT_RISING: Tier.ACT,
    Symptom.FAR_ABOVE: Tier.ACT,
    Symptom.FAST: Tier.OFF,
    Symptom.EXTREME: Tier.OFF,
}


@dataclass(frozen=True, slots=True)
class Danger:
    """A symptom with its figures: level and rate a minute as ratios to the target.

    `doubles_min` is when the level would pass twice the target if it went on like that; None when it
    would not, or has passed it.
    """

    symptom: Symptom
    ratio: float
    per_min: float
    doubles_min: float | None = None

    @property
    def tier(self) -> Tier:
        """How urgent the symptom is by itself."""
        return TIER_OF[self.symptom]


class RunawayWatch:
    """Looks at one channel's block levels, each a ratio to the target. Constant cost a block."""

    def __init__(self) -> None:
        self._times: deque[float] = deque(maxlen=_KEPT)
        self._ratios: deque[float] = deque(maxlen=_KEPT)
        self._fast_before = False
        self._rate = 0.0

    def forget(self) -> None:
        """What was seen before does not continue: a trim, a step, a gap, another supply."""
        self._times.clear()
        self._ratios.clear()
        self._fast_before = False
        self._rate = 0.0

    def see(self, at_s: float, ratio: float, since_on_s: float, step: float = 0.0) -> tuple[Danger, ...]:
        """Take a block's level; what its course shows.

        `since_on_s` is the time since power-on, `step` the display's step as a ratio to the target.
        """
        if self._times and at_s <= self._times[-1]:
            return ()
        if self._times and at_s - self._times[-1] > self._longest_gap_s():
            self.forget()
        self._times.append(at_s)
        self._ratios.append(ratio)
        self._rate = self._slope(30.0) or 0.0
        since_min = since_on_s / 60.0
        found = [self._heading(ratio, since_min, step), self._still_rising(ratio, since_min, step)]
        found.append(self._hot(ratio, step))
        found.append(self._fast(ratio, since_min, step))
        return tuple(danger for danger in found if danger)

    def rate_per_min(self) -> float:
        """The present rise of the ratio a minute; 0 before it is known."""
        return self._rate

    # --- symptoms -----------------------------------------------------------------------------------

    def _heading(self, ratio: float, since_min: float, step: float) -> Danger | None:
        """Rising towards twice the target without slowing enough to rest before."""
        if not 0.0 < ratio < DOUBLE:
            return None
        if since_min <= _WARM_UP_MIN and ratio > _COLD_HIGH:
            # Above the target while cold and rising: no warm-up makes that right.
            rate = self._slope(15.0, step)
            soon = rate is not None and rate > 0.0 and (DOUBLE - ratio) / rate < _COLD_WITHIN_MIN
            if rate and soon and self._smooth(15.0) and self._rests_at() > _COLD_RESTS:
                return Danger(Symptom.HEADING_UP, ratio, rate, (DOUBLE - ratio) / rate)
        for blocks in _SEGMENTS:
            rate, keeps = self._two_halves(blocks, step)
            if rate > _HEADING_RATE:
                doubles_min = self._time_to(DOUBLE - ratio, rate, keeps, 2 * blocks)
                first = since_min <= _FIRST_MIN and rate < _FIRST_RATE
                if doubles_min < (_FIRST_WITHIN_MIN if first else _HEADING_WITHIN_MIN):
                    return Danger(Symptom.HEADING_UP, ratio, rate, doubles_min)
        return None

    def _hot(self, ratio: float, step: float) -> Danger | None:
        rate = self._slope(30.0, step)
        if not rate or ratio <= _HOT or not self._smooth(30.0):
            return None
        doubles_min = (DOUBLE - ratio) / rate
        if doubles_min >= _HOT_WITHIN_MIN:
            return None
        return Danger(Symptom.HOT_RISING, ratio, rate, doubles_min if doubles_min > 0.0 else None)

    def _still_rising(self, ratio: float, since_min: float, step: float) -> Danger | None:
        rate = self._slope(60.0, step)
        if since_min < _STILL_RISING_MIN or rate is None or rate <= _STILL_RISING_RATE:
            return None
        return Danger(Symptom.STILL_RISING, ratio, rate) if self._smooth(60.0) else None

    def _fast(self, ratio: float, since_min: float, step: float) -> Danger | None:
        """Faster than 10 %/min above 1.3 x, twice in a row; while cold only if it does not slow down."""
        rate = self._slope(30.0, step)
        fast = rate is not None and rate > _FAST_RATE and ratio > _FAST_ABOVE and self._smooth(30.0)
        if fast and since_min <= _WARM_UP_MIN:
            recent, keeps = self._two_halves(2, step)
            fast = recent > 0.0 and self._time_to(3.0 - ratio, recent, keeps, 4) < _HEADING_WITHIN_MIN
        confirmed, self._fast_before = fast and self._fast_before, fast
        return Danger(Symptom.FAST, ratio, rate or 0.0) if confirmed else None

    # --- course -------------------------------------------------------------------------------------

    def _longest_gap_s(self) -> float:
        """Blocks further apart than this do not belong together: three times the usual spacing."""
        if len(self._times) < 2:
            return math.inf
        return 3.0 * (self._times[-1] - self._times[0]) / (len(self._times) - 1)

    def _slope(self, span_s: float, step: float = 0.0) -> float | None:
        """Least-squares rise a minute over `span_s`, three blocks at least; None before there are three.

        Less what the display's step can feign: a line through a staircase can be wrong by 1.5 steps.
        """
        used = self._within(span_s)
        if used < 3:
            return None
        at, y = list(self._times)[-used:], list(self._ratios)[-used:]
        rate = _least_squares(at, y) * 60.0
        if step > 0.0 and rate > 0.0:
            rate = max(0.0, rate - 1.5 * step / (at[-1] - at[0]) * 60.0)
        return rate

    def _within(self, span_s: float) -> int:
        """How many of the newest blocks lie within `span_s`, three at least if there are as many."""
        newest_s = self._times[-1]
        inside = sum(1 for at_s in self._times if newest_s - at_s < span_s)
        return min(len(self._times), max(3, inside))

    def _two_halves(self, blocks: int, step: float) -> tuple[float, float]:
        """Rise a minute over the newer half of 4 x `blocks` blocks, and the factor to the older half.

        (0, 0) when there are too few blocks, a quarter did not rise, or one quarter holds most of the rise
        (a step, not a slope).
        """
        if len(self._times) < 4 * blocks + 1:
            return 0.0, 0.0
        at = [self._times[-1 - quarter * blocks] for quarter in range(5)]
        y = [self._ratios[-1 - quarter * blocks] for quarter in range(5)]
        rises = [y[k] - y[k + 1] for k in range(4)]
        total = sum(rises)
        if min(rises) <= 0.0 or max(rises) > _LARGEST_SHARE * total or total < 3.0 * step:
            return 0.0, 0.0
        newer = max(0.0, y[0] - y[2] - 0.5 * step) / (at[0] - at[2]) * 60.0
        older = (y[2] - y[4] + 0.5 * step) / (at[2] - at[4]) * 60.0
        return newer, min(1.0, newer / older)

    def _time_to(self, distance: float, rate: float, keeps: float, blocks: int) -> float:
        """Minutes until the level has risen by `distance`, the rise shrinking by `keeps` every `blocks`."""
        span_min = (self._times[-1] - self._times[-1 - blocks]) / 60.0
        if rate <= 0.0 or distance <= 0.0:
            return math.inf if rate <= 0.0 else 0.0
        gone_min = 0.0
        while gone_min < 2.0 * _HEADING_WITHIN_MIN:
            rate *= keeps
            if rate * span_min >= distance:
                return gone_min + distance / rate
            distance -= rate * span_min
            gone_min += span_min
        return math.inf

    def _rests_at(self) -> float:
        """Where it would rest if the rises from block to block went on shrinking as the last two did."""
        y = list(self._ratios)[-3:]
        last, before = y[2] - y[1], y[1] - y[0]
        if last <= 0.0 or before <= 0.0:
            return y[2]
        keeps = min(last / before, 0.97)
        return y[2] + last * keeps / (1.0 - keeps)

    def _smooth(self, span_s: float) -> bool:
        """Whether no single pair of neighbours holds most of the rise over `span_s`: a slope, not a step."""
        y = list(self._ratios)[-self._within(span_s) :]
        rises = [b - a for a, b in itertools.pairwise(y)]
        share = max(0.38, _SHARE.get(len(rises), 0.0))
        return len(rises) >= 2 and max(rises) <= share * (y[-1] - y[0])


def _least_squares(at: Sequence[float], y: Sequence[float]) -> float:
    middle, centre = sum(at) / len(at), sum(y) / len(y)
    spread = sum((t - middle) ** 2 for t in at)
    return sum((t - middle) * (v - centre) for t, v in zip(at, y, strict=True)) / spread
