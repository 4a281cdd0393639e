"""Whether a trimmer is worth turning now, and what the meter should show then.

The remaining drift is known from the forecast; in the z domain it adds to the trim, so that the reading to
set now is the target less the drift to come and less the extra heat that the move itself brings. Without a
z domain (other stages, unknown resistors) the same is done in volts with small moves. Not here: the guidance
of hands (`trim_hand`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from procedures.analysis.channel import ChannelSetup, Forecast
from procedures.analysis.z_domain import ZDomain

# Share of a move that follows later as heat, after the reading has been held for some seconds: little in a
# well compensated stage, more in an under-compensated one, negative in an over-compensated one (design study,
# section 4: step responses). What this unit shows replaces it, weighted by how well it is known.
_USUAL_LATER, _USUAL_LATER_SD = 0.03, 0.12
_LATER_RANGE = 0.4
_Z = 1.96
_SMALL_MOVE = 0.25  # of the target, where only a local slope is known
_FAR = 0.12
_LOW, _FIRST_TO = 0.3, 0.65  # below, no forecast means anything: bring it up cold first (common practice)
_SURE = 0.5
# Amplifiers are found between half and twice their target (common practice, no source): a forecast that
# says otherwise in the first minutes is believed by as much as it knows.
_FOUND_SD = 0.45


@dataclass(frozen=True, slots=True)
class Need:
    """How far a channel would rest from its target, as a fraction of the target (near it).

    `wanted` is positive when the current must rise. `show_volts` is what to set now, `rest_volts` where it
    would rest then (None: nobody knows), `rest_within` the 95 % interval of that; `sd` the standard deviation
    of the forecast in the same fraction, `sd_after` that of where it would rest after the move.
    """

    wanted: float
    sd: float
    show_volts: float
    rest_volts: float | None
    sd_after: float = 0.0
    rest_within: tuple[float, float] | None = None

    @property
    def sure(self) -> bool:
        """Whether the forecast knows enough for a move of this size."""
        return self.sd < _SURE * abs(self.wanted)

    @property
    def blind(self) -> bool:
        """Whether the channel is so low that it is brought up without a forecast."""
        return self.rest_volts is None

    @property
    def far(self) -> bool:
        """Whether the channel is so far off that a coarse move helps already."""
        return abs(self.wanted) > _FAR


class TrimAim:
    """What one channel needs; remembers how much of a move comes later."""

    def __init__(self, setup: ChannelSetup) -> None:
        if not setup.target_volts:
            raise ValueError(f"{setup.channel} has no target to trim to")
        self._target = setup.target_volts
        self._domain = ZDomain.of(setup)
        self._later, self._later_variance = _USUAL_LATER, _USUAL_LATER_SD**2
        self._before: tuple[float, float] | None = None  # resting place before the last move, and its sd
        self._moved = 0.0

    @property
    def exact(self) -> bool:
        """Whether trim and drift add exactly (z domain), or only for small moves."""
        return self._domain is not None

    def need(self, now: float, aim: Forecast) -> Need:
        """What the channel needs, from the present level and where it would rest."""
        if now < _LOW * abs(self._target):
            return Need(1.0, 0.0, _FIRST_TO * abs(self._target), None)
        rest, sd = self._rest(aim)
        known = 1.0 / (1.0 + (sd / (_FOUND_SD * self._unit)) ** 2)
        sd *= math.sqrt(known)
        wanted = (self._place(self._target) - rest) * known
        rest = self._place(self._target) - wanted
        move = wanted * (1.0 - self._later)
        if not self.exact:
            move = max(-_SMALL_MOVE * self._unit, min(_SMALL_MOVE * self._unit, move))
        show = self._level(self._place(now) + move)
        ends = self._level(rest + move / (1.0 - self._later))
        later = math.sqrt(self._later_variance) * abs(move) / (1.0 - self._later)
        after, unit = math.hypot(sd, later), self._unit
        place = self._place(ends)
        within = (self._level(place - _Z * after), self._level(place + _Z * after))
        return Need(wanted / unit, sd / unit, show, ends, after / unit, within)

    def moved(self, before: float, after: float, aim: Forecast | None) -> None:
        """A move was made, from one level to another, where the resting value had been `aim`."""
        self._moved = self._place(after) - self._place(before)
        self._before = self._rest(aim) if aim is not None else None

    def learn(self, aim: Forecast) -> None:
        """Take in where the channel would rest after the last move: how much of it comes later."""
        if self._before is None or abs(self._moved) < 0.02 * self._unit:
            return
        rest, sd = self._rest(aim)
        whole = rest - self._before[0]
        seen_sd = math.hypot(sd, self._before[1]) / abs(self._moved)
        self._before = None
        if whole * self._moved <= 0.0:
            return
        seen = min(max(1.0 - self._moved / whole, -_LATER_RANGE), _LATER_RANGE)
        gain = self._later_variance / (self._later_variance + seen_sd**2)
        self._later += gain * (seen - self._later)
        self._later_variance *= 1.0 - gain

    def _rest(self, aim: Forecast) -> tuple[float, float]:
        """Resting place of a forecast and its standard deviation, in the domain."""
        spread = self._place(aim.high_volts) - self._place(max(aim.low_volts, 1e-9))
        return self._place(aim.volts), abs(spread) / (2.0 * _Z)

    @property
    def _unit(self) -> float:
        """One whole target in the domain, by the slope at the target."""
        if self._domain is None:
            return abs(self._target)
        return self._domain.slope(abs(self._target)) * abs(self._target)

    def _place(self, volts: float) -> float:
        return volts if self._domain is None else self._domain.z(math.copysign(volts, 1.0))

    def _level(self, place: float) -> float:
        return place if self._domain is None else self._domain.volts(place)
