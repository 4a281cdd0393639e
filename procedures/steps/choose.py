"""Choose: a question with a few answers; later steps may depend on the answer."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from procedures.events import Answer, Outcome
from procedures.events import Choice as Offered
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, Conduct, Prompt, StepFields, Words


class ChoiceLine(BaseModel):
    """One answer: `key` is the outcome word, `text` what a person reads.

    With `verdict` this answer is a judgement on what the step's title names.
    """

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid")

    key: Words
    text: Words
    default: bool = False
    verdict: Outcome | None = None


class Choose(StepFields):
    """A question; the key of the chosen answer is the outcome."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ()
    HANDS: ClassVar[bool] = False

    kind: Literal["choose"]
    text: Words
    choices: tuple[ChoiceLine, ...] = Field(min_length=2, max_length=9)

    @model_validator(mode="after")
    def _one_default_and_no_key_twice(self) -> Choose:
        keys = [choice.key for choice in self.choices]
        if len(set(keys)) != len(keys):
            raise ValueError("two of the choices have the same key")
        if sum(choice.default for choice in self.choices) > 1:
            raise ValueError("only one of the choices can be the default")
        return self

    def outcomes(self) -> tuple[str, ...]:
        """The keys of the answers."""
        return tuple(choice.key for choice in self.choices)

    def open(self, sitting: Sitting) -> Conduct:
        """Ask."""
        return _Choosing(self, sitting)


class _Choosing(Conduct):
    def __init__(self, line: Choose, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line

    def answer(self, name: str, answer: Answer) -> None:
        chosen = next((c for c in self._line.choices if c.key == answer.choice), None)
        if chosen is not None and chosen.verdict is not None:
            title = self._line.title
            self.sitting.judge(None, chosen.verdict, f"{title}: {chosen.text}", subject=title)
        if chosen is not None:
            self.end(chosen.key, chosen.text)

    def prompt(self) -> Prompt:
        offered = tuple(Offered(c.key, c.text, c.default) for c in self._line.choices)
        return Prompt(self._line.text, asked=Asked("choice", self._line.text, choices=offered))
