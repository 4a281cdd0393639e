"""Which range a channel is read on, and asking for a higher one when it overloads.

Bias is read on a fixed range, without the meter's own hunting. An overload is first answered by the next
range up, so that the alarms can judge a value; once the reading is well inside the lower range again, that
one is asked for. A range that was refused is asked for again when the meter was reached anew or another lead
reads the channel. The run only asks: the conductor carries out or refuses.
"""

from __future__ import annotations

from dataclasses import dataclass

from drivers.reading import GapReason, MeterState, Unit
from procedures.events import (
    Action,
    ChannelGap,
    ChannelReading,
    Input,
    LeadMoved,
    MeterChanged,
    RequestClosed,
    SegmentOpened,
)
from procedures.steps.sitting import Sitting

RANGES_VOLTS = (0.1, 1.0, 10.0, 100.0)
_ROOM = 3.0  # a target has to fit this many times: what is found high must still be read
_FITS = 0.5  # of the lower range, before it is asked for again
_FITS_FOR_S = 30.0
_REACHED_ANEW = (MeterState.WAITING, MeterState.CONNECTING, MeterState.IDENTIFYING)
_MOST_REFUSALS = 3  # by one that is lost each time it is asked


def range_for(target_volts: float | None) -> float:
    """The range on which a channel is read to begin with, in volts; the lowest without a target."""
    needed = _ROOM * (target_volts or 0.0)
    return next((volts for volts in RANGES_VOLTS if volts >= needed), RANGES_VOLTS[-1])


@dataclass
class _Channel:
    """What is asked for, and since when the reading would fit the next lower range."""

    range_volts: float
    base_volts: float
    asked: str = ""
    asked_volts: float = 0.0
    refused: bool = False
    refusals: int = 0
    fits_since_s: float | None = None


class Ranging:
    """Follows overloads of every channel that a meter reads in volts."""

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting
        self._channels: dict[str, _Channel] = {}
        for name, setup in sitting.channels.items():
            if setup.unit is Unit.VOLT and not setup.typed:
                volts = range_for(setup.target_volts or setup.high_volts)
                self._channels[name] = _Channel(volts, volts)

    def feed(self, fact: Input) -> None:
        """Take a fact; ask where a range does not fit."""
        if isinstance(fact, RequestClosed):
            self._closed(fact)
        elif isinstance(fact, ChannelGap):
            self._gap(fact)
        elif isinstance(fact, ChannelReading):
            self._reading(fact)
        elif isinstance(fact, MeterChanged | LeadMoved | SegmentOpened):
            self._anew(fact)

    def _anew(self, fact: MeterChanged | LeadMoved | SegmentOpened) -> None:
        """A meter was reached anew, or another one reads here: what was refused before may be done now."""
        if isinstance(fact, MeterChanged) and fact.state not in _REACHED_ANEW:
            return
        for name, channel in self._channels.items():
            lead = self._sitting.leads.lead_of(name)
            if isinstance(fact, SegmentOpened) or (lead is not None and lead.meter == fact.meter):
                channel.refusals = channel.refusals if isinstance(fact, MeterChanged) else 0
                channel.refused = channel.refused and channel.refusals >= _MOST_REFUSALS

    def _closed(self, fact: RequestClosed) -> None:
        for channel in self._channels.values():
            if channel.asked == fact.request:
                channel.asked = ""
                channel.refused = not fact.done
                channel.refusals = 0 if fact.done else channel.refusals + 1
                channel.range_volts = channel.asked_volts if fact.done else channel.range_volts

    def _gap(self, fact: ChannelGap) -> None:
        channel = self._channels.get(fact.channel)
        if channel is None or fact.reason is not GapReason.OVERLOAD or channel.asked or channel.refused:
            return
        channel.fits_since_s = None
        higher = next((volts for volts in RANGES_VOLTS if volts > channel.range_volts), None)
        if higher is not None:
            self._ask(fact.channel, channel, higher)

    def _reading(self, fact: ChannelReading) -> None:
        channel = self._channels.get(fact.channel)
        if channel is None or channel.range_volts <= channel.base_volts or channel.asked or channel.refused:
            return
        lower = max(volts for volts in RANGES_VOLTS if volts < channel.range_volts)
        if abs(fact.value) > _FITS * lower:
            channel.fits_since_s = None
        elif channel.fits_since_s is None:
            channel.fits_since_s = fact.at_s
        elif fact.at_s - channel.fits_since_s >= _FITS_FOR_S:
            channel.fits_since_s = None
            self._ask(fact.channel, channel, lower)

    def _ask(self, name: str, channel: _Channel, range_volts: float) -> None:
        channel.asked_volts = range_volts
        channel.asked = self._sitting.request(Action.RANGE, name, range_volts=range_volts)
