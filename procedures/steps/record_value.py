"""Record value: a figure that a person reads somewhere and types, with its unit and what is plausible.

It may have limits, which may depend on how an earlier step ended (a class of protection, a regime); where
none counts, the value is kept and nothing is judged.
"""

from __future__ import annotations

import math
from typing import ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from drivers.reading import Unit
from procedures.analysis.figures import figure
from procedures.events import Answer, AnswerKind, Choice, Outcome
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, ChannelName, Conduct, Prompt, StepFields, StepId, Words
from procedures.steps.typed_units import UNITS, TypedIn, in_si, shown, typed_value

NOT_MEASURED = "not measured"
TYPED = "typed"


class TypedLimit(BaseModel):
    """Limits in the unit `typed_in`, and where they come from.

    With `step` they count only when that step `ended` in one of these words. `of_emitter_resistor_percent` is
    a limit on both sides of the amplifier's own emitter resistor, `own_offset_limit` its own offset limit;
    both count where they are known.
    """

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)

    low: float | None = None
    high: float | None = None
    source: Words
    step: StepId | None = None
    ended: tuple[str, ...] = Field(default=(), max_length=20)
    of_emitter_resistor_percent: float | None = Field(default=None, gt=0.0, le=100.0)
    own_offset_limit: bool = False

    @model_validator(mode="after")
    def _bounds_in_order(self) -> TypedLimit:
        if self.of_emitter_resistor_percent is not None or self.own_offset_limit:
            if self.low is not None or self.high is not None:
                raise ValueError("keep one of them: low and high, or a limit of the amplifier's own")
        elif self.low is None and self.high is None:
            raise ValueError("a limit needs low, high or both")
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise ValueError(f"low is {self.low:g} and high {self.high:g}; low must be below high (swapped?)")
        if (self.step is None) != (not self.ended):
            raise ValueError("say both step and ended, or neither")
        return self


class RecordValue(StepFields):
    """A typed value that is kept under a name. `least` and `most` bound what is taken without asking again.

    With `typed_in` the value is typed in that unit, and `least`, `most` and the limits are in it; without,
    everything is in `unit`, which is how the value is kept. The first of the limits that counts decides.
    `caution` is the one line beside the instruction.
    """

    OUTCOMES: ClassVar[tuple[str, ...]] = ("recorded", "not measured", "inside", "outside")
    HANDS: ClassVar[bool] = False

    kind: Literal["record"]
    text: Words
    name: Words
    unit: Unit | None = None
    typed_in: TypedIn | None = None
    channel: ChannelName | None = None
    least: float | None = None
    most: float | None = None
    limit: tuple[TypedLimit, ...] = Field(default=(), max_length=20)
    caution: Words | None = None

    @model_validator(mode="after")
    def _bounds_in_order(self) -> RecordValue:
        if self.least is not None and self.most is not None and self.least >= self.most:
            raise ValueError(f"least is {self.least:g} and most {self.most:g}; least must be below most")
        if self.unit is None and self.typed_in is None:
            raise ValueError('say in which unit it is typed, such as typed_in = "mV"')
        if self.unit is not None and self.typed_in is not None and UNITS[self.typed_in][0] is not self.unit:
            raise ValueError(f'typed_in = "{self.typed_in}" does not go with unit = "{self.unit.value}"')
        return self

    @property
    def kept_in(self) -> Unit:
        """The unit in which the value is kept."""
        return self.unit or UNITS[self.typed_in or "V"][0]

    def kept(self, value: float) -> float:
        """A number of this line in the unit in which it is kept."""
        return value if self.typed_in is None else in_si(value, self.typed_in)

    def open(self, sitting: Sitting) -> Conduct:
        """Ask for it."""
        return _Recording(self, sitting)


class _Recording(Conduct):
    def __init__(self, line: RecordValue, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line
        self._doubted: float | None = None
        self._trouble = ""

    def answer(self, name: str, answer: Answer) -> None:
        line = self._line
        if answer.choice == NOT_MEASURED:
            reason = answer.text or "a person chose not to measure it"
            self.sitting.record(line.name, line.channel, None, line.kept_in, reason)
            if self._limit() is not None:
                words = f"{line.name}: {reason}"
                self.sitting.judge(line.channel, Outcome.NOT_MEASURED, words, None, self._subject)
            self.end("not measured", reason)
            return
        try:
            value = self._typed(answer.text)
        except ValueError as refusal:
            self._trouble = f"{refusal} "
            return
        if self._implausible(value) and value != self._doubted:
            self._doubted = value
            self._trouble = f"Type it again if {figure(value, line.kept_in)} is right: it is unusual. "
            return
        self.sitting.record(line.name, line.channel, value, line.kept_in, typed="yes")
        self._judge(value)

    def _typed(self, text: str) -> float:
        if self._line.typed_in is not None:
            return typed_value(text, self._line.typed_in)
        value = _number(text)
        if value is None:
            raise ValueError(f'Type a number in {self._line.kept_in.value}: "{text[:20]}" is none.')
        return value

    def _implausible(self, value: float) -> bool:
        line = self._line
        least = None if line.least is None else line.kept(line.least)
        most = None if line.most is None else line.kept(line.most)
        return (least is not None and value < least - 1e-12 * abs(least)) or (
            most is not None and value > most + 1e-12 * abs(most)
        )

    @property
    def _subject(self) -> str:
        return "" if self._line.channel is not None else self._line.name

    def _limit(self) -> TypedLimit | None:
        outcomes = self.sitting.outcomes
        return next(
            (
                one
                for one in self._line.limit
                if (one.step is None or outcomes.get(one.step) in one.ended) and self._is_known(one)
            ),
            None,
        )

    def _is_known(self, limit: TypedLimit) -> bool:
        """Whether the amplifier says what the limit goes by."""
        if limit.own_offset_limit:
            return self._offset_volts() is not None
        return limit.of_emitter_resistor_percent is None or self._emitter_ohm() is not None

    def _offset_volts(self) -> float | None:
        amplifier = self.sitting.amplifier
        limit = amplifier.offset_limit_millivolts if amplifier else None
        return None if limit is None else limit / 1000.0

    def _emitter_ohm(self) -> float | None:
        amplifier = self.sitting.amplifier
        channel = self._line.channel
        described = amplifier.channel_named(channel) if amplifier and channel else None
        if amplifier is None:
            return None
        return amplifier.emitter_resistor_ohm(described or amplifier.channel[0])

    def _bounds(self, limit: TypedLimit) -> tuple[float | None, float | None]:
        """Low and high in the unit in which the value is kept."""
        line, resistor = self._line, self._emitter_ohm()
        if limit.of_emitter_resistor_percent is not None and resistor is not None:
            share = limit.of_emitter_resistor_percent / 100.0
            return resistor * (1.0 - share), resistor * (1.0 + share)
        offset = self._offset_volts()
        if limit.own_offset_limit and offset is not None:
            return -offset, offset
        low = None if limit.low is None else line.kept(limit.low)
        return low, None if limit.high is None else line.kept(limit.high)

    def _judge(self, value: float) -> None:
        line, limit = self._line, self._limit()
        said = figure(value, line.kept_in)
        if limit is None:
            self.end("recorded", said)
            return
        low, high = self._bounds(limit)
        slack = 1e-9 * max(abs(low or 0.0), abs(high or 0.0))
        outside = (low is not None and value < low - slack) or (high is not None and value > high + slack)
        words = f"{line.name}: {said}, {_span(low, high, line.kept_in)} ({limit.source})"
        outcome = Outcome.FAILED if outside else Outcome.PASSED
        self.sitting.judge(line.channel, outcome, words, value, self._subject)
        self.end("outside" if outside else "inside", words)

    def prompt(self) -> Prompt:
        line = self._line
        skip = Choice(NOT_MEASURED, "Not measured")
        text = line.text
        if line.typed_in is not None:
            text = f"{text.rstrip('.')} ({shown(line.typed_in)})."
        asked_unit = line.unit if line.typed_in is None else None
        asked = Asked(TYPED, self._trouble + text, AnswerKind.VALUE, (skip,), asked_unit)
        return Prompt(self._trouble + text, line.caution or "", asked)


def _span(low: float | None, high: float | None, unit: Unit) -> str:
    if low is not None and high is not None:
        return f"where {figure(low, unit)} to {figure(high, unit)} is asked for"
    if high is not None:
        return f"where at most {figure(high, unit)} is asked for"
    return f"where at least {figure(low or 0.0, unit)} is asked for"


def _number(text: str) -> float | None:
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) else None
