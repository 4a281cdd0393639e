"""Whether a reading has settled: inside its window, and will stay there. Always with the reason in words.

Here: the verdict from block levels, their trend and the forecast. Not here: the forecast itself, the
window, alarms.
"""

from __future__ import annotations

from dataclasses import dataclass

from procedures.analysis.channel import AnalysisSettings, Forecast
from procedures.analysis.figures import figure, percent, rate
from procedures.analysis.trend import Trend
from procedures.analysis.window import TargetWindow


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is known about a channel at the end of a block, in the channel's unit.

    `quiet_s` is the time since the last unexplained step (infinite without one); `barred` says why no
    verdict may be given at all (series lamp, reduced mains, drive), empty when it may.
    """

    at_s: float
    level: float
    noise: float
    step: float
    trend: Trend | None
    forecast: Forecast | None
    ahead: Forecast | None
    quiet_s: float
    barred: str = ""


@dataclass(frozen=True, slots=True)
class Judgement:
    """Settled or not at `at_s`, with the reason; `at_rest` is the same without the window."""

    at_s: float
    settled: bool
    reason: str
    at_rest: bool = False


class SettlingJudge:
    """Judges one channel block by block; remembers only how long the conditions have held."""

    QUIET_S = 600.0

    def __init__(self, window: TargetWindow, settings: AnalysisSettings) -> None:
        self._window = window
        self._settings = settings
        self._held_from_s: float | None = None
        self._rests_from_s: float | None = None
        self._judgement = Judgement(0.0, False, "no reading yet")

    @property
    def judgement(self) -> Judgement:
        """The latest judgement."""
        return self._judgement

    def judge(self, evidence: Evidence) -> Judgement:
        """Judge the channel anew. The conditions must hold for the settings' hold time; one miss revokes."""
        reason = evidence.barred or self._obstacle(evidence)
        at_rest = self._at_rest(evidence)
        if reason:
            self._held_from_s = None
            self._judgement = Judgement(evidence.at_s, False, reason, at_rest)
            return self._judgement
        if self._held_from_s is None:
            self._held_from_s = evidence.at_s
        held_s = evidence.at_s - self._held_from_s
        if held_s < self._settings.hold_s:
            left_s = self._settings.hold_s - held_s
            words = f"looks settled; watching {left_s:.0f} s more"
            self._judgement = Judgement(evidence.at_s, False, words, at_rest)
        else:
            self._judgement = Judgement(evidence.at_s, True, self._praise(evidence), True)
        return self._judgement

    def forget(self, at_s: float, reason: str) -> None:
        """Begin anew: something was changed, so that what held before says nothing."""
        self._held_from_s = self._rests_from_s = None
        self._judgement = Judgement(at_s, False, reason)

    def _at_rest(self, seen: Evidence) -> bool:
        """Whether the level has stood still for the hold time, wherever it stands."""
        still = not seen.barred and seen.quiet_s >= self.QUIET_S and self._stands_still(seen)
        if not still:
            self._rests_from_s = None
            return False
        if self._rests_from_s is None:
            self._rests_from_s = seen.at_s
        return seen.at_s - self._rests_from_s >= self._settings.hold_s

    def _stands_still(self, seen: Evidence) -> bool:
        """Whether it moves no more than the limit over the horizon; far above the target, than its share."""
        if seen.trend is None or seen.trend.span_s < 240.0:
            return False
        swing = abs(seen.trend.rate_per_s) + 1.96 * seen.trend.rate_se
        limit = self._settings.limit * max(abs(self._window.target), abs(seen.level))
        return seen.step <= limit and swing * self._settings.horizon_s <= limit * 0.75

    def _limit(self) -> float:
        return self._settings.limit * abs(self._window.target)

    def _obstacle(self, seen: Evidence) -> str:
        """The first reason why the reading is not settled; empty when there is none."""
        window, limit = self._window, self._limit()
        unit = window.unit
        if not window.usable:
            return "cannot tell with this meter: its uncertainty uses up the whole window"
        if seen.step > limit:
            return (
                f"cannot tell with this meter: it counts in {figure(seen.step, unit)}, "
                f"more than the {percent(self._settings.limit)} that still count as settled"
            )
        moving = self._moving(seen)
        outside = window.outside(seen.level)
        if outside:
            return f"{outside}{'; ' + moving if moving else ''}"
        if seen.quiet_s < self.QUIET_S:
            return f"stepped {seen.quiet_s / 60.0:.0f} min ago, cause unknown; needs 10 min without a step"
        return self._unrest(seen, moving)

    def _unrest(self, seen: Evidence, moving: str) -> str:
        """Why the reading may not stay; empty when it will."""
        window, limit = self._window, self._limit()
        if seen.trend is None or seen.trend.span_s < 240.0:
            return "too few readings yet"
        swing = abs(seen.trend.rate_per_s) + 1.96 * seen.trend.rate_se
        if swing * self._settings.horizon_s > limit * 0.75:
            return moving or f"not yet sure that it stays within {percent(self._settings.limit)}"
        ends = seen.level + seen.trend.rate_per_s * self._settings.horizon_s
        if window.outside(ends):
            return f"{moving}; would go to {figure(ends, window.unit, window.resolution or None)}"
        return ""

    def _moving(self, seen: Evidence) -> str:
        if seen.trend is None or abs(seen.trend.rate_per_s) <= 1.96 * seen.trend.rate_se:
            return ""
        way = "rising" if seen.trend.rate_per_s > 0.0 else "falling"
        return f"still {way} {rate(seen.trend.rate_per_s, self._window.unit)}"

    def _praise(self, seen: Evidence) -> str:
        level = figure(seen.level, self._window.unit, self._window.resolution or None)
        return (
            f"rests at {level}; will stay within {percent(self._settings.limit)} "
            f"for {self._settings.horizon_s / 60.0:.0f} min"
        )
