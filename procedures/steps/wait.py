"""Wait: let a stated time pass, with the readings watched."""

from __future__ import annotations

import math
from typing import ClassVar, Literal

from pydantic import Field

from procedures import cautions
from procedures.analysis.figures import duration
from procedures.events import Answer, Choice, Input
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, Conduct, Prompt, StepFields, Words

GO_ON = "go on"


class Wait(StepFields):
    """Minutes to wait, and what for."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("waited", "cut short")
    HANDS: ClassVar[bool] = False

    kind: Literal["wait"]
    minutes: float = Field(gt=0.0, le=24 * 60.0)
    text: Words

    def open(self, sitting: Sitting) -> Conduct:
        """Start waiting."""
        return _Waiting(self, sitting)


class _Waiting(Conduct):
    def __init__(self, line: Wait, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line
        self._from_s = sitting.at_s
        self._until_s = sitting.at_s + line.minutes * 60.0

    def feed(self, fact: Input) -> None:
        if self.sitting.at_s >= self._until_s:
            self.end("waited", f"waited {duration(self.sitting.at_s - self._from_s)}")

    def answer(self, name: str, answer: Answer) -> None:
        if answer.choice == GO_ON:
            waited = duration(self.sitting.at_s - self._from_s)
            self.end("cut short", f"cut short by a person after {waited}")

    def deadline_s(self) -> float | None:
        minute = 60.0 * (math.floor((self.sitting.at_s - self._from_s) / 60.0) + 1)
        return min(self._until_s, self._from_s + minute)

    def prompt(self) -> Prompt:
        left_min = max(1, math.ceil((self._until_s - self.sitting.at_s) / 60.0 - 1e-6))
        text = f"{self._line.text.rstrip('.')}: {left_min} min left."
        progress = (self.sitting.at_s - self._from_s) / (self._until_s - self._from_s)
        # Not the default choice: the one key must not shorten a wait by accident.
        asked = Asked("wait", self._line.text, choices=(Choice(GO_ON, "Go on without waiting"),))
        return Prompt(text, cautions.WARM, asked, progress=min(1.0, progress))
