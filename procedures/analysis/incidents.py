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
from procedures.events import Alarm, AlarmCleared, Disturbance

Finding = Alarm | AlarmCleared | Disturbance

_BREAKS_COURSE = frozenset({Kind.STEP, Kind.JOINT, Kind.MAINS, Kind.SLIP, Kind.LEAD_OFF, Kind.SUPPLY_LOST})


class Incidents:
    """Alarms and disturbances of all channels of a bench."""

    def __init__(self, setups: Sequence[ChannelSetup], bench: Bench) -> None:
        self._bench = bench
        self._bias = tuple(setup.channel for setup in setups if is_bias(setup))
        self._alarms = AlarmBoard(setups)
        self._disturbances = BenchDisturbances(setups, self._bias)
        self._first_s: float | None = None
        self._stopped: dict[str, str] = {}

    def reading(self, at_s: float, channel: str, value: float) -> tuple[Finding, ...]:
        """Take a reading of a channel."""
        if self._first_s is None:
            self._first_s = at_s
        told = self._disturbances.reading(at_s, channel, value)
        self._mind(told)
        return (*told, *self._alarms.reading(at_s, channel, value))

    def block(
        self, channel: str, block: Block, display_step: float, forecast: Forecast | None
    ) -> tuple[Finding, ...]:
        """Take a block of a channel, with the forecast made from it."""
        driven = self._disturbances.driven(channel, block)
        found: list[Finding] = []
        if driven is not None and not self._bench.driven:
            found += self._alarms.drive(block.end_s, driven, seen=True)
        if not self._alarms.driven:
            told = self._disturbances.block(channel, block, display_step)
            self._mind(told)
            found += told
        return (
            *found,
            *self._alarms.of(channel).block(
                block.at_s,
                block.level,
                since_on_s=block.at_s - self._on_s(),
                driven=self._alarms.driven,
                step=display_step,
                forecast=forecast,
            ),
        )

    def gap(self, at_s: float, channel: str, reason: GapReason, detail: str) -> tuple[Finding, ...]:
        """Take note of a missing value."""
        found: tuple[Finding, ...] = ()
        if reason is GapReason.OVERLOAD:
            told = self._disturbances.overload(at_s, channel)
            self._mind(told)
            found = told
        return (*found, *self._alarms.gap(at_s, channel, reason, detail))

    def trimmed(self, at_s: float, channel: str) -> None:
        """The channel's trimmer was, or is being, turned."""
        self._disturbances.trimmed(at_s, channel)
        self._alarms.of(channel).trimmed(at_s)

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
        self._first_s = None
        return self._alarms.supply(at_s, powered, reason)

    def moved_to(self, at_s: float, channel: str) -> tuple[Finding, ...]:
        """A lead was moved to this channel."""
        self._disturbances.forget(channel)
        return self._alarms.of(channel).begin_anew(at_s, "the lead was moved here")

    def moved_from(self, at_s: float, channel: str) -> tuple[Finding, ...]:
        """The lead that read this channel was taken elsewhere."""
        return self._alarms.of(channel).unpolled(at_s)

    def acknowledge(self, alarm_id: str) -> None:
        """A person has seen an alarm."""
        self._alarms.acknowledge(alarm_id)

    def tick(self, at_s: float) -> tuple[Finding, ...]:
        """Time passed."""
        return self._alarms.tick(at_s)

    def next_deadline(self) -> float | None:
        """When a silent channel would have to be reported."""
        return self._alarms.next_deadline()

    @property
    def overloaded(self) -> tuple[str, ...]:
        """Channels whose input is out of range: a higher range is worth trying."""
        return self._alarms.overloaded

    def stopped(self, channel: str) -> str:
        """Why nobody may be guided on this channel now; empty when guidance may go on."""
        return self._stopped.get(channel) or self._stopped.get("", "")

    # --- inside -------------------------------------------------------------------------------------

    def _on_s(self) -> float:
        if self._bench.power_on_s is not None:
            return self._bench.power_on_s
        return self._first_s or 0.0

    def _mind(self, told: Sequence[Disturbance]) -> None:
        for one in told:
            if one.kind in STOPS_GUIDANCE:
                self._stopped[one.channel or ""] = one.text
            if one.kind in _BREAKS_COURSE:
                for channel in self._bias if one.channel is None else (one.channel,):
                    self._alarms.of(channel).interrupted()
