"""What every step has: its line in a procedure file, and the conduct of one step while it is carried out.

A *step* is the line (`StepLine` of a file: frozen, checked before the run). A *conduct* is that line being
carried out once: it takes the facts that concern it, says at any moment what it wants (`Prompt`), and ends
with one outcome word and a reason. It never keeps time of its own and never talks to a meter.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, ClassVar

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from drivers.reading import Unit
from procedures.events import Answer, AnswerKind, Choice, Input, StepState
from procedures.steps.sitting import Sitting

StepId = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=60)]
Words = Annotated[str, StringConstraints(min_length=1, max_length=400, strip_whitespace=True)]
ChannelName = Annotated[str, StringConstraints(min_length=1, max_length=60, strip_whitespace=True)]


@dataclass(frozen=True, slots=True)
class Asked:
    """A question as a conduct wants it asked; the run gives it its id."""

    name: str
    text: str
    kind: AnswerKind = AnswerKind.CHOICE
    choices: tuple[Choice, ...] = ()
    unit: Unit | None = None


@dataclass(frozen=True, slots=True)
class Prompt:
    """All that a step wants of the person at this moment.

    `key_label` and `key_fact` are what the one key does; where they are empty, the default choice of the
    question takes their place. `focus` is the channel in hand. `by_itself`: readings or the clock end this
    step, and what is asked beside it is only a way round.
    """

    text: str
    caution: str = ""
    asked: Asked | None = None
    key_label: str = ""
    key_fact: Input | None = None
    focus: str | None = None
    progress: float | None = None
    by_itself: bool = False


@dataclass(frozen=True, slots=True)
class Ending:
    """How a step ended: `outcome` is one of the words of its kind, for the conditions of later steps."""

    outcome: str
    reason: str = ""
    state: StepState = StepState.DONE


class Conduct:
    """One step being carried out."""

    needs_power: bool = False
    """While the amplifier is off, the run first asks for power."""
    needs_warmth: bool = False
    """After a loss of power the run first warms up again."""

    def __init__(self, sitting: Sitting) -> None:
        self.sitting = sitting
        self.ending: Ending | None = None
        self.back_to: str | None = None
        """Where the course goes next, if not to the following step."""

    def begin(self) -> None:
        """Start, at `sitting.at_s`."""

    def feed(self, fact: Input) -> None:
        """Take a fact that the sitting and the analysis have already taken."""

    def lose_power(self) -> None:
        """The amplifier is off although `needs_power`: facts are kept from this step until it is on again."""

    def answer(self, name: str, answer: Answer) -> None:
        """Take the answer to the question `name` of this conduct."""

    @abstractmethod
    def prompt(self) -> Prompt:
        """What is wanted now."""
        raise NotImplementedError

    def deadline_s(self) -> float | None:
        """When this step wants to be looked at even if nothing happens."""
        return None

    def leave(self) -> None:
        """Tidy up: the step ended, was left, or the run was stopped."""

    def end(self, outcome: str, reason: str = "", state: StepState = StepState.DONE) -> None:
        """End with an outcome word of this kind."""
        self.ending = Ending(outcome, reason, state)


class Requirement(BaseModel):
    """One condition under which a step is carried out.

    Either `step` with the outcomes it must have `ended` with, or `channel` with what its newest judged
    measurement must have `found`.
    """

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)

    step: StepId | None = None
    ended: tuple[str, ...] = ()
    channel: ChannelName | None = None
    found: tuple[str, ...] = ()

    def met(self, endings: Mapping[str, Ending], findings: Mapping[str, str]) -> bool:
        """Whether it holds, given how steps ended and what was found of channels."""
        if self.step is not None:
            return self.step in endings and endings[self.step].outcome in self.ended
        return self.channel is not None and findings.get(self.channel) in self.found


class StepFields(BaseModel):
    """What every line of a procedure has, whatever its kind."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)

    OUTCOMES: ClassVar[tuple[str, ...]] = ("done",)
    """The words that this kind may end with, for conditions of later steps."""
    HANDS: ClassVar[bool] = True
    """Whether it sends hands to the unit (a procedure without such steps needs no cautions)."""

    id: StepId
    title: Words
    if_all: tuple[Requirement, ...] = Field(default=(), max_length=10)
    if_any: tuple[Requirement, ...] = Field(default=(), max_length=10)

    @abstractmethod
    def open(self, sitting: Sitting) -> Conduct:
        """Start carrying this line out."""
        raise NotImplementedError

    def wanted(self, endings: Mapping[str, Ending], findings: Mapping[str, str]) -> bool:
        """Whether its conditions call for it now."""
        return all(r.met(endings, findings) for r in self.if_all) and (
            not self.if_any or any(r.met(endings, findings) for r in self.if_any)
        )

    def unfit(self, sitting: Sitting) -> str:
        """Why this amplifier has no such step, in words; empty when it has."""
        return ""

    def outcomes(self) -> tuple[str, ...]:
        """The outcome words that this very line may end with."""
        return self.OUTCOMES
