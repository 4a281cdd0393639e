"""What is remembered from one guided job to the next: the amplifier, the procedure, and the leads.

Not here: who a meter is and what its figures are (`meter_memory`).
"""

from __future__ import annotations

from collections.abc import Sequence

from app.bench.live_bench import LiveBench
from app.settings import RememberedMeter, Settings


def in_lead_order(meters: Sequence[RememberedMeter], channels: Sequence[str]) -> list[RememberedMeter]:
    """As many meters as there are channels, each in the place of the channel that it read last.

    `meters` are most recent first; of two that read the same channel the older takes a free place. With
    fewer meters than channels the first channels are read first, whatever was read last.
    """
    chosen = list(meters[: len(channels)])
    if len(chosen) < len(channels):
        return chosen
    placed: dict[str, RememberedMeter] = {}
    for meter in chosen:
        if meter.channel in channels:
            placed.setdefault(meter.channel, meter)
    others = iter([meter for meter in chosen if meter not in placed.values()])
    return [placed[channel] if channel in placed else next(others) for channel in channels]


def remembering_leads(settings: Settings, bench: LiveBench) -> Settings:
    """The settings with the channel that each meter of one input read last on this bench."""
    addresses = bench.meter_addresses()
    read = {
        addresses[lead.meter]: lead.channel
        for lead in bench.snapshot().leads
        if lead.channel is not None and lead.meter in addresses
    }
    meters = tuple(
        one.model_copy(update={"channel": read[one.address]})
        if one.address in read and "=" not in one.channel and "," not in one.channel
        else one
        for one in settings.meters
    )
    return settings.model_copy(update={"meters": meters})
