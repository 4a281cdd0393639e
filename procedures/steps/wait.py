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
SHORT_S = 120.0  # counted down in seconds


class Wait(StepFields):
    """Minutes to wait, and what for; `after_relay` takes the time of the amplifier's file."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("waited", "cut short")
    HANDS: ClassVar[bool] = False

    kind: Literal["wait"]
    minutes: float = Field(gt=0.0, le=24 * 60.0)
    text: Words
    after_relay: bool = False

    def length_s(self, sitting: Sitting) -> float:
        """How long it is for this amplifier, in seconds."""
        amplifier = sitting.amplifier
        if self.after_relay and amplifier is not None and amplifier.offset_after_relay_s is not None:
            return amplifier.offset_after_relay_s
        return self.minutes * 60.0

    def open(self, sitting: Sitting) -> Conduct:
        """Start waiting."""
        return _Waiting(self, sitting)


class _Waiting(Conduct):
    def __init__(self, line: Wait, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line
        self._from_s = sitting.at_s
        self._until_s = sitting.at_s + line.length_s(sitting)
        self._beat_s = 60.0 if self._until_s - self._from_s >= SHORT_S else 1.0

    def feed(self, fact: Input) -> None:
        if self.sitting.at_s >= self._until_s:
            self.end("waited", f"waited {duration(self.sitting.at_s - self._from_s)}")

    def answer(self, name: str, answer: Answer) -> None:
        if answer.choice == GO_ON:
            waited = duration(self.sitting.at_s - self._from_s)
            self.end("cut short", f"cut short by a person after {waited}")

    def deadline_s(self) -> float | None:
        beat = self._beat_s * (math.floor((self.sitting.at_s - self._from_s) / self._beat_s) + 1)
        return min(self._until_s, self._from_s + beat)

    def prompt(self) -> Prompt:
        left = max(1, math.ceil((self._until_s - self.sitting.at_s) / self._beat_s - 1e-6))
        text = f"{self._line.text.rstrip('.')}: {left} {'min' if self._beat_s > 1.0 else 's'} left."
        progress = (self.sitting.at_s - self._from_s) / (self._until_s - self._from_s)
        # Not the default choice: the one key must not shorten a wait by accident.
        asked = Asked("wait", self._line.text, choices=(Choice(GO_ON, "Go on without waiting"),))
        return Prompt(text, cautions.WARM, asked, progress=min(1.0, progress), by_itself=True)
