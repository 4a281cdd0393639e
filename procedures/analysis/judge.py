"""Recorded readings through exactly the analysis that watches a live bench, and what it made of them.

Pure: a stream of facts in, an account of each channel out. Not here: files (`app.judge`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from procedures.analysis.channel import AnalysisSettings, ChannelSetup, Forecast
from procedures.analysis.monitor import Finding, Monitor
from procedures.events import (
    Alarm,
    ChannelReading,
    Disturbance,
    Input,
    SettledChanged,
    Tick,
)

_MINUTE_S = 60.0


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


class Judging:
    """Feeds facts to a Monitor as they would have come, and keeps the account."""

    def __init__(self, setups: Sequence[ChannelSetup], settings: AnalysisSettings) -> None:
        self._monitor = Monitor(setups, settings)
        self.accounts = {setup.channel: Account(setup, settings.limit) for setup in setups}
        self._minute_s = _MINUTE_S
        self._at_s = -math.inf

    def feed(self, facts: Iterable[Input]) -> None:
        """Take facts in their order; what falls due between two of them is seen to as a live bench would."""
        monitor, accounts = self._monitor, self.accounts
        for fact in facts:
            if fact.at_s > self._at_s:
                self._let_pass(fact.at_s)
            found = monitor.feed(fact)
            if found:
                self._note(found)
            if type(fact) is ChannelReading:
                account = accounts.get(fact.channel)
                if account is not None:
                    account.readings += 1
                    account.last = fact.value

    def finish(self) -> tuple[Account, ...]:
        """End the recording: the blocks still open are judged, and the account is complete."""
        due_s = self._monitor.next_deadline()
        if due_s is not None and due_s < self._at_s + 2.0 * _MINUTE_S:
            self._let_pass(math.nextafter(due_s, math.inf))
        for name, account in self.accounts.items():
            account.reason = self._monitor.state(name).reason
        return tuple(self.accounts.values())

    def _let_pass(self, until_s: float) -> None:
        """Give the ticks that fall due before `until_s`, and keep a forecast for every full minute."""
        if until_s - self._at_s > 0.9 and self._at_s > -math.inf:
            passed_s = -math.inf
            while (due_s := self._monitor.next_deadline()) is not None and passed_s < due_s < until_s:
                passed_s = due_s
                self._note(self._monitor.feed(Tick(due_s)))
        self._at_s = until_s
        while self._minute_s <= until_s:
            for name, account in self.accounts.items():
                forecast = self._monitor.forecast(name)
                if forecast is not None and account.readings:
                    account.forecasts.append(forecast)
            self._minute_s = max(self._minute_s + _MINUTE_S, _MINUTE_S * (until_s // _MINUTE_S))

    def _note(self, found: Iterable[Finding]) -> None:
        for one in found:
            match one:
                case SettledChanged():
                    self._settled(one)
                case Alarm(channel=str() as name) if name in self.accounts:
                    self.accounts[name].alarms.append(one)
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
