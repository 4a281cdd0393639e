"""The unit on the bench as data: ratings, output stage, test points, bias target and its condition."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints, model_validator

from drivers.reading import Unit
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
    """Between which points the bias is read, and so what the reading means."""

    ONE_RESISTOR = "one resistor"
    PAIR_IN_SERIES = "pair in series"
    ONE_OF_SEVERAL = "one resistor of several pairs"
    PAIR_OF_SEVERAL = "emitter to emitter of several pairs"

    __test__ = False  # not a test, whatever pytest thinks of the name


def _a_resistance(printed: str) -> str:
    ohms(printed)
    return printed


class _Data(BaseModel):
    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)


Name = Annotated[str, StringConstraints(min_length=1, max_length=60, strip_whitespace=True)]
Words = Annotated[str, StringConstraints(max_length=2000, strip_whitespace=True)]
Resistance = Annotated[str, StringConstraints(min_length=1, max_length=20), AfterValidator(_a_resistance)]


class TargetCondition(_Data):
    """When a target counts, as a file says it (minutes)."""

    kind: ConditionKind = ConditionKind.AT_REST
    warm_up_minutes: float = Field(default=20.0, ge=0.0, le=240.0)
    time_minutes: float | None = Field(default=None, gt=0.0, le=240.0)
    sink_degrees_c: float | None = Field(default=None, ge=0.0, le=120.0)

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


class AmplifierChannel(_Data):
    """One channel of the model: where it is read, and what it should read.

    The target is given once: as millivolts, as milliamperes in one output pair, or as milliamperes of all
    pairs together. Its tolerance is given once: percent, millivolts to both sides, or low and high limit.
    A channel without a target is watched only; it may have limits.
    """

    name: Name
    unit: Unit = Unit.VOLT
    test_point: TestPoint | None = None
    emitter_resistor: Resistance | None = None
    target_millivolts: float | None = Field(default=None, gt=0.0, le=10_000.0)
    target_milliamperes: float | None = Field(default=None, gt=0.0, le=10_000.0)
    target_total_milliamperes: float | None = Field(default=None, gt=0.0, le=100_000.0)
    tolerance_percent: float | None = Field(default=None, gt=0.0, le=100.0)
    tolerance_millivolts: float | None = Field(default=None, gt=0.0, le=10_000.0)
    low_millivolts: float | None = Field(default=None, ge=-100_000.0, le=100_000.0)
    high_millivolts: float | None = Field(default=None, ge=-100_000.0, le=100_000.0)
    condition: TargetCondition = TargetCondition()
    source: Words = ""
    chosen_by: Words = ""
    notes: tuple[Words, ...] = Field(default=(), max_length=50)

    @property
    def has_target(self) -> bool:
        """Whether there is a value to be trimmed to."""
        return self._targets() > 0

    def _targets(self) -> int:
        given = (self.target_millivolts, self.target_milliamperes, self.target_total_milliamperes)
        return sum(value is not None for value in given)

    @model_validator(mode="after")
    def _says_everything_once(self) -> AmplifierChannel:
        if self._targets() > 1:
            raise ValueError(
                "the target is given more than once; keep one of target_millivolts, target_milliamperes (one "
                "output pair) and target_total_milliamperes"
            )
        limits = self.low_millivolts is not None or self.high_millivolts is not None
        given = (self.tolerance_percent is not None) + (self.tolerance_millivolts is not None) + limits
        if self.has_target and given != 1:
            raise ValueError(
                "the tolerance must be given exactly once: tolerance_percent, tolerance_millivolts, or "
                "low_millivolts with high_millivolts"
            )
        if limits and self.has_target and (self.low_millivolts is None or self.high_millivolts is None):
            raise ValueError("a target needs both low_millivolts and high_millivolts")
        if not self.has_target and given > limits:
            raise ValueError("a tolerance without a target says nothing; give a target or leave it out")
        if None not in (self.low_millivolts, self.high_millivolts) and not self._limits_ordered():
            raise ValueError(
                f"low_millivolts is {self.low_millivolts:g} and high_millivolts {self.high_millivolts:g}; "
                "low must be below high (are the two swapped?)"
            )
        return self

    def _limits_ordered(self) -> bool:
        return (self.low_millivolts or 0.0) < (self.high_millivolts or 0.0)


class Amplifier(_Data):
    """A model of amplifier: what its bias job needs to know. Loaded from TOML, checked completely."""

    format: Literal[1]
    maker: Name
    model: Name
    output_stage: OutputStage
    pairs: int = Field(default=1, ge=1, le=40)
    emitter_resistor: Resistance | None = None
    emitter_resistor_tolerance_percent: float | None = Field(default=None, gt=0.0, le=50.0)
    rail_volts: float | None = Field(default=None, gt=0.0, le=500.0)
    device_limit_watts: float | None = Field(default=None, gt=0.0, le=1000.0)
    lid_for_last_word: bool = True
    load: Words = "none"
    offset_limit_millivolts: float | None = Field(default=None, gt=0.0, le=10_000.0)
    notes: tuple[Words, ...] = Field(default=(), max_length=50)
    channel: tuple[AmplifierChannel, ...] = Field(min_length=1, max_length=32)

    @model_validator(mode="after")
    def _fits_together(self) -> Amplifier:
        names = [channel.name for channel in self.channel]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f'two channels are called "{twice[0]}"; every channel needs its own name')
        for channel in self.channel:
            current = channel.target_milliamperes is not None or channel.target_total_milliamperes is not None
            if current and channel.test_point is None:
                raise ValueError(f'channel "{channel.name}": a target in milliamperes needs test_point')
            if current and channel.emitter_resistor is None and self.emitter_resistor is None:
                raise ValueError(f'channel "{channel.name}": a target in milliamperes needs emitter_resistor')
        return self

    @property
    def name(self) -> str:
        """Maker and model as a person says them."""
        return f"{self.maker} {self.model}"

    def channel_named(self, name: str) -> AmplifierChannel | None:
        """A channel by its name, or None."""
        return next((channel for channel in self.channel if channel.name == name), None)

    def emitter_resistor_ohm(self, channel: AmplifierChannel) -> float | None:
        """The emitter resistor behind a channel's test points, in ohms; None when unknown."""
        printed = channel.emitter_resistor or self.emitter_resistor
        return None if printed is None else ohms(printed)
