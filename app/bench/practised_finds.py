"""What practised hands do besides trimming: read other instruments, look at things, try trimmers, go round.

The unit says what is found (`PracticeControls`); here is only how a careful person would act on it. Not here:
trimming by the reading, and the mains (`practised_hands`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

from app.windows.ports import PracticeControls
from procedures.events import Question, StepState
from procedures.observed import CheckResult
from procedures.procedure import Procedure
from procedures.steps.protection import POLARITIES, STAYED, protection_name
from procedures.steps.record_value import NOT_MEASURED, RecordValue
from procedures.steps.round import Round
from procedures.view import RunView

NUDGE = 0.012  # of the trimmer's travel: some three degrees
MOST_NUDGED = 0.12
BETWEEN_NUDGES_S = 4.0
BACK_WITHIN_S = 12.0
PART = "--"  # between the name of a part of a route and a step of it


class HandedPractice(PracticeControls, Protocol):
    """A simulated unit with all that hands, eyes and other instruments find at it."""

    def hold(self, channel: str, point: str) -> None:
        """Hold the probe of this channel on another point of it, such as `pair 3`; "" is its own."""
        ...

    def read_off(self, name: str) -> float | None:
        """What another instrument shows under a name, as it shows it; None where there is no such one."""
        ...

    def wrong(self, item: str) -> str | None:
        """What is seen to be wrong with a thing that is looked at; None when it is right."""
        ...

    def answer_to(self, step: str) -> str | None:
        """What this unit answers to the question of a step; None when it says nothing about it."""
        ...


class AnsweringBench(Protocol):
    """What is needed of a bench here."""

    def answer(self, question: str, choice: str, text: str = "") -> None:
        """Answer a question."""
        ...

    def press_next(self) -> None:
        """Press the one key."""
        ...


class PractisedFinds:
    """Answers what has nothing to do with a trimmer in the hand; `takes` says whether it did."""

    def __init__(
        self,
        bench: AnsweringBench,
        practice: HandedPractice,
        procedure: Procedure,
        answers: Mapping[str, str],
    ) -> None:
        self._bench = bench
        self._practice = practice
        self._procedure = procedure
        self._answers = answers
        self._question = ""
        self._asked_s = 0.0
        self._tried: dict[str, float] = {}
        self._next_s = 0.0
        self._back_s: float | None = None

    def takes(self, view: RunView, question: Question, now_s: float) -> bool:
        """Whether the question was one of these; it is then answered, or being worked on."""
        line = self._procedure.step_named(question.step)
        name = question.id.rsplit("/", 1)[-1]
        if question.id != self._question:
            self._question, self._asked_s = question.id, now_s
        kind = line.kind if line is not None else ""
        if kind == "inspect":
            self._look(question, name.split())
        elif isinstance(line, RecordValue) and name == "typed":
            self._read_off(question, line)
        elif kind == "protection" and name in POLARITIES:
            self._hear_relay(question, protection_name(name))
        elif kind == "choose":
            return self._choose(question)
        elif kind == "nudge":
            self._nudge(view, question, name, now_s)
        elif isinstance(line, Round) and view.focus is not None and name.startswith("point "):
            self._go_round(view, question, line, now_s)
        else:
            return False
        return True

    def _look(self, question: Question, words: list[str]) -> None:
        wrong = self._practice.wrong(words[1])
        if words[0] == "look":
            choice = CheckResult.PASSED if wrong is None else CheckResult.FAILED
            self._bench.answer(question.id, choice.value)
        else:
            self._bench.answer(question.id, "", wrong or "")

    def _read_off(self, question: Question, line: RecordValue) -> None:
        shown = self._practice.read_off(line.name)
        if shown is None:
            self._bench.answer(question.id, NOT_MEASURED, "there is no such instrument on this bench")
        else:
            self._bench.answer(question.id, "", f"{shown:g}")

    def _hear_relay(self, question: Question, name: str) -> None:
        shown = self._practice.read_off(name)
        self._bench.answer(
            question.id, STAYED if shown is None else "", "" if shown is None else f"{shown:g}"
        )

    def _choose(self, question: Question) -> bool:
        step = question.step.rpartition(PART)[2]
        chosen = self._answers.get(question.step) or self._answers.get(step) or self._practice.answer_to(step)
        if chosen is None or chosen not in [choice.key for choice in question.choices]:
            return False
        self._bench.answer(question.id, chosen)
        return True

    # --- probes and trimmers ------------------------------------------------------------------------

    def _nudge(self, view: RunView, question: Question, name: str, now_s: float) -> None:
        channel = view.focus
        if channel is None or now_s < self._next_s:
            return
        tried = self._tried.get(channel, 0.0)
        if name.startswith("nudge "):
            self._back_s = None
            if abs(tried) >= MOST_NUDGED:
                self._bench.answer(question.id, "none")
                return
            self._practice.turn(channel, NUDGE)
            self._tried[channel] = tried + NUDGE
        elif self._back_s is None:
            self._back_s = now_s
            self._practice.turn(channel, -tried)
            self._tried[channel] = 0.0
        elif now_s - self._back_s > BACK_WITHIN_S:
            self._bench.press_next()  # the play of the trimmer leaves it a little off
        self._next_s = now_s + BETWEEN_NUDGES_S

    def _go_round(self, view: RunView, question: Question, line: Round, now_s: float) -> None:
        active = [step.id for step in view.steps if step.state is StepState.ACTIVE]
        number = int(question.id.rsplit(" ", 1)[-1]) - 1
        key = f"{active} {number}"
        if key not in self._tried and view.focus is not None:
            self._tried[key] = 1.0
            self._practice.hold(view.focus, f"pair {number + 1}")
            self._next_s = now_s + 12.0
        elif now_s >= self._next_s:
            self._bench.press_next()  # equal neighbours, or a pair that reads next to nothing
            self._next_s = now_s + 12.0
