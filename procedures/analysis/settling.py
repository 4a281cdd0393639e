"""Whether a reading has settled: inside its window, and will stay there. Always with the reason in words.

Settled means that the forecast keeps the reading within the chosen limit for the chosen time, interval and
all, that past forecasts were right, that nothing stepped without explanation, and that all this has held for
a while. It can be revoked. Not here: the forecast, the window, conditions other than rest (`condition`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from procedures.analysis.channel import NOT_READ, AnalysisSettings, Forecast
from procedures.analysis.figures import amount, duration, figure, percent, rate
from procedures.analysis.forecast import SPEAKS_AFTER_S, Outlook
from procedures.analysis.trend import Trend
from procedures.analysis.window import TargetWindow

QUIET_S = 600.0
_QUIET_MORE_S = 600.0  # a unit that stepped more than once must stay quiet longer
_QUIET_MOST_S = 2400.0
# Standard deviations beside the forecast change, for a limit of 3 %. The interval is that of the change at
# one moment, the promise is for every moment until then; the tighter the limit, the more that matters.
_SURE, _SURE_AT, _SURE_POWER = 1.55, 0.03, 0.4
_SURE_INSIDE = 2.0  # beside the edge of the window
_SURE_TO_REVOKE = 0.5  # a verdict once given needs more to be taken back than it needed to be given
_STEPS_IN_LIMIT = 1.5  # of the display: with fewer steps in the limit it cannot show that a reading stays


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is known about a channel at the end of a block, in the channel's unit.

    `outlook` holds the changes over the horizon. `followed_s` is how long the forecast has followed the
    channel without a break, `quiet_s` the time since the last of `unexplained` steps (infinite without one).
    `barred` says why no verdict may be given at all (series lamp, reduced mains, drive), empty when it may.
    """

    at_s: float
    level: float
    step: float
    trend: Trend | None
    outlook: Outlook | None
    forecast: Forecast | None
    since_on_s: float
    followed_s: float = float("inf")
    quiet_s: float = float("inf")
    unexplained: int = 0
    barred: str = ""
    on_told: bool = True  # whether anybody has said when it was switched on


@dataclass(frozen=True, slots=True)
class Judgement:
    """Settled or not at `at_s`, with the reason; `at_rest` asks the same wherever the level stands."""

    at_s: float
    settled: bool
    reason: str
    at_rest: bool = False


class SettlingJudge:
    """Judges one channel block by block; remembers only how long the conditions have held."""

    def __init__(self, window: TargetWindow, settings: AnalysisSettings) -> None:
        self._window = window
        self._settings = settings
        self._limit = settings.limit * abs(window.target)
        self._sure = _SURE * (_SURE_AT / settings.limit) ** _SURE_POWER
        self._held_from_s: float | None = None
        self._still_from_s: float | None = None
        self._judgement = Judgement(0.0, False, NOT_READ)

    @property
    def judgement(self) -> Judgement:
        """The latest judgement."""
        return self._judgement

    def judge(self, seen: Evidence) -> Judgement:
        """Judge the channel anew. The conditions must hold for the settings' hold time; one miss revokes."""
        reason = seen.barred or self._cannot(seen) or self._obstacle(seen)
        at_rest = self._at_rest(seen)
        if reason:
            self._held_from_s = None
            self._judgement = Judgement(seen.at_s, False, reason, at_rest)
            return self._judgement
        if self._held_from_s is None:
            self._held_from_s = seen.at_s
        held_s = seen.at_s - self._held_from_s
        if held_s >= self._settings.hold_s:
            self._judgement = Judgement(seen.at_s, True, self._rests(seen), True)
        else:
            left = duration(self._settings.hold_s - held_s)
            words = f"looks settled; watching it for {left} more"
            self._judgement = Judgement(seen.at_s, False, words, at_rest)
        return self._judgement

    def forget(self, at_s: float, reason: str) -> None:
        """Begin anew: something was changed, so that what held before says nothing."""
        self._held_from_s = self._still_from_s = None
        self._judgement = Judgement(at_s, False, reason)

    # --- at rest, be it inside the window or outside --------------------------------------------------

    def _at_rest(self, seen: Evidence) -> bool:
        """Whether the level will stay where it stands, and has looked so for the hold time."""
        if seen.barred or not self._will_stay(seen):
            self._still_from_s = None
            return False
        if self._still_from_s is None:
            self._still_from_s = seen.at_s
        return seen.at_s - self._still_from_s >= self._settings.hold_s

    def _will_stay(self, seen: Evidence) -> bool:
        """Whether the change ahead stays within the limit: a share of the target, or of a level above it."""
        outlook = seen.outlook
        if (
            outlook is None
            or min(seen.since_on_s, seen.followed_s) < SPEAKS_AFTER_S
            or seen.quiet_s < self._quiet_needed_s(seen)
        ):
            return False
        limit = self._settings.limit * max(abs(self._window.target), abs(seen.level))
        sure = _SURE_TO_REVOKE if self._judgement.at_rest else self._sure
        return bool(np.all(np.abs(outlook.changes) + sure * outlook.change_sds < limit))

    def _quiet_needed_s(self, seen: Evidence) -> float:
        return min(_QUIET_MOST_S, QUIET_S + _QUIET_MORE_S * max(0, seen.unexplained - 1))

    # --- reasons, in the order in which a person wants to hear them -----------------------------------

    def _cannot(self, seen: Evidence) -> str:
        window = self._window
        if not window.usable:
            return "cannot tell with this meter: its uncertainty uses up the whole window"
        if seen.step * _STEPS_IN_LIMIT > self._limit:
            if abs(seen.level) < seen.step:  # every step divides zero: nothing is known of the meter yet
                return "it has read nothing but zero so far"
            return (
                f"cannot tell with this meter: it counts in steps of {figure(seen.step, window.unit)}, "
                f"too coarse to see that the reading stays within {percent(self._settings.limit)}"
            )
        return ""

    def _obstacle(self, seen: Evidence) -> str:
        """The first reason why the reading is not settled; empty when there is none."""
        outside = self._window.outside(seen.level)
        course = self.course(seen)
        if outside:
            return f"{outside}; {course}" if course else outside
        needed_s = self._quiet_needed_s(seen)
        if seen.quiet_s < needed_s:
            return (
                f"it stepped {duration(seen.quiet_s)} ago without a known reason; "
                f"needs {duration(needed_s)} without a step"
            )
        if seen.outlook is None or min(seen.since_on_s, seen.followed_s) < SPEAKS_AFTER_S:
            return f"too early to tell: {course}" if course else "too early to tell"
        return self._unrest(seen, seen.outlook, course)

    def _unrest(self, seen: Evidence, outlook: Outlook, course: str) -> str:
        """Why the reading may not stay; empty when it will."""
        settled = self._judgement.settled
        margin = (_SURE_TO_REVOKE if settled else self._sure) * outlook.change_sds
        if bool(np.any(np.abs(outlook.changes) + margin >= self._limit)):
            if course:
                return course
            worst = float(np.max(np.abs(outlook.changes) + margin))
            minutes = self._settings.horizon_s / 60.0
            unit = self._window.unit
            return f"may still move by {amount(worst, unit)} in {minutes:.0f} min"
        # The level as it is now, carried along: the wander in it is already part of the change's interval.
        edge = (_SURE_TO_REVOKE if settled else _SURE_INSIDE) * float(outlook.change_sds.max())
        low = seen.level + min(0.0, float(outlook.changes.min())) - edge
        high = seen.level + max(0.0, float(outlook.changes.max())) + edge
        leaves = self._window.outside(high) or self._window.outside(low)
        if leaves:
            return f"{course}; could end {leaves}" if course else f"could end {leaves}"
        return ""

    def course(self, seen: Evidence) -> str:
        """What the reading does and where it would rest, as far as that is known."""
        window, digits = self._window, self._window.resolution or None
        parts = []
        trend = seen.trend
        if trend is not None and abs(trend.rate_per_s) > 1.96 * trend.rate_se:
            way = "rising" if trend.rate_per_s > 0.0 else "falling"
            parts.append(f"still {way} {rate(trend.rate_per_s, window.unit)}")
        forecast = seen.forecast
        if forecast is not None and forecast.spoken and parts:
            rest = f"would rest near {figure(forecast.volts, window.unit, digits)}"
            outside = window.outside(forecast.volts)
            parts.append(f"{rest}, {outside}" if outside else f"{rest}, inside the window")
        return "; ".join(parts)

    def _rests(self, seen: Evidence) -> str:
        level = figure(seen.level, self._window.unit, self._window.resolution or None)
        return (
            f"rests at {level}; will stay within {percent(self._settings.limit)} "
            f"for {self._settings.horizon_s / 60.0:.0f} min"
        )

    # --- time left ------------------------------------------------------------------------------------

    def time_left_s(
        self, leads_s: np.ndarray, levels: np.ndarray, sd: float, since_on_s: float
    ) -> tuple[float, float] | None:
        """From when to when this channel may be expected to be settled, seconds from now; None if never.

        `levels` (n,) are forecast at `leads_s` (n,), equally spaced from 0 to beyond the horizon; `sd` is
        that of the change over the horizon now. It shrinks as the warm-up grows longer.
        """
        spacing_s = float(leads_s[1] - leads_s[0])
        ahead = round(self._settings.horizon_s / spacing_s)
        changes = np.abs(levels[ahead:] - levels[:-ahead])
        starts = leads_s[: len(changes)]
        window, expected = self._window, levels[: len(changes)]
        inside = (expected >= window.accept_low) & (expected <= window.accept_high)
        later = sd * (since_on_s / (since_on_s + starts)) ** 1.3
        soonest = np.flatnonzero(inside & (changes + 0.5 * self._sure * later < self._limit))
        surely = np.flatnonzero(inside & (changes + self._sure * later < self._limit))
        if not len(soonest):
            return None
        latest_s = float(starts[surely[0]]) if len(surely) else float(starts[-1])
        hold_s = self._settings.hold_s
        return float(starts[soonest[0]]) + hold_s, latest_s + hold_s
