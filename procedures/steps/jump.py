"""Jump: go on at a later step when its conditions hold. Only forwards, so that no jump can go in a circle."""

from __future__ import annotations

from typing import ClassVar, Literal

from procedures.steps.sitting import Sitting
from procedures.steps.step import Conduct, Prompt, StepFields, StepId


class Jump(StepFields):
    """The later step to go on at."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("jumped",)
    HANDS: ClassVar[bool] = False

    kind: Literal["jump"]
    to: StepId

    def open(self, sitting: Sitting) -> Conduct:
        """Go there."""
        return _Jumping(self, sitting)


class _Jumping(Conduct):
    def __init__(self, line: Jump, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line

    def begin(self) -> None:
        self.back_to = self._line.to
        self.end("jumped")

    def prompt(self) -> Prompt:
        return Prompt("")
