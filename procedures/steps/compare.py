"""Compare: values that were taken down lie close together, or they do not.

Two channels under one name, a value before and one after, several operations of a contact. Nothing is
measured here; a value that is missing is not measured, and never zero.
"""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field, model_validator

from procedures.analysis.figures import figure, percent
from procedures.events import Outcome, RecordedValue
from procedures.steps.sitting import Sitting
from procedures.steps.step import ChannelName, Conduct, Prompt, StepFields, Words
from procedures.steps.typed_units import UNITS, TypedIn, in_si

ALIKE, APART = "alike", "apart"


class Compare(StepFields):
    """What is compared: `channels` by what was recorded under `name`, or `values` by their names.

    A value of a channel is written with it: `left bias: before the load`.

    `within_percent` is a share of the largest, `within` a difference in the unit `typed_in`. With
    `judged = false` the difference is said and kept, and is no failure.
    """

    OUTCOMES: ClassVar[tuple[str, ...]] = (ALIKE, APART, "not measured")
    HANDS: ClassVar[bool] = False

    kind: Literal["compare"]
    name: Words | None = None
    channels: tuple[ChannelName, ...] = Field(default=(), max_length=64)
    values: tuple[Words, ...] = Field(default=(), max_length=64)
    within_percent: float | None = Field(default=None, gt=0.0, le=100.0)
    within: float | None = Field(default=None, gt=0.0)
    typed_in: TypedIn = "mV"
    judged: bool = True

    @model_validator(mode="after")
    def _says_what_with_what(self) -> Compare:
        if bool(self.channels) == bool(self.values):
            raise ValueError("say what is compared: channels with name, or values, and not both")
        if self.channels and self.name is None:
            raise ValueError("channels are compared by a recorded value: say which one as name")
        if len(self.channels or self.values) < 2:
            raise ValueError("two or more are needed to compare")
        if (self.within is None) == (self.within_percent is None):
            raise ValueError("say how close they must be, once: within_percent, or within with typed_in")
        return self

    def open(self, sitting: Sitting) -> Conduct:
        """Compare."""
        return _Comparing(self, sitting)


class _Comparing(Conduct):
    def __init__(self, line: Compare, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line

    def begin(self) -> None:
        line, sitting = self._line, self.sitting
        names = [(line.name or "", channel) for channel in line.channels]
        wanted: list[tuple[str, str | None]] = [*names] if names else [(name, None) for name in line.values]
        found = [self._newest(name, channel) for name, channel in wanted]
        measured = [one for one in found if one is not None and one.value is not None]
        if len(measured) < len(wanted):
            missing = [
                channel or name
                for (name, channel), one in zip(wanted, found, strict=True)
                if one is None or one.value is None
            ]
            self._say(Outcome.NOT_MEASURED, "not measured", f"{' and '.join(missing)} not measured")
            return
        values = [one.value for one in measured if one.value is not None]
        spread, size = max(values) - min(values), max(abs(value) for value in values)
        unit = measured[0].unit
        units = {one.unit for one in measured}
        if line.within is not None:
            units.add(UNITS[line.typed_in][0])
        if len(units) > 1:
            named = " and ".join(sorted(one.value for one in units))
            self._say(Outcome.NOT_MEASURED, "not measured", f"values in {named} cannot be compared")
            return
        words = f"{', '.join(figure(v, unit) for v in values)}: {figure(spread, unit)} apart"
        if line.within is not None:
            limit = in_si(line.within, line.typed_in)
            close, limit_words = spread <= limit * (1.0 + 1e-9), figure(limit, unit)
        else:
            share = (line.within_percent or 0.0) / 100.0
            close, limit_words = spread <= share * size * (1.0 + 1e-9), percent(share)
        sitting.record(line.title, None, spread, unit)
        if close:
            self._say(Outcome.PASSED, ALIKE, f"{words}, within {limit_words}", spread)
        else:
            self._say(Outcome.FAILED, APART, f"{words}, more than {limit_words}", spread)

    def _newest(self, name: str, channel: str | None) -> RecordedValue | None:
        if channel is not None:
            return self.sitting.recorded_value(name, channel)
        before, _, after = name.partition(": ")
        if before in self.sitting.channels:
            return self.sitting.recorded_value(after, before)
        return next((r for r in reversed(self.sitting.recorded) if r.name == name), None)

    def _say(self, outcome: Outcome, word: str, reason: str, spread: float | None = None) -> None:
        if self._line.judged:
            self.sitting.judge(None, outcome, f"{self._line.title}: {reason}", spread, self._line.title)
        self.end(word, reason)

    def prompt(self) -> Prompt:
        return Prompt("")
