"""Targets that count at another moment than at rest: at a stated time, below a sink temperature, cold.

Such a target is judged under its own condition, with the usable time left shown; how long the reading would
take to rest does not matter to it. Not here: targets at rest (`settling`).
"""

from __future__ import annotations

from dataclasses import dataclass

from procedures.amplifier import Condition, ConditionKind
from procedures.analysis.channel import NOT_READ
from procedures.analysis.figures import duration, figure
from procedures.analysis.settling import Evidence, Judgement
from procedures.analysis.window import TargetWindow

_TIME_SHARE = 0.1  # how long after its stated time a reading still counts; common practice, no source
_COLD_S = 120.0  # common practice, no source
_HOLD_S = 10.0


@dataclass(frozen=True, slots=True)
class Sink:
    """The heatsink: its temperature and its rise a second."""

    celsius: float
    rate_per_s: float


class ConditionJudge:
    """Judges a channel whose target has a condition of its own."""

    def __init__(self, window: TargetWindow, condition: Condition) -> None:
        self._window, self._condition = window, condition
        self._inside_from_s: float | None = None
        self._settled_at: Judgement | None = None
        self._judgement = Judgement(0.0, False, NOT_READ)
        self._usable_s: float | None = None

    @property
    def judgement(self) -> Judgement:
        """The latest judgement."""
        return self._judgement

    @property
    def usable_s(self) -> float | None:
        """How long a reading can still count; None where that is not known."""
        return self._usable_s

    def forget(self, at_s: float, reason: str) -> None:
        """Begin anew."""
        self._inside_from_s = None
        self._settled_at = None
        self._judgement = Judgement(at_s, False, reason)

    def judge(self, seen: Evidence, sink: Sink | None) -> Judgement:
        """Judge the channel under its condition."""
        begins_s, ends_s, words = self._span(seen, sink)
        self._usable_s = max(0.0, ends_s) if ends_s is not None else None
        if seen.barred:
            return self._say(seen.at_s, False, seen.barred)
        if ends_s is not None and ends_s < 0.0:
            kept = self._settled_at
            if kept is not None:
                return self._say(seen.at_s, True, kept.reason)
            if not seen.on_told:
                return self._say(seen.at_s, False, f"{words}: nobody has said yet when that was")
            return self._say(seen.at_s, False, f"{words}: that is over")
        if begins_s > 0.0:
            self._inside_from_s = None
            return self._say(seen.at_s, False, f"{words}: in {duration(begins_s)}")
        return self._under_condition(seen, words)

    def _under_condition(self, seen: Evidence, words: str) -> Judgement:
        level = figure(seen.level, self._window.unit, self._window.resolution or None)
        left = f"; {duration(self._usable_s)} left" if self._usable_s is not None else ""
        outside = self._window.outside(seen.level)
        if outside or not self._window.usable:
            self._inside_from_s = None
            return self._say(seen.at_s, False, f"{words}: {level}, {outside or 'meter too coarse'}{left}")
        if self._inside_from_s is None:
            self._inside_from_s = seen.at_s
        if seen.at_s - self._inside_from_s < _HOLD_S:
            return self._say(seen.at_s, False, f"{words}: {level}, inside; watching a moment{left}")
        judgement = self._say(seen.at_s, True, f"{words}: {level}, inside the window{left}")
        self._settled_at = Judgement(seen.at_s, True, f"{words}: it was {level}, inside the window")
        return judgement

    def _span(self, seen: Evidence, sink: Sink | None) -> tuple[float, float | None, str]:
        """When the condition begins and ends, seconds from now (negative: passed), and its name."""
        kind, condition = self._condition.kind, self._condition
        if kind is ConditionKind.AT_TIME and condition.time_s is not None:
            begins_s = condition.time_s - seen.since_on_s
            return (
                begins_s,
                begins_s + _TIME_SHARE * condition.time_s,
                (f"counts at {duration(condition.time_s)} after power-on"),
            )
        if kind is ConditionKind.BELOW_SINK and condition.sink_degrees_c is not None:
            words = f"counts below {condition.sink_degrees_c:.0f} °C at the heatsink"
            if sink is None:
                return 0.0, None, f"{words} (no reading of the heatsink)"
            room = condition.sink_degrees_c - sink.celsius
            if room <= 0.0:
                return 0.0, -1.0, f"{words} (it is at {sink.celsius:.0f} °C)"
            left_s = room / sink.rate_per_s if sink.rate_per_s > 0.0 else None
            return 0.0, left_s if left_s is None or left_s < 7200.0 else None, words
        until_s = condition.time_s if condition.time_s is not None else _COLD_S
        return 0.0, until_s - seen.since_on_s, f"counts cold, within {duration(until_s)} of power-on"

    def _say(self, at_s: float, settled: bool, reason: str) -> Judgement:
        self._judgement = Judgement(at_s, settled, reason)
        return self._judgement
