"""Round: from resistor to resistor of a stage with several pairs; each is taken down once steady.

The sign does not matter. A point that reads next to nothing is taken only when a person says that the probes
are on it, since lifted probes read the same. Not here: setting anything; the round looks at the spread.
"""

from __future__ import annotations

from statistics import median
from typing import ClassVar, Literal

from pydantic import Field, model_validator

from procedures import cautions
from procedures.amplifier import OutputStage
from procedures.analysis.figures import figure, percent
from procedures.events import Action, Answer, ChannelGap, ChannelReading, Choice, Input, Outcome
from procedures.observed import Captured
from procedures.steps.measure import LimitFields
from procedures.steps.sitting import Sitting
from procedures.steps.steadiness import Steadiness
from procedures.steps.step import Asked, ChannelName, Conduct, Prompt, StepFields, Words
from procedures.steps.trim import TRIM_PERIOD_S, USUAL_PERIOD_S
from procedures.steps.wanted import fair_reading_wanted, lead_wanted
from procedures.target import spread_limits_volts

STEADY_S = 4.0
STEADY_SHARE, STEADY_LEAST_VOLTS = 0.01, 5e-5
GONE_SHARE, GONE_LEAST_VOLTS = 0.15, 2e-4  # so far from what was taken, the probes have left the point
NOTHING_SHARE, NOTHING_LEAST_VOLTS = 0.15, 2e-4  # of the others: next to nothing
SPREAD_SHARE = 0.30  # of the median, where nobody has said: common practice, no source
NOT_CONDUCTING = "this pair is not conducting; do not raise the bias to compensate"
_ON_IT, _PASS_OVER = "on it", "pass over"


class Round(StepFields):
    """The channel whose probes go round, and the points; without names they are the pairs of the amplifier.

    The spread is judged by `limits`, else by `spread_percent` around the median, else by what the
    amplifier's data allows the other pairs.
    """

    OUTCOMES: ClassVar[tuple[str, ...]] = ("even", "uneven", "not conducting", "not measured")

    kind: Literal["round"]
    channel: ChannelName
    name: Words = "round"
    points: tuple[Words, ...] = Field(default=(), max_length=80)
    both_sides: bool = False
    spread_percent: float | None = Field(default=None, gt=0.0, le=100.0)
    limits: LimitFields | None = None

    @model_validator(mode="after")
    def _each_once(self) -> Round:
        twice = next((point for point in self.points if self.points.count(point) > 1), None)
        if twice:
            raise ValueError(f'two points are called "{twice}"; each needs its own name')
        if self.limits is not None and None in (self.limits.low_millivolts, self.limits.high_millivolts):
            raise ValueError("the limits of a round need both low_millivolts and high_millivolts")
        if len(self.points) == 1:
            raise ValueError("one point is no round; name two or more, or none for the amplifier's pairs")
        return self

    def unfit(self, sitting: Sitting) -> str:
        """One pair is not gone round."""
        if not self.points and (sitting.amplifier is None or sitting.amplifier.pairs < 2):
            return "there is one output pair, so there is nothing to go round"
        return ""

    def points_of(self, sitting: Sitting) -> tuple[str, ...]:
        """The points in their order."""
        if self.points:
            return self.points
        pairs = [
            f"pair {number + 1}" for number in range(sitting.amplifier.pairs if sitting.amplifier else 0)
        ]
        if not self.both_sides:
            return tuple(pairs)
        return tuple(f"{pair} {where}" for pair in pairs for where in ("upper", "lower"))

    def open(self, sitting: Sitting) -> Conduct:
        """Start with the first point."""
        return _GoingRound(self, sitting)


class _GoingRound(Conduct):
    needs_power = True

    def __init__(self, line: Round, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line
        self._points = line.points_of(sitting)
        self._taken: dict[str, float | None] = {}
        self._seen = Steadiness(STEADY_S)
        self._left: float | None = None  # what the probes must leave before the next point counts
        self._fast = False

    @property
    def _point(self) -> str | None:
        return self._points[len(self._taken)] if len(self._taken) < len(self._points) else None

    @property
    def _following(self) -> str:
        after = len(self._taken) + 1
        return self._points[after] if after < len(self._points) else ""

    # --- facts --------------------------------------------------------------------------------------

    def feed(self, fact: Input) -> None:
        channel = self._line.channel
        if fair_reading_wanted(self.sitting) is not None or not self.sitting.readable(channel):
            self._seen.forget()
            return
        if not self._fast:
            self._fast = True
            self.sitting.request(Action.PERIOD, channel, period_s=TRIM_PERIOD_S)
        if isinstance(fact, ChannelGap) and fact.channel == channel:
            self._left = None  # lifted probes
            self._seen.forget()
        elif isinstance(fact, ChannelReading) and fact.channel == channel and self._point is not None:
            self._read(fact.at_s, abs(fact.value))

    def lose_power(self) -> None:
        self._seen.forget()

    def leave(self) -> None:
        if self._fast:
            self.sitting.request(Action.PERIOD, self._line.channel, period_s=USUAL_PERIOD_S)

    def _read(self, at_s: float, volts: float) -> None:
        if self._left is not None:
            if abs(volts - self._left) <= max(GONE_LEAST_VOLTS, GONE_SHARE * self._left):
                return  # still on the point that was taken, as far as the reading tells
            self._left = None
            self._seen.forget()
        self._seen.take(at_s, volts)
        value = self._seen.value() or 0.0
        steady = self._seen.steady(max(STEADY_LEAST_VOLTS, STEADY_SHARE * value))
        if steady and not self._nearly_nothing(value):
            self._take(value)

    def _nearly_nothing(self, volts: float) -> bool:
        return volts <= max(NOTHING_LEAST_VOLTS, NOTHING_SHARE * self._expected())

    def _expected(self) -> float:
        """What the points should read, about: the others so far, else the target."""
        values = [value for value in self._taken.values() if value is not None]
        if values:
            return median(values)
        setup = self.sitting.channels.get(self._line.channel)
        return (setup.target_volts if setup else None) or 0.0

    def answer(self, name: str, answer: Answer) -> None:
        if answer.choice == _PASS_OVER:
            self._take(None)
        elif answer.choice == _ON_IT and self._left is not None:
            self._left = None
            self._seen.forget()
        elif answer.choice == _ON_IT and (value := self._seen.value()) is not None:
            self._take(value)

    def _take(self, value: float | None) -> None:
        point, line, sitting = self._point, self._line, self.sitting
        if point is None:
            return
        following = self._following
        unit = sitting.channels[line.channel].unit
        sitting.record(
            f"{line.name}, {point}", line.channel, value, unit, "" if value is not None else "passed over"
        )
        number = len(self._taken) + 1
        sitting.outbox.append(
            Captured(
                sitting.at_s, sitting.step, line.channel, point, value, number, len(self._points), following
            )
        )
        self._taken[point] = value
        self._left = value
        self._seen.forget()
        if self._point is None:
            self._judge()

    # --- judging ------------------------------------------------------------------------------------

    def _judge(self) -> None:
        values = {point: value for point, value in self._taken.items() if value is not None}
        subject = f"{self._line.channel} {self._line.name}"
        if len(values) < 2:
            self.sitting.judge(
                None, Outcome.NOT_MEASURED, f"{subject}: fewer than two points read", None, subject
            )
            self.end("not measured", "fewer than two points read")
            return
        middle = median(values.values())
        silent = [point for point, value in values.items() if self._is_silent(value, middle)]
        low, high, by = self._limits(middle)
        outside = {p: v for p, v in values.items() if p not in silent and not low <= v <= high}
        spread = f"{figure(min(values.values()))} to {figure(max(values.values()))}, median {figure(middle)}"
        parts = [f"{point} reads {figure(values[point])}: {NOT_CONDUCTING}" for point in silent]
        parts += [f"{point} reads {figure(value)}, {by}" for point, value in outside.items()]
        outcome = Outcome.FAILED if parts else Outcome.PASSED
        reason = "; ".join([spread, *parts]) if parts else f"{spread}, {by.replace('outside', 'inside')}"
        self.sitting.judge(None, outcome, f"{subject}: {reason}", middle, subject)
        self.end("not conducting" if silent else "uneven" if outside else "even", reason)

    def _is_silent(self, value: float, middle: float) -> bool:
        """Whether a pair carries nothing while the others do; outputs of an AB+B stage idle at nothing."""
        amplifier = self.sitting.amplifier
        if amplifier is not None and amplifier.output_stage is OutputStage.CLASS_AB_B:
            return False
        setup = self.sitting.channels.get(self._line.channel)
        size = max(middle, (setup.target_volts if setup else None) or 0.0)
        return value <= max(NOTHING_LEAST_VOLTS, NOTHING_SHARE * size) and size > NOTHING_LEAST_VOLTS

    def _limits(self, middle: float) -> tuple[float, float, str]:
        line = self._line
        if line.limits is not None:
            own = line.limits.limits()
            assert own.low is not None
            assert own.high is not None
            low, high = own.low, own.high
            return low, high, f"outside {figure(low)} to {figure(high)}"
        described = self.sitting.described(line.channel)
        if line.spread_percent is None and described is not None and self.sitting.amplifier is not None:
            allowed = spread_limits_volts(self.sitting.amplifier, described)
            if allowed is not None:
                return *allowed, f"outside {figure(allowed[0])} to {figure(allowed[1])}"
        share = SPREAD_SHARE if line.spread_percent is None else line.spread_percent / 100.0
        return middle * (1.0 - share), middle * (1.0 + share), f"outside {percent(share)} of the median"

    # --- asking -------------------------------------------------------------------------------------

    def prompt(self) -> Prompt:
        point, channel = self._point, self._line.channel
        if point is None:
            return Prompt("")
        wanted = fair_reading_wanted(self.sitting) or lead_wanted(self.sitting, channel)
        if wanted is not None:
            return wanted
        number = f"{len(self._taken) + 1} of {len(self._points)}"
        text = f"Hold the probes of {channel} on {point} ({number}): it is taken down once it is steady."
        value = self._seen.value()
        steady = value is not None and self._seen.steady(STEADY_LEAST_VOLTS)
        if self._left is None and steady and value is not None and self._nearly_nothing(value):
            text = f"Say whether the probes are on {point} ({number}): it reads next to nothing."
        choices = (
            Choice(_ON_IT, f"The probes are on {point}", default=True),
            Choice(_PASS_OVER, f"Pass {point} over"),
        )
        return Prompt(
            text,
            cautions.MOVING_LEAD,
            Asked(f"point {len(self._taken) + 1}", text, choices=choices),
            focus=channel,
        )
