"""What happens on a bench besides settling: alarms and disturbances, and what each means for the other.

A disturbance that breaks the course also breaks the rate rules of the alarms; a signal seen on an output
suspends bias alarms; a slip stops guidance. Not here: verdicts and forecasts (`monitor`).
"""

from __future__ import annotations

from collections.abc import Sequence

from drivers.reading import GapReason
from procedures.analysis.alarms import AlarmBoard, is_bias
from procedures.analysis.bench import Bench
from procedures.analysis.blocks import Block
from procedures.analysis.channel import ChannelSetup, Forecast
from procedures.analysis.disturbance import STOPS_GUIDANCE, BenchDisturbances, Kind
from procedures.events import Alarm, AlarmCleared, Disturbance, LeadMoved

Finding = Alarm | AlarmCleared | Disturbance

_BREAKS_COURSE = frozenset({Kind.STEP, Kind.JOINT, Kind.MAINS, Kind.SLIP, Kind.LEAD_OFF, Kind.SUPPLY_LOST})


class Incidents:
    """Alarms and disturbances of all channels of a bench. `bias` are the channels with a bias target."""

    def __init__(self, setups: Sequence[ChannelSetup], bench: Bench) -> None:
        self._bench = bench
        self.bias = tuple(setup.channel for setup in setups if is_bias(setup))
        self._alarms = AlarmBoard(setups)
        self._disturbances = BenchDisturbances(setups, self.bias)
        self._known = frozenset(setup.channel for setup in setups)
        self._leads: dict[tuple[str, str], str | None] = {}
        self._stopped: dict[str, str] = {}

    def reading(self, at_s: float, channel: str, value: float) -> tuple[Finding, ...]:
        """Take a reading of a channel."""
        told: tuple[Disturbance, ...] = ()
        if self._alarms.powered:
            told = self._disturbances.reading(at_s, channel, value)
            self._mind(told)
        return (*told, *self._alarms.reading(at_s, channel, value))

    def block(
        self,
        channel: str,
        block: Block,
        *,
        since_on_s: float,
        step: float,
        forecast: Forecast | None,
    ) -> tuple[Finding, ...]:
        """Take a block of a channel, with the display's step and the forecast made from it."""
        found: list[Finding] = []
        driven = self._disturbances.driven(channel, block)
        if driven is not None and not self._bench.driven:
            found += self._alarms.drive(block.end_s, driven, seen=True)
        if not self._alarms.unjudged:
            told = self._disturbances.block(channel, block, step)
            self._mind(told)
            found += told
        return (
            *found,
            *self._alarms.of(channel).block(
                block.at_s,
                block.level,
                since_on_s=since_on_s,
                unjudged=self._alarms.unjudged,
                step=step,
                forecast=forecast,
            ),
        )

    def gap(self, at_s: float, channel: str, reason: GapReason, detail: str) -> tuple[Finding, ...]:
        """Take note of a missing value."""
        found: tuple[Finding, ...] = ()
        if reason is GapReason.MOVED:
            return self._left(at_s, channel)
        if reason is GapReason.OVERLOAD and self._alarms.powered:
            told = self._disturbances.overload(at_s, channel)
            self._mind(told)
            found = told
        return (*found, *self._alarms.gap(at_s, channel, reason, detail))

    def hands_on(self, at_s: float, channel: str) -> None:
        """Somebody works at a channel's trimmer: a reading that falls to zero may be a slip."""
        self._disturbances.hands_on(at_s)
        self._alarms.of(channel).within_reach(at_s)

    def trimmed(self, at_s: float, channel: str) -> None:
        """The channel's trimmer was, or is being, turned."""
        self._disturbances.trimmed(at_s, channel)
        self._alarms.of(channel).trimmed(at_s)

    def turning(self, at_s: float, channel: str) -> None:
        """The channel's trimmer is still in hand."""
        self._disturbances.turning(at_s, channel)

    def lid(self, at_s: float, fitted: bool) -> tuple[Finding, ...]:
        """The lid was moved, as declared."""
        return self._disturbances.lid(at_s, fitted)

    def drive(self, at_s: float, driven: bool) -> tuple[Finding, ...]:
        """A signal is applied, or no longer is, as declared."""
        self._disturbances.forget()
        return self._alarms.drive(at_s, driven)

    def supply(self, at_s: float, powered: bool, reason: str) -> tuple[Finding, ...]:
        """The supply changed, or nobody watched for a while: what was seen before does not continue."""
        self._disturbances.forget()
        self._stopped.clear()
        return self._alarms.supply(at_s, powered, reason)

    def moved(self, fact: LeadMoved) -> tuple[Finding, ...]:
        """A lead was moved: nothing is watched where it was, and where it is all begins anew."""
        place = (fact.meter, fact.input)
        left = self._leads.get(place)
        self._leads[place] = fact.channel
        found: list[Finding] = []
        if left is not None and left != fact.channel:
            found += self._left(fact.at_s, left)
        if fact.channel is not None and fact.channel in self._known:
            self._disturbances.forget(fact.channel)
            found += self._alarms.of(fact.channel).begin_anew(fact.at_s, "the lead was moved here")
        else:
            self._leads[place] = None
        return tuple(found)

    def acknowledge(self, alarm_id: str) -> None:
        """A person has seen an alarm."""
        self._alarms.acknowledge(alarm_id)

    def tick(self, at_s: float) -> tuple[Finding, ...]:
        """Time passed."""
        return self._alarms.tick(at_s)

    def next_deadline(self) -> float | None:
        """When a silent channel would have to be reported."""
        return self._alarms.next_deadline()

    def stopped(self, channel: str) -> str:
        """Why nobody may be guided on this channel now; empty when guidance may go on."""
        return self._stopped.get(channel) or self._stopped.get("", "")

    # --- inside -------------------------------------------------------------------------------------

    def _left(self, at_s: float, channel: str) -> tuple[Finding, ...]:
        """The lead was taken off a channel: nothing that was read there is judged any more."""
        found = self._alarms.of(channel).unpolled(at_s)
        if self._disturbances.lifted(channel) and not self._bench.driven:
            found += self._alarms.drive(at_s, False, seen=True, lifted=True)
        return found

    def _mind(self, told: Sequence[Disturbance]) -> None:
        for one in told:
            if one.kind in STOPS_GUIDANCE:
                self._stopped[one.channel or ""] = one.text
            if one.kind in _BREAKS_COURSE:
                for channel in self.bias if one.channel is None else (one.channel,):
                    self._alarms.of(channel).interrupted()
