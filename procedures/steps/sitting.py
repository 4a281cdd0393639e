"""What a step knows of the bench at this moment, and the ways in which it may say something.

One `Sitting` lives as long as its run. The run keeps it up to date before a step sees a fact; steps read
it, record, judge and ask through it. It holds no decisions: what readings mean is the analysis's business.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from drivers.reading import Unit
from procedures.amplifier import Amplifier, AmplifierChannel
from procedures.analysis.channel import ChannelSetup, ChannelState, TrimAdvice
from procedures.earthing import Earthing
from procedures.events import (
    Action,
    Advice,
    Alarm,
    Event,
    Outcome,
    RecordedValue,
    Request,
    Supply,
    Tier,
    Verdict,
)
from procedures.leads import Lead, Leads
from procedures.observed import Inspected
from procedures.view import ActiveAlarm

ADVICE_EVERY_S = 1.0


class Watcher(Protocol):
    """The part of the analysis that steps use (`procedures.analysis.monitor.Monitor`)."""

    def state(self, channel: str) -> ChannelState:
        """What is known about a channel now."""
        ...

    def begin_trim(self, channel: str, at_s: float) -> None:
        """The channel's trimmer is being turned from now on."""
        ...

    def end_trim(self, channel: str, at_s: float) -> None:
        """The channel's trimmer is let go."""
        ...

    def advice(self, channel: str) -> TrimAdvice:
        """What to do with the channel's trimmer now."""
        ...


@dataclass
class Sitting:
    """The present situation of one run, and what it has said so far."""

    channels: Mapping[str, ChannelSetup]
    watcher: Watcher
    leads: Leads
    amplifier: Amplifier | None = None
    lamp_first: bool = False
    earthing: Earthing = field(default_factory=Earthing)
    at_s: float = 0.0
    supply: Supply = Supply.OFF
    power_on_s: float | None = None
    lid_fitted: bool = False
    driven: bool = False
    step: str = ""
    findings: dict[str, str] = field(default_factory=dict)
    changed: dict[str, str] = field(default_factory=dict)
    given_up: set[str] = field(default_factory=set)
    advice: dict[str, TrimAdvice] = field(default_factory=dict)
    rounds: dict[str, int] = field(default_factory=dict)
    recorded: list[RecordedValue] = field(default_factory=list)
    verdicts: list[Verdict] = field(default_factory=list)
    inspected: list[Inspected] = field(default_factory=list)
    outcomes: dict[str, str] = field(default_factory=dict)
    acknowledged: set[str] = field(default_factory=set)
    alarms: dict[str, ActiveAlarm] = field(default_factory=dict)
    outbox: list[Event] = field(default_factory=list)
    _states: dict[str, ChannelState] = field(default_factory=dict)
    _requests: int = 0
    _advised: dict[str, tuple[float, TrimAdvice | None]] = field(default_factory=dict)

    # --- what is known ------------------------------------------------------------------------------

    @property
    def from_power_on_s(self) -> float | None:
        """Seconds since the amplifier was switched on; None while it is off."""
        return None if self.power_on_s is None else self.at_s - self.power_on_s

    def state(self, channel: str) -> ChannelState:
        """What the analysis knows about a channel now."""
        if channel not in self.channels:
            return ChannelState(channel=channel, at_s=self.at_s)
        if channel not in self._states:
            self._states[channel] = self.watcher.state(channel)
        return self._states[channel]

    def states(self) -> tuple[ChannelState, ...]:
        """What the analysis knows about every channel now."""
        return tuple(self.state(channel) for channel in self.channels)

    def take_time(self, at_s: float) -> None:
        """A fact of this moment was taken: what was known before is known no more."""
        self.at_s = max(self.at_s, at_s)
        self._states.clear()

    def chosen(self, names: Sequence[str]) -> tuple[str, ...]:
        """The channels that a step names; all of the bench when it names none."""
        return tuple(names) if names else tuple(self.channels)

    def described(self, channel: str) -> AmplifierChannel | None:
        """What the amplifier's data says about a channel; None where it says nothing."""
        return self.amplifier.channel_named(channel) if self.amplifier else None

    def is_typed(self, channel: str) -> bool:
        """Whether a person types this channel's readings."""
        return channel in self.channels and self.channels[channel].typed

    def readable(self, channel: str) -> bool:
        """Whether readings of the channel can arrive as things are wired."""
        return self.is_typed(channel) or self.leads.lead_of(channel) is not None

    def lead_for(self, channel: str) -> Lead | None:
        """The lead to move to a channel that no lead reads: one that is free, else the first.

        A lead of an earthed input is never asked for on live test points.
        """
        setup = self.channels.get(channel)
        leads = tuple(
            lead for lead in self.leads if setup is None or self.earthing.allowed(lead.meter, setup)
        )
        return next((lead for lead in leads if lead.channel is None), leads[0] if leads else None)

    def alarmed(self, channel: str, *tiers: Tier) -> Alarm | None:
        """A present alarm of these tiers about a channel, acknowledged or not."""
        return next(
            (a.alarm for a in self.alarms.values() if a.alarm.channel == channel and a.alarm.tier in tiers),
            None,
        )

    def recorded_value(self, name: str, channel: str | None) -> RecordedValue | None:
        """What was recorded under a name, or None."""
        return next((r for r in reversed(self.recorded) if (r.name, r.channel) == (name, channel)), None)

    # --- what is said -------------------------------------------------------------------------------

    def record(
        self, name: str, channel: str | None, value: float | None, unit: Unit, reason: str = "", **more: str
    ) -> RecordedValue:
        """Keep a value under a name, with the conditions that belong to it. What is no number is missing."""
        if value is not None and not math.isfinite(value):
            value, reason = None, reason or "no figure came of it"
        conditions = {"supply": self.supply.value, "lid": "on" if self.lid_fitted else "not on"}
        if self.from_power_on_s is not None:
            conditions["from_power_on_s"] = f"{self.from_power_on_s:.1f}"
        if channel is not None and self.is_typed(channel):
            conditions["typed"] = "yes"
        kept = RecordedValue(self.at_s, name, channel, value, unit, conditions | more, reason)
        self.recorded.append(kept)
        self.outbox.append(kept)
        return kept

    def judge(
        self,
        channel: str | None,
        outcome: Outcome,
        reason: str,
        value: float | None = None,
        subject: str = "",
    ) -> None:
        """Pass judgement on a channel, on a subject of another kind, or on the whole (neither)."""
        verdict = Verdict(self.at_s, self.step, channel, outcome, reason, value, subject)
        self.verdicts.append(verdict)
        self.outbox.append(verdict)

    def looked_at(self, found: Inspected) -> None:
        """Keep what was found of one thing of a checklist."""
        self.inspected.append(found)
        self.outbox.append(found)

    def advise(self, advice: TrimAdvice) -> None:
        """Pass on what the analysis says about a trimmer, when it says something new.

        The figures in it follow every reading; a new sentence of the same kind is passed on once a second.
        """
        self.advice[advice.channel] = advice
        told_s, told = self._advised.get(advice.channel, (-ADVICE_EVERY_S, None))
        same_kind = told is not None and told.kind is advice.kind
        if told == advice or (same_kind and self.at_s - told_s < ADVICE_EVERY_S):
            return
        self._advised[advice.channel] = (self.at_s, advice)
        self.outbox.append(
            Advice(
                self.at_s,
                advice.channel,
                advice.kind.value,
                advice.text,
                advice.show_volts,
                advice.rest_volts,
            )
        )

    def drop_advice(self, channel: str) -> None:
        """The trimmer is no longer in hand: nothing is advised."""
        self.advice.pop(channel, None)
        self._advised.pop(channel, None)

    def request(self, action: Action, subject: str, within_s: float = 10.0, **parameters: float | str) -> str:
        """Ask the conductor for something; returns the request's id."""
        self._requests += 1
        name = f"request {self._requests}"
        self.outbox.append(Request(self.at_s, name, action, subject, dict(parameters), self.at_s + within_s))
        return name
