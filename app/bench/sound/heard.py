"""What a sound says, as frozen facts. How each of them sounds is in `synthesis`.

Silence says "not guiding", never "all is well".
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from procedures.events import Tier

FARTHEST = 40.0  # half-widths; farther away sounds the same
_STEPS = 24  # distances outside that can be told apart
_INSIDE_STEP = 0.25


@dataclass(frozen=True, slots=True)
class Silent:
    """Nothing is said."""


@dataclass(frozen=True, slots=True)
class Guiding:
    """Where the reading stands while a trimmer is turned.

    `offset` counts half-widths of what is wanted: -1 to 1 is inside, below it reads low, above it high.
    """

    offset: float
    channel: str = ""

    @classmethod
    def at(cls, reading: float, wanted: float, half: float, channel: str = "") -> Guiding:
        """The sound of a reading, `half` being how far from `wanted` is still near enough.

        Distances are rounded to what an ear can tell apart, so that noise does not make the sound restless.
        """
        offset = (reading - wanted) / half
        size = abs(offset)
        if size <= 1.0:
            return cls(round(offset / _INSIDE_STEP) * _INSIDE_STEP + 0.0, channel)
        step = 1 + math.floor(_STEPS * math.log(min(size, FARTHEST)) / math.log(FARTHEST))
        return cls(math.copysign(FARTHEST ** (min(step, _STEPS) / _STEPS), offset), channel)

    @property
    def nearness(self) -> float:
        """1 at the edge of what is wanted, 0 as far away as can be told."""
        return 1.0 - math.log(min(max(abs(self.offset), 1.0), FARTHEST)) / math.log(FARTHEST)


@dataclass(frozen=True, slots=True)
class GuidanceOver:
    """Guiding has ended; what is silent from now on is only silent."""


@dataclass(frozen=True, slots=True)
class Settled:
    """A channel has settled inside its window."""


@dataclass(frozen=True, slots=True)
class NeedsYou:
    """The work waits for a person."""


@dataclass(frozen=True, slots=True)
class Alarmed:
    """An alarm that nobody has acknowledged."""

    tier: Tier


Heard = Silent | Guiding | GuidanceOver | Settled | NeedsYou | Alarmed

# These go on until they are answered; the other sounds are said once.
LASTING_ALARMS = frozenset({Tier.ACT, Tier.OFF, Tier.LEAD})


def lasts(heard: Heard) -> bool:
    """Whether a sound goes on until something else is said."""
    match heard:
        case Silent() | Guiding():
            return True
        case Alarmed():
            return heard.tier in LASTING_ALARMS
        case _:
            return False
