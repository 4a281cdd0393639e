"""Whether a source may be clipped to a channel: an earthed input must not touch live test points.

The low terminal of an earthed input is joined to protective earth. Across emitter resistors it would join the
output of the amplifier to earth through the test lead. Whether an input is isolated from earth is declared by
a person, once an instrument; what nobody has declared counts as earthed. Not here: who asks, and where the
answer is kept.

Only channels read in volts are judged. A sensor on a heatsink touches the sink and not the circuit, which is
for the person to see to: sinks may be live.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from drivers.reading import Unit
from procedures.analysis.channel import ChannelSetup

BY_HAND = "typed"
"""The name under which the display that a person reads off is declared."""


class EarthedInput(ValueError):
    """A bench would join live test points to earth; the text says which and why, in one sentence."""


@dataclass(frozen=True, slots=True)
class Earthing:
    """What was declared about earth on this bench.

    `earthed` names the sources whose inputs are earthed, or of which nobody has said; `ground_referenced` is
    true when a person has said that the amplifier's outputs are measured against ground (a bridged output
    is not).
    """

    earthed: tuple[str, ...] = ()
    ground_referenced: bool = False

    def refusal(self, source: str, channel: ChannelSetup) -> str:
        """Why this source may not read the channel, in one sentence; empty when it may."""
        if source not in self.earthed or channel.unit is not Unit.VOLT:
            return ""
        who = "The display that is read off" if source == BY_HAND else f"The input of {_named(source)}"
        earthed = f"{who} counts as earthed (declared so, or nobody has said that it is isolated)"
        if is_offset(channel.channel):
            if self.ground_referenced:
                return ""
            return (
                f"{earthed}, and nobody has said that the output behind {channel.channel} is referenced to "
                "ground: a bridged output is not, and an earthed lead would short one half of it. Declare "
                "the one or the other, or use a meter with an isolated input."
            )
        return (
            f"{earthed}, and {channel.channel} is read across live test points: an earthed lead there joins "
            "the output stage to earth. Use a meter with an isolated input, or declare this one isolated if "
            "its manual says so."
        )

    def allowed(self, source: str, channel: ChannelSetup) -> bool:
        """Whether this source may read the channel."""
        return not self.refusal(source, channel)


def is_offset(channel: str) -> bool:
    """Whether a channel is an output's offset, which is read against ground."""
    return channel.split()[-1:] == ["offset"]


def first_refusal(
    earthing: Earthing, reads: Collection[tuple[str, str]], channels: Collection[ChannelSetup]
) -> str:
    """The first reason why a bench may not be wired like this; empty when it may.

    Args:
        earthing: what was declared.
        reads: pairs of source and channel.
        channels: all channels of the bench.
    """
    known = {channel.channel: channel for channel in channels}
    refusals = (
        earthing.refusal(source, known[name])
        for source, name in reads
        if name in known  # a lead on a channel that nobody watches is no measurement
    )
    return next(filter(None, refusals), "")


def _named(source: str) -> str:
    """A source within a sentence: the meter, the left meter, meter 2."""
    return source if source[-1:].isdigit() else f"the {source}"
