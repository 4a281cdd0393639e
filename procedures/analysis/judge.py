"""Recorded readings through exactly the analysis that watches a live bench, and what it made of them.

Pure: a stream of facts in, an account of each channel out. Not here: files (`app.judge`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Protocol

from procedures.analysis.channel import AnalysisSettings, ChannelSetup, Forecast
from procedures.analysis.monitor import Monitor
from procedures.events import (
    Alarm,
    ChannelReading,
    Disturbance,
    Input,
    SettledChanged,
    Tick,
    Tier,
)

_MINUTE_S = 60.0
_FORECAST_EVERY_S = 30.0  # blocks end when they end: twice a minute, so that none is without
_STALE_S = 15.0
_PACE = 2.5  # intervals without a reading, until a channel counts as silent


@dataclass(slots=True)
class Account:
    """What the analysis said of one channel. Times are session seconds, values in the channel's unit."""

    setup: ChannelSetup
    limit: float
    readings: int = 0
    settled_at_s: float | None = None
    settled_reason: str = ""
    revoked_at_s: list[float] = field(default_factory=list)
    forecasts: list[Forecast] = field(default_factory=list)
    alarms: list[Alarm] = field(default_factory=list)
    disturbances: list[Disturbance] = field(default_factory=list)
    last: float | None = None
    reason: str = ""
    last_at_s: float = -math.inf
    step_s: float = 0.0
    early_silence: Alarm | None = None

    def take(self, at_s: float, value: float) -> None:
        """Count a reading. The third tells whether the channel is slow, or fell silent after its first."""
        step_s = at_s - self.last_at_s
        self.readings += 1
        if self.readings == 3 and self.early_silence is not None and self.step_s > _PACE * step_s:
            self.alarms.append(self.early_silence)
        if self.readings > 1:
            self.step_s = step_s
        self.last, self.last_at_s = value, at_s

    def alarm(self, alarm: Alarm) -> None:
        """Keep an alarm; whether a first reading was followed by silence is known from the third on."""
        if alarm.tier is Tier.BLIND and self.readings == 1:
            self.early_silence = alarm
        else:
            self.alarms.append(alarm)

    def expect(self, forecast: Forecast | None, now_s: float) -> None:
        """Keep where the reading would rest, as known now; an older word than the last is not spoken."""
        if forecast is None or not self.readings:
            return
        if self.forecasts and forecast.at_s <= self.forecasts[-1].at_s:
            silent = now_s - self.last_at_s > max(_STALE_S, _PACE * self.step_s)
            forecast = replace(forecast, at_s=now_s, spoken=forecast.spoken and not silent)
        self.forecasts.append(forecast)

    def as_json(self, file: str) -> dict[str, Any]:
        """The account as plain data, one object a file and channel."""
        return {
            "file": file,
            "channel": self.setup.channel,
            "settled_at_s": self.settled_at_s,
            "revoked_at_s": list(self.revoked_at_s),
            "limit_percent": round(100.0 * self.limit, 6),
            "forecasts": [
                {
                    "at_s": said.at_s,
                    "resting_volts": said.volts,
                    "low_volts": said.low_volts,
                    "high_volts": said.high_volts,
                    "spoken": said.spoken,
                }
                for said in self.forecasts
            ],
            "alarms": [{"at_s": a.at_s, "tier": a.tier.value, "reason": a.text} for a in self.alarms],
            "disturbances": [
                {"at_s": d.at_s, "kind": str(d.kind), "reason": d.text} for d in self.disturbances
            ],
            "last_volts": self.last,
            "unit": self.setup.unit.value,
            "readings": self.readings,
            "reason": self.reason,
        }


class Fed(Protocol):
    """What takes the facts: the monitor, or a run around it that lets it know of trimming."""

    def feed(self, fact: Input) -> tuple[Any, ...]:
        """Take one fact; what it leads to."""
        ...


class Judging:
    """Feeds facts to a Monitor as they would have come, and keeps the account.

    `around` makes the run of a recorded session around the monitor; its record holds every tick, so none is
    added.
    """

    def __init__(
        self,
        setups: Sequence[ChannelSetup],
        settings: AnalysisSettings,
        around: Callable[[Monitor], Fed] | None = None,
    ) -> None:
        self._monitor = Monitor(setups, settings)
        self._ticking = around is None
        self._fed: Fed = self._monitor if around is None else around(self._monitor)
        self.accounts = {setup.channel: Account(setup, settings.limit) for setup in setups}
        self._forecast_s = _FORECAST_EVERY_S
        self._ended = False
        self._at_s = -math.inf

    def feed(self, facts: Iterable[Input]) -> None:
        """Take facts in their order; what falls due between two of them is seen to as a live bench would."""
        fed, accounts = self._fed, self.accounts
        for fact in facts:
            if fact.at_s > self._at_s:
                self._let_pass(fact.at_s)
            found = fed.feed(fact)
            if found:
                self._note(found)
            if type(fact) is ChannelReading:
                account = accounts.get(fact.channel)
                if account is not None:
                    account.take(fact.at_s, fact.value)

    def finish(self) -> tuple[Account, ...]:
        """End the recording: the blocks still open are judged, and the account is complete."""
        self._ended = True
        end_s, due_s = self._at_s, self._monitor.next_deadline()
        if self._ticking and due_s is not None and due_s < end_s + 2.0 * _MINUTE_S:
            self._let_pass(math.nextafter(due_s, math.inf))
        for name, account in self.accounts.items():
            account.reason = self._monitor.state(name).reason
            if account.early_silence is not None and account.readings == 1:
                account.alarms.append(account.early_silence)
            account.alarms.sort(key=_moment)
        return tuple(self.accounts.values())

    def _let_pass(self, until_s: float) -> None:
        """Give the ticks that fall due before `until_s`, and keep a forecast twice a minute."""
        if self._ticking and until_s - self._at_s > 0.9 and self._at_s > -math.inf:
            passed_s = -math.inf
            while (due_s := self._monitor.next_deadline()) is not None and passed_s < due_s < until_s:
                passed_s = due_s
                self._note(self._monitor.feed(Tick(due_s)))
        self._at_s = until_s
        while self._forecast_s <= until_s:
            for name, account in self.accounts.items():
                account.expect(self._monitor.forecast(name), self._forecast_s)
            self._forecast_s += _FORECAST_EVERY_S

    def _note(self, found: Iterable[object]) -> None:
        for one in found:
            match one:
                case SettledChanged():
                    self._settled(one)
                case Alarm(tier=Tier.BLIND) if self._ended:
                    pass  # nobody is silent who was not to speak again: the recording is over
                case Alarm(channel=str() as name) if name in self.accounts:
                    self.accounts[name].alarm(one)
                case Disturbance(channel=name):
                    for channel, account in self.accounts.items():
                        if name is None or name == channel:
                            account.disturbances.append(one)

    def _settled(self, change: SettledChanged) -> None:
        account = self.accounts[change.channel]
        if not change.settled:
            account.revoked_at_s.append(change.at_s)
        elif account.settled_at_s is None:
            account.settled_at_s, account.settled_reason = change.at_s, change.reason


def _moment(alarm: Alarm) -> float:
    return alarm.at_s
