"""Record value: a figure that a person reads somewhere and types, with its unit and what is plausible."""

from __future__ import annotations

import math
from typing import ClassVar, Literal

from pydantic import model_validator

from drivers.reading import Unit
from procedures.analysis.figures import figure
from procedures.events import Answer, AnswerKind, Choice
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, ChannelName, Conduct, Prompt, StepFields, Words

NOT_MEASURED = "not measured"
TYPED = "typed"


class RecordValue(StepFields):
    """A typed value that is kept under a name. `least` and `most` bound what is taken without asking again.

    The answer's text is the value in the unit of the question (SI: volts, degrees Celsius).
    """

    OUTCOMES: ClassVar[tuple[str, ...]] = ("recorded", "not measured")
    HANDS: ClassVar[bool] = False

    kind: Literal["record"]
    text: Words
    name: Words
    unit: Unit
    channel: ChannelName | None = None
    least: float | None = None
    most: float | None = None

    @model_validator(mode="after")
    def _bounds_in_order(self) -> RecordValue:
        if self.least is not None and self.most is not None and self.least >= self.most:
            raise ValueError(f"least is {self.least:g} and most {self.most:g}; least must be below most")
        return self

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
            self.sitting.record(line.name, line.channel, None, line.unit, reason)
            self.end("not measured", reason)
            return
        value = _number(answer.text)
        if value is None:
            self._trouble = f'Type a number in {line.unit.value}: "{answer.text[:20]}" is none. '
        elif self._implausible(value) and value != self._doubted:
            self._doubted = value
            self._trouble = f"Type it again if {figure(value, line.unit)} is right: it is unusual. "
        else:
            self.sitting.record(line.name, line.channel, value, line.unit, typed="yes")
            self.end("recorded", figure(value, line.unit))

    def _implausible(self, value: float) -> bool:
        line = self._line
        return (line.least is not None and value < line.least) or (
            line.most is not None and value > line.most
        )

    def prompt(self) -> Prompt:
        line = self._line
        skip = Choice(NOT_MEASURED, "Not measured")
        asked = Asked(TYPED, self._trouble + line.text, AnswerKind.VALUE, (skip,), line.unit)
        return Prompt(self._trouble + line.text, asked=asked)


def _number(text: str) -> float | None:
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) else None
