"""Which channel a meter input read at a past moment.

A reading arrives after it was taken, so the leads that count are those of its interval, not those of now.
"""

from __future__ import annotations

from dataclasses import dataclass

from procedures.events import LeadMoved
from procedures.leads import Leads


@dataclass(frozen=True, slots=True)
class Read:
    """What an interval was spent on: one channel, or (`straddles`) the move to it; None: nothing."""

    channel: str | None
    straddles: bool = False


class LeadsInTime:
    """The present leads, and for each input what it read before its newest move."""

    def __init__(self, leads: Leads) -> None:
        self.now = leads
        self._before: dict[tuple[str, str], tuple[float, str | None]] = {}

    def move(self, moved: LeadMoved) -> tuple[str, ...]:
        """Note that an input reads another channel from now on; the channels that this interrupts."""
        old = self.now
        self.now = old.moved(moved.meter, moved.input, moved.channel)
        for lead in old:
            # Moving one lead to a channel takes that channel away from any other lead.
            if self.now.channel_of(lead.meter, lead.input) != lead.channel:
                self._before[lead.meter, lead.input] = (moved.at_s, lead.channel)
        touched = (old.channel_of(moved.meter, moved.input), moved.channel)
        return tuple(channel for channel in touched if channel is not None)

    def between(self, meter: str, meter_input: str, start_s: float, end_s: float) -> Read:
        """The channel that an input read from `start_s` to `end_s`, session seconds."""
        now = self.now.channel_of(meter, meter_input)
        moved_s, before = self._before.get((meter, meter_input), (float("-inf"), None))
        if end_s <= moved_s:
            return Read(before)
        if start_s < moved_s:
            return Read(now, straddles=True)
        return Read(now)
