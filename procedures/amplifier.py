"""The unit on the bench as data: output stage, test points, bias target and its condition.

Read from TOML, checked completely. Not here: what a maker states (`ratings`), the arithmetic from a current
to the millivolts between the probes (`target`), and targets that a technician derives (`derived_target`).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from pydantic import Field, model_validator

from drivers.reading import Unit
from procedures.entries import Entry, Name, Resistance, Words
from procedures.ratings import DcProtection, Preset, RailState, Ratings, TargetTable
from procedures.resistance import ohms


class OutputStage(StrEnum):
    """Kind of output stage; decides what is plausible and whether trim advice may use the z domain."""

    EMITTER_FOLLOWER = "emitter follower"
    TRIPLE = "triple emitter follower"
    CFP = "complementary feedback pair"
    LATERAL_MOSFET = "lateral mosfet"
    VERTICAL_MOSFET = "vertical mosfet"
    CLASS_AB_B = "class ab+b"
    CLASS_GH = "class g or h"
    PWM = "pwm"
    TUBE = "tube"
    HYBRID = "hybrid"
    UNKNOWN = "unknown"


class ConditionKind(StrEnum):
    """Under which condition a target is to be met."""

    AT_REST = "at rest"
    AT_TIME = "at a stated time"
    BELOW_SINK = "below a sink temperature"
    COLD = "cold"


@dataclass(frozen=True, slots=True)
class Condition:
    """When a target counts. `time_s` from power-on for AT_TIME, `sink_degrees_c` for BELOW_SINK.

    `warm_up_s` is the shortest warm-up before a target at rest is judged.
    """

    kind: ConditionKind = ConditionKind.AT_REST
    time_s: float | None = None
    sink_degrees_c: float | None = None
    warm_up_s: float = 1200.0


class TestPoint(StrEnum):
    """Between which points the bias is read, and so what the reading means.

    The letters are those of the form: A to D read the emitter resistors of the output devices, F and G a
    sense resistor in the supply, H what is drawn from the mains, I a stage that is not conducting at idle,
    J no voltage at all. A target against temperature (K) may go with any of the first five.
    """

    ONE_RESISTOR = "one resistor"  # A
    PAIR_IN_SERIES = "pair in series"  # B
    ONE_OF_SEVERAL = "one resistor of several pairs"  # C
    PAIR_OF_SEVERAL = "emitter to emitter of several pairs"  # D
    TEST_PINS = "test pins"  # E: the millivolts are as the manual says
    SUPPLY_RAIL = "link in the supply rail"  # F: the sense point lies at rail voltage
    SAFETY_RESISTOR = "safety resistor"  # G: a fusible resistor in collector or rail
    MAINS_DRAW = "mains draw"  # H: watts or amperes from the mains
    BASE_EMITTER = "base-emitter or driver resistor"  # I: outputs without current at idle
    RESIDUAL = "residual distortion"  # J: no voltage; by the crossover residual

    __test__ = False  # not a test, whatever pytest thinks of the name


EMITTER_POINTS = frozenset(
    {
        TestPoint.ONE_RESISTOR,
        TestPoint.PAIR_IN_SERIES,
        TestPoint.ONE_OF_SEVERAL,
        TestPoint.PAIR_OF_SEVERAL,
    }
)
"""Where the reading is the current of one output pair through its own emitter resistors."""
RAIL_POINTS = frozenset({TestPoint.SUPPLY_RAIL, TestPoint.SAFETY_RESISTOR})
"""Where it is a current of the supply through a sense resistor, at rail voltage."""


class TargetCondition(Entry):
    """When a target counts, as a file says it (minutes).

    `repeat_minutes` is how long after the last trim both channels are looked at again.
    """

    kind: ConditionKind = ConditionKind.AT_REST
    warm_up_minutes: float = Field(default=20.0, ge=0.0, le=240.0)
    time_minutes: float | None = Field(default=None, gt=0.0, le=240.0)
    sink_degrees_c: float | None = Field(default=None, ge=0.0, le=120.0)
    repeat_minutes: float = Field(default=10.0, ge=0.0, le=240.0)

    @model_validator(mode="after")
    def _has_what_its_kind_needs(self) -> TargetCondition:
        if self.kind is ConditionKind.AT_TIME and self.time_minutes is None:
            raise ValueError('a target "at a stated time" needs time_minutes')
        if self.kind is ConditionKind.BELOW_SINK and self.sink_degrees_c is None:
            raise ValueError('a target "below a sink temperature" needs sink_degrees_c')
        return self

    def condition(self) -> Condition:
        """The same in the program's units."""
        time_s = None if self.time_minutes is None else self.time_minutes * 60.0
        return Condition(self.kind, time_s, self.sink_degrees_c, self.warm_up_minutes * 60.0)


class AmplifierChannel(Entry):
    """One channel of the model: where it is read, and what it should read.

    The target is given once: as millivolts, as milliamperes in one output pair (or through the sense
    resistor), as milliamperes of all pairs together, as a table against temperature, as watts from the mains,
    or in words as a residual distortion. Its tolerance is given once: percent, millivolts to both sides, or
    low and high limit. `low` and `high` are limits in the channel's own unit where that is not volts. A
    channel without a target is watched only; it may have limits. `spread_millivolts` is how far the other
    pairs may lie from the target. `intended_milliamperes` is what a target in millivolts was meant to give,
    so that other resistors can be reckoned with.
    """

    name: Name
    unit: Unit = Unit.VOLT
    test_point: TestPoint | None = None
    emitter_resistor: Resistance | None = None
    sense_resistor: Resistance | None = None
    target_millivolts: float | None = Field(default=None, gt=0.0, le=10_000.0)
    target_milliamperes: float | None = Field(default=None, gt=0.0, le=10_000.0)
    target_total_milliamperes: float | None = Field(default=None, gt=0.0, le=100_000.0)
    target_table: TargetTable | None = None
    target_watts: float | None = Field(default=None, gt=0.0, le=5000.0)
    target_residual: Words = ""
    residual_percent_at_most: float | None = Field(default=None, gt=0.0, le=100.0)
    tolerance_percent: float | None = Field(default=None, gt=0.0, le=100.0)
    tolerance_millivolts: float | None = Field(default=None, gt=0.0, le=10_000.0)
    low_millivolts: float | None = Field(default=None, ge=-100_000.0, le=100_000.0)
    high_millivolts: float | None = Field(default=None, ge=-100_000.0, le=100_000.0)
    low: float | None = Field(default=None, ge=-1e6, le=1e6)
    high: float | None = Field(default=None, ge=-1e6, le=1e6)
    spread_millivolts: float | None = Field(default=None, gt=0.0, le=10_000.0)
    intended_milliamperes: float | None = Field(default=None, gt=0.0, le=10_000.0)
    condition: TargetCondition = TargetCondition()
    source: Words = ""
    chosen_by: Words = ""
    reason: Words = ""
    notes: tuple[Words, ...] = Field(default=(), max_length=50)

    @property
    def has_target(self) -> bool:
        """Whether there is a value to be trimmed to."""
        return bool(self._targets())

    def _targets(self) -> list[str]:
        return [key for key in _TARGETS if getattr(self, key) not in (None, "")]

    @property
    def own_limits(self) -> tuple[float | None, float | None]:
        """Low and high limit as given, in the channel's own unit."""
        if self.unit is not Unit.VOLT:
            return self.low, self.high
        low, high = self.low_millivolts, self.high_millivolts
        return (None if low is None else low / 1000.0), (None if high is None else high / 1000.0)

    @model_validator(mode="after")
    def _says_everything_once(self) -> AmplifierChannel:
        targets = self._targets()
        if len(targets) > 1:
            raise ValueError(
                "the target is given more than once; keep one of target_millivolts, target_milliamperes (one "
                "output pair) and target_total_milliamperes"
                if set(targets) <= set(_TARGETS[:3])
                else f"the target is given more than once: keep one of {' and '.join(targets)}"
            )
        low, high = self.own_limits
        limits = low is not None or high is not None
        given = (self.tolerance_percent is not None) + (self.tolerance_millivolts is not None) + limits
        needs = bool(targets) and targets != ["target_residual"]
        if needs and given != 1:
            raise ValueError(
                "the tolerance must be given exactly once: tolerance_percent, tolerance_millivolts, or "
                "low_millivolts with high_millivolts"
            )
        if limits and needs and (low is None or high is None):
            raise ValueError("a target needs both low_millivolts and high_millivolts")
        if not needs and given > limits:
            raise ValueError("a tolerance without a target says nothing; give a target or leave it out")
        self._ordered(low, high)
        return self

    def _ordered(self, low: float | None, high: float | None) -> None:
        if low is None or high is None or low < high:
            return
        volts = self.unit is Unit.VOLT
        names = ("low_millivolts", "high_millivolts") if volts else ("low", "high")
        shown = (low * 1000.0, high * 1000.0) if volts else (low, high)
        raise ValueError(
            f"{names[0]} is {shown[0]:g} and {names[1]} {shown[1]:g}; "
            "low must be below high (are the two swapped?)"
        )

    @model_validator(mode="after")
    def _fits_its_unit_and_point(self) -> AmplifierChannel:
        if self.unit is not Unit.VOLT:
            if self.low_millivolts is not None or self.high_millivolts is not None:
                raise ValueError(
                    f"this channel is read in {self.unit.value}: write its limits as low and high"
                )
            volts = [key for key in self._targets() if key not in ("target_watts", "target_residual")]
            if volts:
                raise ValueError(
                    f"this channel is read in {self.unit.value}, so {volts[0]} cannot be its target"
                )
        elif self.low is not None or self.high is not None:
            raise ValueError(
                "this channel is read in volts: write its limits as low_millivolts and high_millivolts"
            )
        if self.target_watts is not None and self.unit is not Unit.WATT:
            raise ValueError('a target in watts needs unit = "W": it is read on a mains wattmeter')
        if self.target_residual and self.test_point is not TestPoint.RESIDUAL:
            raise ValueError('a target by its residual needs test_point = "residual distortion"')
        if self.test_point in RAIL_POINTS and self.sense_resistor is None:
            raise ValueError(
                f'"{self.test_point.value}" needs sense_resistor, such as sense_resistor = "1R0"'
            )
        return self


_TARGETS = (
    "target_millivolts",
    "target_milliamperes",
    "target_total_milliamperes",
    "target_table",
    "target_watts",
    "target_residual",
)


class Amplifier(Entry):
    """A model of amplifier: what its bias job needs to know. Loaded from TOML, checked completely.

    `rail_volts` is one rail at idle; a stage of class G or H lists its supplies as `rail_state` as well.
    `bias` is "fixed" where there is nothing to trim. How and when the offset is set is None where nobody has
    looked it up; `offset_after_relay_s` is how long after the relay it counts. `sources` says where a value
    comes from, by its key; `errata` what the manual has wrong.
    """

    format: Literal[1]
    maker: Name
    model: Name
    output_stage: OutputStage
    bias: Literal["trimmer", "fixed"] = "trimmer"
    bridged: bool = False
    supply: Literal["linear", "switching"] = "linear"
    pairs: int = Field(default=1, ge=1, le=40)
    emitter_resistor: Resistance | None = None
    emitter_resistor_tolerance_percent: float | None = Field(default=None, gt=0.0, le=50.0)
    rail_volts: float | None = Field(default=None, gt=0.0, le=500.0)
    device_limit_watts: float | None = Field(default=None, gt=0.0, le=1000.0)
    sink_kelvin_per_watt: float | None = Field(default=None, gt=0.0, le=100.0)
    lid_for_last_word: bool = True
    load: Words = "none"
    offset_limit_millivolts: float | None = Field(default=None, gt=0.0, le=10_000.0)
    offset_trim: Literal["trimmer", "servo", "none"] | None = None
    offset_before_bias: bool | None = None
    offset_after_relay_s: float | None = Field(default=None, gt=0.0, le=3600.0)
    ratings: Ratings = Ratings()
    dc_protection: DcProtection | None = None
    rail_state: tuple[RailState, ...] = Field(default=(), max_length=8)
    preset: tuple[Preset, ...] = Field(default=(), max_length=64)
    sources: dict[str, Words] = Field(default_factory=dict, max_length=100)
    notes: tuple[Words, ...] = Field(default=(), max_length=50)
    errata: tuple[Words, ...] = Field(default=(), max_length=50)
    channel: tuple[AmplifierChannel, ...] = Field(min_length=1, max_length=32)

    @model_validator(mode="after")
    def _fits_together(self) -> Amplifier:
        _each_once("channel", [channel.name for channel in self.channel])
        for channel in self.channel:
            current = channel.target_milliamperes is not None or channel.target_total_milliamperes is not None
            if current and channel.test_point is None:
                raise ValueError(f'channel "{channel.name}": a target in milliamperes needs test_point')
            if current and self.between_probes_ohm(channel) is None:
                raise ValueError(f'channel "{channel.name}": a target in milliamperes needs emitter_resistor')
        return self

    @model_validator(mode="after")
    def _presets_and_sources_are_known(self) -> Amplifier:
        presets = [preset.name for preset in self.preset]
        _each_once("preset", presets)
        _each_once("rail state", [state.name for state in self.rail_state])
        for preset in self.preset:
            if preset.channel is not None and self.channel_named(preset.channel) is None:
                known = ", ".join(f'"{channel.name}"' for channel in self.channel)
                raise ValueError(
                    f'preset "{preset.name}" acts on "{preset.channel}", which is no channel here; '
                    f"there are {known}"
                )
            for other in preset.interacts_with:
                if other == preset.name or other not in presets:
                    known = ", ".join(f'"{name}"' for name in presets if name != preset.name) or "no others"
                    raise ValueError(
                        f'preset "{preset.name}" interacts with "{other}", which is no other preset; '
                        f"there are {known}"
                    )
        for key in self.sources:
            if key.partition(".")[0] not in type(self).model_fields:
                raise ValueError(f'sources names "{key}", which is no entry of an amplifier')
        return self

    @property
    def name(self) -> str:
        """Maker and model as a person says them."""
        return f"{self.maker} {self.model}"

    def channel_named(self, name: str) -> AmplifierChannel | None:
        """A channel by its name, or None."""
        return next((channel for channel in self.channel if channel.name == name), None)

    def presets_of(self, channel: str) -> tuple[Preset, ...]:
        """The presets that act on a channel, with those they upset, in the file's order."""
        own = [preset for preset in self.preset if preset.channel == channel]
        names = {preset.name for preset in own} | {name for preset in own for name in preset.interacts_with}
        return tuple(preset for preset in self.preset if preset.name in names)

    def emitter_resistor_ohm(self, channel: AmplifierChannel) -> float | None:
        """The emitter resistor behind a channel's test points, in ohms; None when unknown."""
        printed = channel.emitter_resistor or self.emitter_resistor
        return None if printed is None else ohms(printed)

    def between_probes_ohm(self, channel: AmplifierChannel) -> float | None:
        """What lies between the probes, in ohms: emitter resistors or a sense resistor; None when unknown."""
        if channel.sense_resistor is not None and channel.test_point not in EMITTER_POINTS:
            return ohms(channel.sense_resistor)
        resistor = self.emitter_resistor_ohm(channel)
        if resistor is None or channel.test_point not in EMITTER_POINTS:
            return None
        both = (TestPoint.PAIR_IN_SERIES, TestPoint.PAIR_OF_SEVERAL)
        return 2.0 * resistor if channel.test_point in both else resistor


def _each_once(what: str, names: list[str]) -> None:
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f'two {what}s are called "{twice[0]}"; every {what} needs its own name')
