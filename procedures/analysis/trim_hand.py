"""Guiding a hand on a trimmer by the live reading alone: what the last turn did, and what to do next.

No direction is said before a nudge has shown what it does; afterwards only "the same way" or "back", as
seen from the last movement of the reading. Turns are never counted: play, worn contacts and end stops do not
matter to somebody who watches the reading. Not here: whether to turn at all (`trim_aim`, `trim`).
"""

from __future__ import annotations

import statistics
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass

from procedures.analysis.channel import AdviceKind

_SMOOTH_S = 1.6
_BASE_S = 2.0
_LEAST_MOVE = 0.008  # of the target: less may be drift or wander
_NOISES = 4.0
_DISPLAY_STEPS = 2.5
_PATIENCE_S = 20.0
_NO_RESPONSE_S = 60.0
_STUCK_S = 30.0
_PLAY_S = 3.0
_HOLD_S = 2.0
_OTHER_MOVE = 0.02
_MORE_PATIENCE = 4  # touches after which a little more is allowed


@dataclass(frozen=True, slots=True)
class Guidance:
    """What to do with the hand now; `other` is the channel that moved instead."""

    kind: AdviceKind
    rising: bool = False
    show_volts: float | None = None
    other: str = ""
    first: bool = False


class TrimHand:
    """One visit to a trimmer, from the first look at the reading to letting go."""

    def __init__(
        self, target: float, show_volts: float, reach: float, step: float, drift_per_s: float = 0.0
    ) -> None:
        self.show_volts = show_volts
        self.touches = 0
        self.play = False
        self._target, self._step, self._drift = abs(target), step, drift_per_s
        self._reach = max(reach, 1.2 * step)
        self._seen: deque[tuple[float, float]] = deque(maxlen=400)
        self._begun_s: float | None = None
        self._base: float | None = None
        self._noise = 0.0
        self._others: dict[str, float] = {}
        self._last_sign = 0
        self._turning_point = 0.0
        self._moved_s = 0.0
        self._asked_back_s: float | None = None
        self._inside_s: float | None = None
        self._below_first = False
        self._was_moving = False
        self._answered = self._done = False

    @property
    def answered(self) -> bool:
        """Whether the reading has followed the hand."""
        return self._answered

    @property
    def level(self) -> float | None:
        """The level now."""
        return self._smoothed(self._seen[-1][0]) if self._seen else None

    @property
    def base(self) -> float | None:
        """The level before the hand moved."""
        return self._base

    def see(self, at_s: float, value: float, others: Mapping[str, float]) -> Guidance:
        """Take a reading (and the latest of the other channels); what to do now."""
        if self._begun_s is None:
            self._begun_s = self._moved_s = at_s
        self._seen.append((at_s, value))
        level = self._smoothed(at_s)
        if self._base is None:
            return self._look_first(at_s, others)
        self._follow(at_s, level)
        if not self._answered:
            return self._await_answer(at_s, level, others)
        return self._guide(at_s, level)

    # --- inside -------------------------------------------------------------------------------------

    def _smoothed(self, at_s: float) -> float:
        recent = [value for moment, value in self._seen if at_s - moment <= _SMOOTH_S]
        return statistics.median(recent[-7:]) if len(recent) > 2 else recent[-1]

    def _look_first(self, at_s: float, others: Mapping[str, float]) -> Guidance:
        assert self._begun_s is not None
        if at_s - self._begun_s >= _BASE_S or len(self._seen) >= 12:
            values = [value for _, value in self._seen]
            self._base = self._turning_point = statistics.median(values)
            self._noise = statistics.median(abs(v - self._base) for v in values) * 1.48
            self._others = dict(others)
            self._moved_s = at_s
        return Guidance(AdviceKind.NUDGE, show_volts=self.show_volts, first=True)

    @property
    def _least(self) -> float:
        """The smallest change that counts as an answer to the hand."""
        return max(_LEAST_MOVE * self._target, _NOISES * self._noise, _DISPLAY_STEPS * self._step)

    def _follow(self, at_s: float, level: float) -> None:
        """Keep track of the last movement of the reading, its direction and its end."""
        least = self._least if not self._answered else max(0.5 * self._least, 1.5 * self._step)
        allowed = 0.0
        if not self._answered:
            allowed = self._drift * (at_s - self._moved_s)
        change = level - self._turning_point - allowed
        if abs(change) >= least:
            sign = 1 if change > 0.0 else -1
            if not self._was_moving or sign != self._last_sign:
                self.touches += 1
            if self._asked_back_s is not None and sign != self._last_sign:
                self.play = self.play or at_s - self._asked_back_s > _PLAY_S
                self._asked_back_s = None
            self._last_sign, self._turning_point = sign, level
            self._moved_s, self._was_moving, self._answered = at_s, True, True
        elif at_s - self._moved_s > _PLAY_S:
            self._was_moving = False

    def _await_answer(self, at_s: float, level: float, others: Mapping[str, float]) -> Guidance:
        for name, value in others.items():
            was = self._others.get(name)
            if was is not None and abs(value - was) > max(_OTHER_MOVE * abs(was), 3.0 * self._step):
                return Guidance(AdviceKind.WRONG_TRIMMER, rising=value > was, other=name, show_volts=was)
        waited_s = at_s - self._moved_s
        if waited_s > _NO_RESPONSE_S:
            return Guidance(AdviceKind.NO_RESPONSE)
        return Guidance(AdviceKind.NUDGE, show_volts=self.show_volts, first=waited_s < _PATIENCE_S)

    def _guide(self, at_s: float, level: float) -> Guidance:
        missing = self.show_volts - level
        reach = self._reach * (1.0 + 0.5 * max(0, self.touches // _MORE_PATIENCE - 1))
        if abs(missing) <= (2.0 * reach if self._done else reach):
            return self._inside(at_s)
        self._inside_s, self._done = None, False
        needed = 1 if missing > 0.0 else -1
        if needed < 0 and (self._below_first or (self.play and self._last_sign > 0)):
            self._below_first = True
            return Guidance(AdviceKind.APPROACH_FROM_BELOW, show_volts=self.show_volts - 2.0 * reach)
        if needed == self._last_sign:
            return self._go_on(at_s, needed, level)
        return self._back(at_s)

    def _inside(self, at_s: float) -> Guidance:
        """Near enough: hold, and let go when it stays."""
        self._below_first = False
        self._asked_back_s = None
        if self._inside_s is None:
            self._inside_s = at_s
        self._done = at_s - self._inside_s >= _HOLD_S
        return Guidance(AdviceKind.DONE if self._done else AdviceKind.WAIT, show_volts=self.show_volts)

    def _go_on(self, at_s: float, needed: int, level: float) -> Guidance:
        self._asked_back_s = None
        if at_s - self._moved_s > _STUCK_S:
            return Guidance(AdviceKind.RANGE_EXHAUSTED, rising=needed > 0, show_volts=level)
        return Guidance(AdviceKind.TURN, rising=needed > 0, show_volts=self.show_volts)

    def _back(self, at_s: float) -> Guidance:
        if self._asked_back_s is None:
            self._asked_back_s = at_s
        if at_s - max(self._asked_back_s, self._moved_s) > _NO_RESPONSE_S:
            return Guidance(AdviceKind.NO_RESPONSE)
        return Guidance(AdviceKind.TURN_BACK, rising=self._last_sign > 0, show_volts=self.show_volts)
