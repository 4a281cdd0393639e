"""One amplifier on the simulated bench, and the hands that work on it.

Here: `SimulatedBench`, whose unit lives on the injected clock; the technician's actions as methods; what the
probes of each meter touch; read-backs of the truth for tests and for the panel beside the bench. Not here:
meters (`multimeter`, `instrument`) and wires (`hislip_server`, `tcp_server`, `in_process`).

Any thread may call anything: the unit is brought up to the clock under one lock, then looked at or acted on.
With the same seed and the same actions at the same bench times, the same values come.
"""

from __future__ import annotations

import math
import threading
from collections import deque
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from drivers.clock import Clock
from drivers.simulated.amplifiers import STEP_S, Amplifiers
from drivers.simulated.parameters import Floats
from drivers.simulated.resting import Pair, resting_volts
from drivers.simulated.trimmer import Trimmer
from drivers.simulated.units import SimulatedUnit

CHANNELS: Final = ("left", "right")
TEST_POINTS: Final = ("left bias", "right bias", "left offset", "right offset")

_HISTORY_STEPS: Final = 1200  # two minutes: longer than any aperture
_LAMP_RESPONSE_S: Final = 0.3
# Tungsten: the current of a lamp grows as about the 0.55th power of its voltage (common practice, no source).
_LAMP_EXPONENT: Final = 1.0 / 0.55


class Mains(StrEnum):
    """How the amplifier is supplied."""

    OFF = "off"
    LAMP = "series lamp"
    REDUCED = "reduced mains"
    FULL = "full mains"


class Slip(StrEnum):
    """What a slipped probe did."""

    NOTHING = "nothing: there was no power"
    DAMAGED = "an output device is damaged"
    FUSE = "the rail fuse has opened"


@dataclass(frozen=True, slots=True)
class Truth:
    """The state of the unit as nobody at a real bench could know it. Volts, degC, watts; left, right.

    `knobs` are positions from stop to stop, 0 to 1.
    """

    at_s: float
    bias_volts: tuple[float, float]
    offset_volts: tuple[float, float]
    sink_c: float
    room_c: float
    device_watts: tuple[float, float]
    rail: float
    mains: Mains
    lid_on: bool
    wiper: tuple[float, float]
    knobs: tuple[float, float]
    driven: bool
    dead: tuple[bool, bool]
    fuse_blown: bool


class SimulatedBench:
    """A unit, the mains, two screwdrivers, a lid and probes. The unit starts cold, switched off, lid on.

    Args:
        unit: the amplifier.
        clock: bench time; the unit's life begins at its present moment.
        seed: decides every chance event of the unit.
        lamp_watts: rating of the series lamp.
        reduced: fraction of nominal that `Mains.REDUCED` supplies.
    """

    def __init__(
        self,
        unit: SimulatedUnit,
        clock: Clock,
        seed: int = 0,
        *,
        lamp_watts: float = 60.0,
        reduced: float = 0.7,
    ) -> None:
        self.unit = unit
        self.seed = seed
        self._clock = clock
        self._lock = threading.RLock()
        self._origin_s = clock.now()
        self._model = Amplifiers(unit.parameters, seed=[seed, 0], powered=False)
        self._hands = np.random.default_rng([seed, 1])
        self._steps = 0
        self._history: deque[tuple[float, Floats]] = deque(maxlen=_HISTORY_STEPS)
        # Which channel a trimmer sets, and in which channel a test point lies, by what each is called after.
        self._sets = (1, 0) if unit.trimmers_swapped else (0, 1)
        self._lies_in = (1, 0) if unit.around.swapped_test_points else (0, 1)
        wipers = unit.parameters.wiper[0]
        self._trimmers = tuple(
            Trimmer(unit.knobs[own], float(wipers[own]), self._hands.uniform(-1.0, 1.0)) for own in self._sets
        )
        self._mains = Mains.OFF
        self._lamp_watts = lamp_watts
        self._reduced = reduced
        self._driven = False
        self.drive_peak_volts: float = 0.0  # at both outputs, of what hands play
        self._probes: dict[str, str | None] = {}
        self._lifted_until_s: dict[str, float] = {}

    @property
    def clock(self) -> Clock:
        """The clock the bench lives on."""
        return self._clock

    # -- the technician -----------------------------------------------------------------------------------

    def switch_mains(self, mains: Mains) -> None:
        """Supply the amplifier in another way, or not at all."""
        with self._lock:
            self._catch_up()
            self._mains = mains
            fraction = {Mains.OFF: 0.0, Mains.FULL: 1.0, Mains.REDUCED: self._reduced}.get(mains)
            self._model.set_mains(self._lamp_target() if fraction is None else fraction)

    def turnable_degrees(self, channel: str) -> float:
        """From stop to stop of a channel's trimmer."""
        return self._trimmers[_index(channel)].turnable_degrees

    def turn_trimmer(self, channel: str, degrees: float) -> float:
        """Turn a channel's trimmer clockwise (above zero) or back; return by how much it could be turned."""
        index = _index(channel)
        if not math.isfinite(degrees):
            raise ValueError(f"the trimmer cannot be turned by {degrees} degrees")
        with self._lock:
            self._catch_up()
            trimmer = self._trimmers[index]
            turned = trimmer.turn(degrees)
            self._model.set_wiper(trimmer.wiper, (0, self._sets[index]))
            return turned

    def move_lid(self, on: bool) -> None:
        """Put the lid on, or take it off."""
        with self._lock:
            self._catch_up()
            self._model.set_lid(on)

    def move_probes(self, meter: str, point: str | None) -> None:
        """Take a meter's probes to a test point (one of `TEST_POINTS`), or to nothing.

        `left bias, pair 3` is the same across the emitter resistors of the third output pair.
        """
        if point is not None and point.partition(", pair ")[0] not in TEST_POINTS:
            raise ValueError(f"there is no test point {point!r}; there are {', '.join(TEST_POINTS)}")
        with self._lock:
            self._catch_up()
            self._probes[meter] = point

    def lift_probe(self, meter: str, duration_s: float = 1.5) -> None:
        """Let a meter's probe lose contact for a moment, without harm."""
        with self._lock:
            self._lifted_until_s[meter] = self._clock.now() + duration_s

    def slip_probe(self, channel: str) -> Slip:
        """Let a probe slip on a channel's output device: a moment's short between its legs.

        With power on, chance destroys the device (its channel has no current any more) or opens the fuse
        (neither channel has).
        """
        index = self._lies_in[_index(channel)]
        with self._lock:
            self._catch_up()
            if self._model.rail[0] < 0.05:
                return Slip.NOTHING
            if self._hands.random() < 0.6:
                self._model.damage((0, index))
                return Slip.DAMAGED
            self._model.blow_fuse()
            return Slip.FUSE

    def apply_drive(self, peak_volts: float, load_ohm: float = 8.0) -> None:
        """Put a sine of this peak on both outputs into a load each; 0 takes it away."""
        if not (peak_volts >= 0.0 and load_ohm > 0.0):
            raise ValueError(f"a drive of {peak_volts} V into {load_ohm} ohm cannot be")
        with self._lock:
            self._catch_up()
            ceiling = float(self.unit.parameters.rail_volts[0])
            self._driven = peak_volts > 0.0
            self.drive_peak_volts = min(peak_volts, ceiling)
            self._model.set_drive(min(peak_volts, ceiling) / load_ohm, load_ohm)

    # -- what can be seen ---------------------------------------------------------------------------------

    def probes_on(self, meter: str) -> str | None:
        """The test point that a meter's probes touch now, or None."""
        with self._lock:
            lifted = self._clock.now() < self._lifted_until_s.get(meter, -math.inf)
            return None if lifted else self._probes.get(meter)

    def volts(self, point: str, start_s: float, end_s: float) -> float:
        """Mean DC voltage at a test point over an interval that has passed, free of meter noise.

        An empty interval, or one that holds no step, gives the present voltage.
        """
        printed, _, pair = point.partition(", pair ")
        channel, _, quantity = printed.partition(" ")
        index = _index(channel)
        around = self.unit.around
        if quantity == "bias":
            index = self._lies_in[index]
        share = around.share(CHANNELS[index], int(pair) - 1) if pair else 1.0
        with self._lock:
            self._catch_up()
            if quantity == "offset":
                return float(self._model.offset_volts[0, index])
            return share * self._mean_bias_volts(index, start_s, end_s)

    def rests(self) -> tuple[Pair, Pair]:
        """What would be read at the points called left and right bias once all is at rest, lid on.

        With the trimmers as they were found, and as they stand now. None: it does not come to rest, or the
        channel is damaged.
        """
        with self._lock:
            self._catch_up()
            now = self._model.wiper.copy()
            broken = [bool(dead or self._model.fuse_blown[0]) for dead in self._model.dead[0]]
        found, stands = resting_volts(self.unit.parameters, now)
        one, other = self._lies_in
        return (found[one], found[other]), (
            None if broken[one] else stands[one],
            None if broken[other] else stands[other],
        )

    def truth(self) -> Truth:
        """Everything about the unit now."""
        with self._lock:
            self._catch_up()
            model = self._model
            bias, offset, watts = model.reading_volts[0], model.offset_volts[0], model.device_watts[0]
            left, right = self._trimmers
            return Truth(
                at_s=self._clock.now(),
                bias_volts=(float(bias[0]), float(bias[1])),
                offset_volts=(float(offset[0]), float(offset[1])),
                sink_c=float(model.sink_c[0]),
                room_c=float(model.room_c[0]),
                device_watts=(float(watts[0]), float(watts[1])),
                rail=float(model.rail[0]),
                mains=self._mains,
                lid_on=bool(model.lid_on[0]),
                wiper=(float(model.wiper[0, 0]), float(model.wiper[0, 1])),
                knobs=(left.knob, right.knob),
                driven=self._driven,
                dead=(bool(model.dead[0, 0]), bool(model.dead[0, 1])),
                fuse_blown=bool(model.fuse_blown[0]),
            )

    # -- time ---------------------------------------------------------------------------------------------

    def _catch_up(self) -> None:
        """Bring the unit up to the clock, in whole steps."""
        due = math.floor((self._clock.now() - self._origin_s) / STEP_S + 1e-9)
        while self._steps < due:
            self._history.append((self._origin_s + self._steps * STEP_S, self._model.reading_volts))
            if self._mains is Mains.LAMP:
                self._burn_lamp()
            self._model.step()
            self._steps += 1

    def _mean_bias_volts(self, index: int, start_s: float, end_s: float) -> float:
        values = []
        for at_s, volts in reversed(self._history):
            if at_s < start_s:
                break
            if at_s < end_s:
                values.append(float(volts[0, index]))
        if not values:
            return float(self._model.reading_volts[0, index])
        return math.fsum(values) / len(values)

    def _burn_lamp(self) -> None:
        fraction = float(self._model.mains[0])
        closer = -math.expm1(-STEP_S / _LAMP_RESPONSE_S)
        self._model.set_mains(fraction + (self._lamp_target() - fraction) * closer)

    def _lamp_target(self) -> float:
        """Fraction of the mains that a series lamp leaves to the amplifier at its present consumption."""
        p = self.unit.parameters
        supply = 2.0 * float(p.rail_volts[0]) * float(self._model.rail_amperes[0])
        rest = float(p.box_heat_watts[0]) + 2.0 * float(p.driver_watts.sum())
        fraction = max(float(self._model.mains[0]), 0.05)
        # What the amplifier draws, over what the lamp is made for; the lamp takes the rest of the mains.
        current = min((supply * fraction + rest * fraction**2) / (fraction * self._lamp_watts), 1.0)
        return max(1.0 - math.pow(current, _LAMP_EXPONENT), 0.05)


def _index(channel: str) -> int:
    try:
        return CHANNELS.index(channel)
    except ValueError:
        raise ValueError(f"there is no channel {channel!r}; there are {' and '.join(CHANNELS)}") from None
