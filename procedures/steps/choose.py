"""Choose: a question with a few answers; later steps may depend on the answer.

Where an answer follows from the amplifier's file it is offered as the usual one, and the question says so: a
person still answers, because the file may be wrong about this unit.
"""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from procedures.amplifier import Amplifier
from procedures.entries import Entry
from procedures.events import Answer, Outcome
from procedures.events import Choice as Offered
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, Conduct, Prompt, StepFields, Words


class AmplifierSays(Entry):
    """What an amplifier's file must say, all of it, for an answer to be the usual one."""

    offset_trim: Literal["trimmer", "servo", "none"] | None = None
    offset_before_bias: bool | None = None
    bridged: bool | None = None
    supply: Literal["linear", "switching"] | None = None

    @model_validator(mode="after")
    def _says_something(self) -> AmplifierSays:
        if not self.model_fields_set:
            raise ValueError(f"say which entry of the amplifier counts: {', '.join(type(self).model_fields)}")
        return self

    def holds(self, amplifier: Amplifier | None) -> bool:
        """Whether the file says so; a file that says nothing does not."""
        if amplifier is None:
            return False
        return all(getattr(amplifier, key) == getattr(self, key) for key in self.model_fields_set)


class ChoiceLine(BaseModel):
    """One answer: `key` is the outcome word, `text` what a person reads.

    With `verdict` this answer is a judgement on what the step's title names. With `amplifier_says` it takes
    the place of the default where the amplifier's file says so.
    """

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid")

    key: Words
    text: Words
    default: bool = False
    verdict: Outcome | None = None
    amplifier_says: AmplifierSays | None = None


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
        line, known = self._line, self._known()
        text = line.text
        if known is not None:
            text = f"{text.rstrip('.')}. This amplifier's file says: {known.text}."
        offered = tuple(
            Offered(c.key, c.text, c.default if known is None else c is known) for c in line.choices
        )
        return Prompt(text, asked=Asked("choice", line.text, choices=offered))

    def _known(self) -> ChoiceLine | None:
        """The answer that follows from the amplifier's file; None where none does."""
        amplifier = self.sitting.amplifier
        said = (c for c in self._line.choices if c.amplifier_says and c.amplifier_says.holds(amplifier))
        return next(said, None)
