"""Which meter input reads which channel. Leads can be moved during a run."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Lead:
    """One input of one meter, and the channel its probes touch (None: nothing)."""

    meter: str
    input: str
    channel: str | None


class Leads:
    """The present wiring between meter inputs and channels; a value, changed by making another."""

    def __init__(self, leads: tuple[Lead, ...] = ()) -> None:
        seen: set[tuple[str, str]] = set()
        for lead in leads:
            if (lead.meter, lead.input) in seen:
                raise ValueError(f"meter {lead.meter} input {lead.input} is listed twice")
            seen.add((lead.meter, lead.input))
        self._by_input: Mapping[tuple[str, str], Lead] = {(x.meter, x.input): x for x in leads}

    def __iter__(self) -> Iterator[Lead]:
        return iter(self._by_input.values())

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Leads) and dict(self._by_input) == dict(other._by_input)

    def channel_of(self, meter: str, meter_input: str) -> str | None:
        """The channel that an input reads now, or None."""
        lead = self._by_input.get((meter, meter_input))
        return lead.channel if lead else None

    def lead_of(self, channel: str) -> Lead | None:
        """The lead that reads a channel now, or None."""
        return next((lead for lead in self if lead.channel == channel), None)

    def moved(self, meter: str, meter_input: str, channel: str | None) -> Leads:
        """The leads after one of them was moved. A channel is read by one lead: the newest."""
        kept = tuple(
            lead if lead.channel != channel or channel is None else Lead(lead.meter, lead.input, None)
            for lead in self
            if (lead.meter, lead.input) != (meter, meter_input)
        )
        return Leads((*kept, Lead(meter, meter_input, channel)))
