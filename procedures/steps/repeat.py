"""Repeat: go back to an earlier step, a bounded number of times. Its conditions say when it is called for."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from procedures.steps.sitting import Sitting
from procedures.steps.step import Conduct, Prompt, StepFields, StepId


class Repeat(StepFields):
    """Where to go back to, and how often at the most."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("again", "enough")
    HANDS: ClassVar[bool] = False

    kind: Literal["repeat"]
    back_to: StepId
    at_most: int = Field(ge=1, le=20)

    def open(self, sitting: Sitting) -> Conduct:
        """Decide whether to go back once more."""
        return _Repeating(self, sitting)


class _Repeating(Conduct):
    def __init__(self, line: Repeat, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line

    def begin(self) -> None:
        line, rounds = self._line, self.sitting.rounds
        done = rounds.get(line.id, 0)
        if done >= line.at_most:
            self.end("enough", f"repeated {done} times, which is the most that this procedure allows")
            return
        rounds[line.id] = done + 1
        self.back_to = line.back_to
        self.end("again", f"round {done + 2}")

    def prompt(self) -> Prompt:
        return Prompt("")
