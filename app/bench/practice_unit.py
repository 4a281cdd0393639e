"""The simulated unit for the rest of the program: its data as an amplifier, and the hands at work on it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from app.windows.ports import Hands, Trimmer
from drivers.clock import Clock, ScaledClock
from drivers.simulated.bench import Mains, SimulatedBench
from drivers.simulated.units import SimulatedUnit
from procedures.amplifier import Amplifier, AmplifierChannel, OutputStage, TestPoint
from procedures.events import Supply
from procedures.library import shipped_amplifiers
from procedures.records.practised import UnitDefect, UnitTruth

SIDES = ("left", "right")
_MAINS = {
    Supply.OFF: Mains.OFF,
    Supply.MAINS: Mains.FULL,
    Supply.SERIES_LAMP: Mains.LAMP,
    Supply.REDUCED: Mains.REDUCED,
}
_SUPPLY = {mains: supply for supply, mains in _MAINS.items()}
TOLERANCE_PERCENT = 10.0
LIFTED_S = 1.5  # from one point to the next
DRIVE_SHARE = 0.5  # of the rail: a good quarter of full power


def amplifier_of(unit: SimulatedUnit) -> Amplifier:
    """The amplifier's data: those that ship for the model, else what the unit's own file says."""
    known = shipped_amplifiers().get(f"{unit.maker} {unit.model}")
    if known is not None:
        return known
    numbers = unit.parameters
    emitter_ohm = float(numbers.emitter_ohm[0, 0])
    two = float(numbers.measured_ohm[0, 0]) > 1.5 * emitter_ohm
    channels = tuple(
        AmplifierChannel(
            name=f"{side} bias",
            test_point=TestPoint.PAIR_IN_SERIES if two else TestPoint.ONE_RESISTOR,
            target_millivolts=unit.target_volts * 1000.0,
            tolerance_percent=TOLERANCE_PERCENT,
            source="the simulated unit's own note",
        )
        for side in SIDES
    )
    return Amplifier(
        format=1,
        maker=unit.maker,
        model=unit.model,
        output_stage=OutputStage.EMITTER_FOLLOWER,
        pairs=round(float(numbers.pairs[0])),
        emitter_resistor=f"{emitter_ohm:g}",
        emitter_resistor_tolerance_percent=5.0,
        rail_volts=float(numbers.rail_volts[0]),
        channel=channels,
    )


def _told_to_nobody(_deed: str, _subject: str, _amount: float) -> None:
    """Keep nothing."""


class SimulatedHands:
    """What hands do at the simulated unit; see `app.windows.ports.PracticeControls`.

    `keep` is told of every move: deed, subject and amount as in `procedures.records.practised`. `cables`
    pulls the interface cable of a meter.
    """

    def __init__(
        self,
        bench: SimulatedBench,
        clock: Clock,
        meters: Sequence[str],
        cables: Mapping[str, Callable[[], object]] | None = None,
    ) -> None:
        self._bench = bench
        self._clock = clock
        self._meters = tuple(meters)
        self._cables = dict(cables or {})
        self._read_off: dict[str, int] = {}
        self._kept_speed = 1.0
        self.keep: Callable[[str, str, float], None] = _told_to_nobody

    def hands(self) -> Hands:
        """How everything stands now."""
        truth = self._bench.truth()
        trimmers = tuple(
            Trimmer(f"{side} bias", knob, made.backlash_degrees / made.travel_degrees)
            for side, knob, made in zip(SIDES, truth.knobs, self._bench.unit.knobs, strict=True)
        )
        probes = tuple(self._bench.probes_on(meter) or "" for meter in self._meters)
        return Hands(_SUPPLY[truth.mains], truth.lid_on, trimmers, self.speed, probes)

    def truth(self, at_s: float) -> UnitTruth:
        """What only the simulation knows, as the unit came and as it stands now."""
        defects = tuple(UnitDefect(one.kind, one.channel) for one in self._bench.unit.defects)
        found, now = (
            {f"{side} bias": value for side, value in zip(SIDES, volts, strict=True)}
            for volts in self._bench.rests()
        )
        return UnitTruth(at_s, found, now, defects)

    @property
    def speed(self) -> float:
        """Bench seconds a second; 1 where time is stepped."""
        return self._clock.rate if isinstance(self._clock, ScaledClock) else 1.0

    def switch(self, supply: Supply) -> None:
        """Work the mains switch, with or without the series lamp."""
        self._bench.switch_mains(_MAINS[supply])
        self.keep("switch", supply.value, 0.0)

    def turn(self, channel: str, by: float) -> None:
        """Turn a trimmer by a fraction of its travel, either way."""
        side = channel.partition(" ")[0]
        turned = self._bench.turn_trimmer(side, by * self._bench.turnable_degrees(side))
        self.keep("turn", channel, round(turned / self._bench.turnable_degrees(side), 6))

    def fit_lid(self, fitted: bool) -> None:
        """Put the cover on or take it off."""
        self._bench.move_lid(fitted)
        self.keep("lid", "on" if fitted else "off", 0.0)

    def slip(self, channel: str) -> None:
        """Let the probe of this channel lose contact for a moment."""
        for meter in self._meters:
            if self._bench.probes_on(meter) == channel:
                self._bench.lift_probe(meter)
                self.keep("slip", channel, 0.0)

    def unplug(self, meter: str) -> None:
        """Pull the interface cable of a meter; its probes stay where they are. Raises KeyError."""
        self._cables[meter]()

    def short(self, channel: str) -> None:
        """Let the probe slip so that it shorts an output device for a moment: with power on it does harm."""
        self._bench.slip_probe(channel.partition(" ")[0])
        self.keep("short", channel, 0.0)

    def hold(self, channel: str, point: str) -> None:
        """Hold the probe of this channel on another output pair, or on its own point again."""
        for meter in self._meters:
            if (self._bench.probes_on(meter) or "").partition(",")[0] == channel:
                self._bench.lift_probe(meter, LIFTED_S)
                self._bench.move_probes(meter, f"{channel}, {point}" if point else channel)

    def drive(self, driven: bool) -> None:
        """Play a sine at a third of the largest voltage into 8 ohm on both outputs, or take it away."""
        rail = float(self._bench.unit.parameters.rail_volts[0])
        volts = DRIVE_SHARE * rail if driven else 0.0
        self._bench.apply_drive(volts)
        self.keep("drive", "", volts)

    def read_off(self, name: str) -> float | None:
        """What another instrument shows; the next time a listed value is read, the next one of the list."""
        time = self._read_off.get(name, 0)
        self._read_off[name] = time + 1
        return self._bench.unit.around.value(name, time)

    def wrong(self, item: str) -> str | None:
        """What is seen to be wrong with a thing; None when it is right."""
        return self._bench.unit.around.wrong.get(item)

    def answer_to(self, step: str) -> str | None:
        """What this unit answers to the question of a step."""
        return self._bench.unit.around.answers.get(step)

    def set_speed(self, speed: float) -> None:
        """Bench seconds a second; nothing where time is stepped."""
        if isinstance(self._clock, ScaledClock):
            self._clock.set_rate(speed)
            if not 0.8 < speed / self._kept_speed < 1.25:  # a pace that adapts itself changes many times
                self._kept_speed = speed
                self.keep("speed", "", speed)
