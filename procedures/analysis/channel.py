"""What the analysis is told about a channel, and what it says about it at any moment.

These are the values that steps, window and terminal exchange with `procedures.analysis.monitor`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from drivers.meter import MeterAccuracy
from drivers.reading import Unit
from procedures.amplifier import Condition, OutputStage


class DecisionRule(StrEnum):
    """How far inside the limits a reading must be (JCGM 106:2012; ILAC-G8:09/2019 presets)."""

    SIMPLE = "simple acceptance"  # w = 0
    GUARDED = "guarded by U"  # w = U95
    ONE_SIDED_5 = "5 % risk"  # w = 1.64 u
    GUARDED_083 = "guarded by 0.83 U"
    GUARDED_15 = "guarded by 1.5 U"
    GUARDED_3 = "guarded by 3 U"


@dataclass(frozen=True, slots=True)
class ChannelSetup:
    """Everything about one channel that its analysis may use. Volts, ohms, watts.

    `target_volts`, `low_volts`, `high_volts` are None on a channel that is only watched.
    `resistance_ohm` is what lies between the test points; `pairs` the number of output pairs that share
    the current; `rail_volts` the idle voltage of one rail. Unknown is None, never a guess.
    """

    channel: str
    unit: Unit = Unit.VOLT
    target_volts: float | None = None
    low_volts: float | None = None
    high_volts: float | None = None
    condition: Condition = field(default_factory=Condition)
    stage: OutputStage = OutputStage.EMITTER_FOLLOWER
    resistance_ohm: float | None = None
    emitter_resistor_ohm: float | None = None
    resistor_tolerance: float | None = None
    pairs: int = 1
    rail_volts: float | None = None
    device_limit_watts: float | None = None
    accuracy: MeterAccuracy | None = None
    typed: bool = False


@dataclass(frozen=True, slots=True)
class AnalysisSettings:
    """What a workshop may choose. `limit` is the remaining change that still counts as settled.

    `limit` is a fraction of the target over the `horizon_s` ahead.
    """

    limit: float = 0.03
    horizon_s: float = 900.0
    hold_s: float = 60.0
    mains_hz: float = 50.0
    rule: DecisionRule = DecisionRule.GUARDED


@dataclass(frozen=True, slots=True)
class Forecast:
    """Where the reading will be at `for_s` (session seconds), with its 95 % interval. Volts.

    `spoken` is False while the interval is too wide to be told to anybody.
    """

    at_s: float
    for_s: float
    volts: float
    low_volts: float
    high_volts: float
    spoken: bool


class Position(StrEnum):
    """Where a level stands with respect to the acceptance window."""

    BELOW = "below"
    INSIDE = "inside"
    ABOVE = "above"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class ChannelState:
    """What is known about a channel now.

    `value` is the newest reading, `level` the spike-proof level of the last seconds, `noise` its scatter,
    `rate_per_s` the slope; all in the channel's unit. `settled` is None where the question does not apply
    (no target). `reason` says in words why it is or is not settled. `at_rest` asks the same wherever the
    level stands, inside the window or not (None: not judged apart). `time_left_s` is a range.
    """

    channel: str
    at_s: float
    value: float | None = None
    level: float | None = None
    noise: float | None = None
    rate_per_s: float | None = None
    position: Position = Position.UNKNOWN
    settled: bool | None = None
    reason: str = ""
    forecast: Forecast | None = None
    time_left_s: tuple[float, float] | None = None
    accept_low: float | None = None
    accept_high: float | None = None
    amperes: float | None = None
    watts_per_device: float | None = None
    gap: str = ""
    disturbed: str = ""
    at_rest: bool | None = None

    @property
    def rests(self) -> bool | None:
        """Whether the reading has come to rest, be it inside its window or outside; None: no target."""
        return self.settled if self.at_rest is None else self.settled or self.at_rest


NOT_READ = "no reading yet"  # the reason of a channel about which nothing was judged yet


class AdviceKind(StrEnum):
    """What to do with a trimmer."""

    WAIT = "wait"
    NUDGE = "nudge"
    TURN_BACK = "turn back"
    TURN = "turn"
    APPROACH_FROM_BELOW = "approach from below"
    DONE = "done"
    LEAVE_ALONE = "leave alone"
    NO_RESPONSE = "no response"
    WRONG_TRIMMER = "wrong trimmer"
    RANGE_EXHAUSTED = "range exhausted"
    STOP = "stop"
    CANNOT_SAY = "cannot say"


@dataclass(frozen=True, slots=True)
class TrimAdvice:
    """What to do with one channel's trimmer now, in words, and the reading to turn to.

    `reach_volts` is how near to it is near enough; for whoever guides by other means than words.
    """

    channel: str
    kind: AdviceKind
    text: str
    show_volts: float | None = None
    rest_volts: float | None = None
    reach_volts: float | None = field(default=None, compare=False)
