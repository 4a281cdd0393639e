"""Inspect: a checklist. Each thing is looked at and called right, wrong, or not there.

Words and the names of pictures go with it where there are any.
"""

from __future__ import annotations

from enum import StrEnum
from typing import ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from procedures.events import Answer, AnswerKind, Choice, Outcome
from procedures.observed import WHICH_PHOTOGRAPH, CheckResult, Inspected
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, Conduct, Prompt, StepFields, StepId, Words

_NOTE, _PHOTOGRAPH, _NOTHING = "note", "photograph", "nothing"


class ItemLine(BaseModel):
    """One thing to look at; `wrong` says how it looks when it is not right."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid")

    id: StepId
    text: Words
    wrong: Words | None = None


class Inspect(StepFields):
    """The things to look at, in order. With `judged = false` what is wrong is kept and decides nothing."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("passed", "failed")

    kind: Literal["inspect"]
    item: tuple[ItemLine, ...] = Field(min_length=1, max_length=60)
    caution: Words | None = None
    judged: bool = True

    @model_validator(mode="after")
    def _each_once(self) -> Inspect:
        ids = [item.id for item in self.item]
        twice = next((name for name in ids if ids.count(name) > 1), None)
        if twice:
            raise ValueError(f'two things to look at are called "{twice}"; each needs its own id')
        return self

    def open(self, sitting: Sitting) -> Conduct:
        """Start with the first."""
        return _Inspecting(self, sitting)


class _Wanted(StrEnum):
    """What is asked about the thing in hand."""

    RESULT = "look"
    WHAT_IS_WRONG = "wrong"
    NOTE = "note"
    PHOTOGRAPH = "photograph"


class _Inspecting(Conduct):
    def __init__(self, line: Inspect, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line
        self._at = 0
        self._failed: list[str] = []
        self._start()

    def _start(self) -> None:
        self._wanted = _Wanted.RESULT
        self._words: list[str] = []
        self._photographs: list[str] = []

    def answer(self, name: str, answer: Answer) -> None:
        said = answer.text.strip()
        if self._wanted is _Wanted.RESULT:
            self._take_result(answer.choice)
        elif self._wanted is _Wanted.PHOTOGRAPH:
            if said and said not in self._photographs:
                self._photographs.append(said)
            self._wanted = _Wanted.RESULT
        else:
            if said:
                self._words.append(said)
            if self._wanted is _Wanted.WHAT_IS_WRONG:
                self._close(CheckResult.FAILED)
            else:
                self._wanted = _Wanted.RESULT

    def _take_result(self, choice: str) -> None:
        if choice == CheckResult.FAILED:
            self._wanted = _Wanted.WHAT_IS_WRONG
        elif choice in (CheckResult.PASSED, CheckResult.NOT_THERE):
            self._close(CheckResult(choice))
        elif choice == _NOTE:
            self._wanted = _Wanted.NOTE
        elif choice == _PHOTOGRAPH:
            self._wanted = _Wanted.PHOTOGRAPH

    def _close(self, result: CheckResult) -> None:
        item, sitting = self._line.item[self._at], self.sitting
        words = "; ".join(self._words)
        first, *further = self._photographs or [""]
        sitting.looked_at(
            Inspected(sitting.at_s, sitting.step, item.id, item.text, result, words, first, tuple(further))
        )
        if result is CheckResult.FAILED:
            self._failed.append(f"{item.wrong or item.text.rstrip('.')}{f' ({words})' if words else ''}")
        self._at += 1
        self._start()
        if self._at == len(self._line.item):
            self._finish()

    def _finish(self) -> None:
        line, total = self._line, len(self._line.item)
        outcome = Outcome.FAILED if self._failed else Outcome.PASSED
        reason = f"{total} looked at, nothing wrong seen"
        if self._failed:
            reason = f"{len(self._failed)} of {total} wrong: {'; '.join(self._failed)}"
        if line.judged:
            self.sitting.judge(None, outcome, f"{line.title}: {reason}", subject=line.title)
        self.end(outcome.value, reason)

    def prompt(self) -> Prompt:
        if self._at >= len(self._line.item):
            return Prompt("")
        item = self._line.item[self._at]
        place = f"{self._at + 1} of {len(self._line.item)}"
        name = f"{self._wanted.value} {item.id} {len(self._words)} {' '.join(self._photographs)}".strip()
        caution = self._line.caution or ""
        if self._wanted is _Wanted.RESULT:
            choices = (
                Choice(CheckResult.PASSED, "It is right", default=True),
                Choice(CheckResult.FAILED, "It is wrong"),
                Choice(CheckResult.NOT_THERE, "Does not apply"),
                Choice(_NOTE, "Note something"),
                Choice(_PHOTOGRAPH, "Name a photograph"),
            )
            text = f"{item.text.rstrip('.')} ({place})."
            return Prompt(text, caution, Asked(name, text, choices=choices))
        text = {
            _Wanted.WHAT_IS_WRONG: f"Say what is wrong: {item.wrong or item.text}",
            _Wanted.NOTE: f"Say what is to be noted: {item.text}",
            _Wanted.PHOTOGRAPH: WHICH_PHOTOGRAPH,
        }[self._wanted]
        nothing = Choice(_NOTHING, "Nothing to add", default=True)
        return Prompt(text, caution, Asked(name, text, AnswerKind.TEXT, (nothing,)))
