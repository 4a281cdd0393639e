"""Note: words of the technician's own, or none."""

from __future__ import annotations

from typing import ClassVar, Literal

from procedures.events import Answer, AnswerKind, Choice
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, Conduct, Prompt, StepFields, Words


class Note(StepFields):
    """A question that is answered in words; saying nothing is an answer."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("noted", "nothing to note")
    HANDS: ClassVar[bool] = False

    kind: Literal["note"]
    text: Words

    def open(self, sitting: Sitting) -> Conduct:
        """Ask."""
        return _Noting(self, sitting)


class _Noting(Conduct):
    def __init__(self, line: Note, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line

    def answer(self, name: str, answer: Answer) -> None:
        words = answer.text.strip()
        self.end("noted" if words else "nothing to note", words)

    def prompt(self) -> Prompt:
        nothing = Choice("nothing", "Nothing to note", default=True)
        asked = Asked("words", self._line.text, AnswerKind.TEXT, (nothing,))
        return Prompt(self._line.text, asked=asked)
