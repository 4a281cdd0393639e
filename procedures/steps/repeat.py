"""Repeat: go back to an earlier step, a bounded number of times. Its conditions say when it is called for.

With `until` it repeats for as long as one of these does not hold: "until both stay" is two channels found
inside.
"""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from procedures.steps.sitting import Sitting
from procedures.steps.step import Conduct, Prompt, Requirement, StepFields, StepId


class Repeat(StepFields):
    """Where to go back to, and how often at the most."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("again", "enough", "reached")
    HANDS: ClassVar[bool] = False

    kind: Literal["repeat"]
    back_to: StepId
    at_most: int = Field(ge=1, le=20)
    until: tuple[Requirement, ...] = Field(default=(), max_length=10)

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
        if line.until and all(self._holds(wanted) for wanted in line.until):
            self.end("reached", "what it was repeated for has been reached")
            return
        if done >= line.at_most:
            self.end("enough", f"repeated {done} times, which is the most that this procedure allows")
            return
        rounds[line.id] = done + 1
        self.back_to = line.back_to
        self.end("again", f"round {done + 2}")

    def _holds(self, wanted: Requirement) -> bool:
        if wanted.step is not None:
            return self.sitting.outcomes.get(wanted.step) in wanted.ended
        return self.sitting.findings.get(wanted.channel or "") in wanted.found

    def prompt(self) -> Prompt:
        return Prompt("")
