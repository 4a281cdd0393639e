"""Steps and bends in the course of a channel, found from its block levels.

A step is looked for between two short lines, one before and one after, both carried on to the block between
them: a bent course (a warm-up) shifts both ends alike and does not look like a step. A bend is a sudden
change of slope, as of a lid or a draught. Not here: what they are called (`disturbance`).
"""

from __future__ import annotations

import math
import statistics
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

_SIDE = 4  # blocks on each side of the block that may hold a step
_MEMORY = 60  # blocks whose ordinary jumps say what is ordinary
_LONGEST_GAP_S = 60.0
_LONGEST_GAP_BLOCKS = 4.0
_LEAST_STEP = 0.006  # of the target
_LEAST_AT_FIRST = 0.03  # while it is not yet known what is ordinary
_ENOUGH = 12
_ORDINARY = 8.0  # times the median of ordinary jumps
_BEND_BLOCKS = 24  # two minutes on each side
_LEAST_BEND = 0.012  # of the target a minute
_BEND_EVERY = 3
_BEND_MEMORY = 40
_SLOPE_SHARE = 0.6  # of what the steepest of both lines covers in one block


@dataclass(frozen=True, slots=True)
class Step:
    """A sudden change of level at `at_s`, signed, in the channel's unit."""

    at_s: float
    height: float


@dataclass(frozen=True, slots=True)
class Bend:
    """A sudden change of slope at `at_s`: the slopes before and after, unit a second."""

    at_s: float
    before_per_s: float
    after_per_s: float


def _line_at(at_s: Sequence[float], levels: Sequence[float], moment_s: float) -> tuple[float, float]:
    """Value at `moment_s` and slope of the least-squares line through a few points."""
    middle_s, middle = sum(at_s) / len(at_s), sum(levels) / len(levels)
    spread = slanted = 0.0
    for moment, level in zip(at_s, levels, strict=True):
        spread += (moment - middle_s) ** 2
        slanted += (moment - middle_s) * (level - middle)
    slope = slanted / spread
    return middle + slope * (moment_s - middle_s), slope


def _unseen(at: deque[float], at_s: float) -> bool:
    """Whether nothing was seen for so long before a block that no line may be drawn across the gap."""
    if len(at) < 2:
        return False
    return at_s - at[-1] > max(_LONGEST_GAP_S, _LONGEST_GAP_BLOCKS * (at[-1] - at[0]) / (len(at) - 1))


class StepFinder:
    """Finds steps; one block in, at most one step out, about `_SIDE` blocks after it happened."""

    def __init__(self) -> None:
        self._at = deque[float](maxlen=2 * _SIDE + 1)
        self._levels = deque[float](maxlen=2 * _SIDE + 1)
        self._ordinary = deque[float](maxlen=_MEMORY)
        self._peak: Step | None = None
        self._wait = 0

    @property
    def usual(self) -> float:
        """The ordinary jump from block to block, in the channel's unit; 0 before it is known."""
        return statistics.median(self._ordinary) if len(self._ordinary) >= _ENOUGH else 0.0

    def forget(self) -> None:
        """What was seen before does not continue; what is ordinary stays known."""
        self._at.clear()
        self._levels.clear()
        self._peak, self._wait = None, 0

    def see(self, at_s: float, level: float, scale: float, display_step: float = 0.0) -> Step | None:
        """Take a block; the step that is now certain, if any. `scale` is the target or the usual level."""
        if _unseen(self._at, at_s):
            self.forget()
        self._at.append(at_s)
        self._levels.append(level)
        if len(self._at) < 2 * _SIDE + 1:
            return None
        jump, slack = self._jump()
        self._ordinary.append(abs(jump))
        least = (_LEAST_STEP if len(self._ordinary) >= _ENOUGH else _LEAST_AT_FIRST) * abs(scale)
        limit = max(least, 2.6 * display_step, self.usual * _ORDINARY, slack)
        if self._wait > 0:
            self._wait -= 1
            return None
        if abs(jump) > limit and (self._peak is None or abs(jump) > abs(self._peak.height)):
            self._peak = Step(self._at[_SIDE], jump)
            return None
        if self._peak is None:
            return None
        found, self._peak, self._wait = self._peak, None, _SIDE
        return found

    def _jump(self) -> tuple[float, float]:
        at, levels = list(self._at), list(self._levels)
        middle_s = at[_SIDE]
        before, slope_before = _line_at(at[:_SIDE], levels[:_SIDE], middle_s)
        after, slope_after = _line_at(at[_SIDE + 1 :], levels[_SIDE + 1 :], middle_s)
        # A step spreads over two blocks at the most; a steep course may bend within them.
        span_s = (at[-1] - at[0]) / (2 * _SIDE)
        slack = _SLOPE_SHARE * abs(slope_before - slope_after) * span_s * _SIDE
        return after - before, slack


class BendFinder:
    """Finds sudden changes of slope, two minutes after they happened."""

    def __init__(self) -> None:
        self._at = deque[float](maxlen=2 * _BEND_BLOCKS)
        self._levels = deque[float](maxlen=2 * _BEND_BLOCKS)
        self._ordinary = deque[float](maxlen=_BEND_MEMORY)
        self._wait = self._skip = 0

    def forget(self) -> None:
        """What was seen before does not continue."""
        self._at.clear()
        self._levels.clear()

    def see(self, at_s: float, level: float, scale: float, display_step: float = 0.0) -> Bend | None:
        """Take a block; the bend that is now certain, if any."""
        if _unseen(self._at, at_s):
            self.forget()
        self._at.append(at_s)
        self._levels.append(level)
        if len(self._at) < 2 * _BEND_BLOCKS:
            return None
        self._skip = (self._skip + 1) % _BEND_EVERY
        if self._skip:
            return None
        at, levels = list(self._at), list(self._levels)
        before_end, before = _line_at(at[:_BEND_BLOCKS], levels[:_BEND_BLOCKS], at[_BEND_BLOCKS])
        after_start, after = _line_at(at[_BEND_BLOCKS:], levels[_BEND_BLOCKS:], at[_BEND_BLOCKS])
        change = (after - before) * 60.0
        usual = statistics.median(self._ordinary) if len(self._ordinary) >= _ENOUGH else math.inf
        # A healthy warm-up only ever flattens; what steepens, or turns round, is an event.
        steepens = abs(after) > abs(before) or after * before < 0.0
        self._ordinary.append(abs(change))
        if self._wait > 0:
            self._wait -= 1
            return None
        connected = abs(after_start - before_end) < _LEAST_STEP * abs(scale)
        # Each line through a staircase may be wrong by 1.5 steps over its span.
        feigned = 3.0 * display_step / (at[_BEND_BLOCKS - 1] - at[0]) * 60.0
        limit = max(_LEAST_BEND * abs(scale), _ORDINARY * usual, 1.5 * feigned)
        if not (steepens and connected) or abs(change) < limit:
            return None
        self._wait = 2 * _BEND_BLOCKS // _BEND_EVERY
        return Bend(at[_BEND_BLOCKS], before, after)
