"""Confirm: do something, then say so by the one key."""

from __future__ import annotations

from typing import ClassVar, Literal

from procedures.events import Answer, Choice
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, Conduct, Prompt, StepFields, Words


class Confirm(StepFields):
    """An instruction, with the word on the key that says that it was done."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("done",)

    kind: Literal["confirm"]
    text: Words
    key: Words = "Done"
    caution: Words | None = None

    def open(self, sitting: Sitting) -> Conduct:
        """Ask for it."""
        return _Confirming(self, sitting)


class _Confirming(Conduct):
    def __init__(self, line: Confirm, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line

    def answer(self, name: str, answer: Answer) -> None:
        self.end("done", answer.text)

    def prompt(self) -> Prompt:
        line = self._line
        choices = (Choice("done", line.key, default=True),)
        return Prompt(line.text, line.caution or "", Asked("done", line.text, choices=choices))
