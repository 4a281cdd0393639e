"""Guiding a hand on a trimmer by the live reading alone: what the last turn did, and what to do next.

No direction is said before a nudge has shown what it does; afterwards there are two ways, that of the nudge
and that against it, and the advice names one of them. Turns are never counted: play, worn contacts and end
stops do not matter to somebody who watches the reading. Not here: whether to turn at all (`trim_aim`,
`trim`).
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
_PROGRESS = 0.85
_PLAY_S = 4.0
_HOLD_S = 2.0
_OTHER_MOVE = 0.02
_MORE_PATIENCE = 4  # touches after which a little more is allowed


@dataclass(frozen=True, slots=True)
class Guidance:
    """What to do with the hand now.

    `with_nudge`: which of the two ways; `rising`: what the reading must do (or, of another channel, did).
    `other` is the channel that moved instead.
    """

    kind: AdviceKind
    rising: bool = False
    with_nudge: bool = True
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
        self._nudge_sign = 1
        self._stuck_at: float | None = None
        self._check: tuple[float, float] | None = None
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
    def risen(self) -> bool:
        """Whether the reading stands above where it was found."""
        level = self.level
        return level is not None and self._base is not None and level > self._base

    @property
    def level(self) -> float | None:
        """The level now."""
        return self._smoothed(self._seen[-1][0]) if self._seen else None

    @property
    def base(self) -> float | None:
        """The level before the hand moved."""
        return self._base

    @property
    def reach_volts(self) -> float:
        """How near to the reading that is wanted is near enough; less is asked of a hand that tries on."""
        reach = self._reach * (1.0 + 0.5 * max(0, self.touches // _MORE_PATIENCE - 1))
        return 2.0 * reach if self._done else reach

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
        return statistics.median(recent[-5:]) if len(recent) > 2 else recent[-1]

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
        allowed = 0.0 if self._answered else self._drift * (at_s - self._moved_s)
        change = level - self._turning_point - allowed
        sign = 1 if change > 0.0 else -1
        least = self._least
        if self._answered and sign == self._last_sign:
            least = max(0.5 * self._least, 1.5 * self._step)
        if abs(change) < least:
            self._was_moving = self._was_moving and at_s - self._moved_s <= _PLAY_S
            return
        if not self._answered:
            self._nudge_sign = sign
        if not self._was_moving or sign != self._last_sign:
            self.touches += 1
        if self._asked_back_s is not None and sign != self._last_sign:
            self.play = self.play or at_s - self._asked_back_s > _PLAY_S
            self._asked_back_s = None
        self._last_sign, self._turning_point = sign, level
        self._moved_s, self._was_moving, self._answered = at_s, True, True

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
        if needed != self._last_sign and self._asked_back_s is None:
            self._asked_back_s = at_s
        elif needed == self._last_sign:
            self._asked_back_s = None
        rising, with_nudge = needed > 0, needed == self._nudge_sign
        if self._stuck(at_s, level):
            return Guidance(AdviceKind.RANGE_EXHAUSTED, rising, with_nudge, level)
        if needed < 0 and (self._below_first or (self.play and self._last_sign > 0)):
            self._below_first = True
            return Guidance(AdviceKind.APPROACH_FROM_BELOW, rising, with_nudge, self.show_volts - 2.0 * reach)
        kind = AdviceKind.TURN if with_nudge else AdviceKind.TURN_BACK
        return Guidance(kind, rising, with_nudge, self.show_volts)

    def _inside(self, at_s: float) -> Guidance:
        """Near enough: hold, and let go when it stays."""
        self._below_first = False
        self._asked_back_s = self._check = None
        if self._inside_s is None:
            self._inside_s = at_s
        self._done = at_s - self._inside_s >= _HOLD_S
        return Guidance(AdviceKind.DONE if self._done else AdviceKind.WAIT, show_volts=self.show_volts)

    def _stuck(self, at_s: float, level: float) -> bool:
        """Whether what is missing has hardly become less for a while: the reading no longer follows.

        The heat of the last turn moves it a little further; once stuck, only a real movement counts.
        """
        missing = abs(self.show_volts - level)
        if self._stuck_at is not None:
            if abs(level - self._stuck_at) < _OTHER_MOVE * 2.0 * self._target:
                return True
            self._stuck_at = self._check = None
        if self._check is None or missing < _PROGRESS * self._check[1] or missing > 1.5 * self._check[1]:
            self._check = (at_s, missing)
        elif at_s - self._check[0] > _STUCK_S:
            self._stuck_at = level
        return self._stuck_at is not None
