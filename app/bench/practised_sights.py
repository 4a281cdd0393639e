"""In practice, what a person would see and read off at the unit: said in one sentence beside the hands.

At a real bench other instruments and one's own eyes say it. Here the simulated unit knows; it is only told,
and the person still answers. Not here: the scripted hands, which act on the same finds (`practised_finds`).
"""

from __future__ import annotations

from app.bench.practice_unit import SimulatedHands
from app.bench.practised_finds import PART
from app.windows.ports import PracticeControls
from procedures.events import Question
from procedures.procedure import Procedure
from procedures.steps.choose import Choose
from procedures.steps.record_value import RecordValue
from procedures.steps.typed_units import shown
from procedures.view import RunView


class Sights:
    """Follows the questions of a run; without a simulated unit there is nothing to say."""

    def __init__(self, practice: PracticeControls | None, procedure: Procedure) -> None:
        self._practice = practice if isinstance(practice, SimulatedHands) else None
        self._procedure = procedure
        self._asked = ""
        self._sentence = ""

    def sentence(self, view: RunView) -> str:
        """What is seen where the question is; empty where nothing is asked that eyes could answer."""
        if self._practice is None or view.question is None or view.ended is not None:
            return ""
        if view.question.id != self._asked:
            # Once a question: an instrument may show another value the next time.
            self._asked = view.question.id
            self._sentence = self._seen(view.question, view.focus)
        return self._sentence

    def _seen(self, question: Question, focus: str | None) -> str:
        assert self._practice is not None
        line = self._procedure.step_named(question.step)
        words = question.id.rsplit("/", 1)[-1].split()
        if isinstance(line, RecordValue) and words == ["typed"]:
            value = self._practice.read_off(line.name)
            unit = shown(line.typed_in or line.kept_in.value)
            return "There is no such instrument here." if value is None else f"It shows {value:g} {unit}."
        if isinstance(line, Choose):
            key = self._practice.answer_to(question.step.rpartition(PART)[2])
            text = next((choice.text for choice in question.choices if choice.key == key), "")
            return f"At this unit: {text[:1].lower()}{text[1:]}." if text else ""
        if line is not None and line.kind == "inspect" and words[0] == "look":
            wrong = self._practice.wrong(words[1])
            return f"You see: {wrong}." if wrong else "You see nothing wrong there."
        if line is not None and line.kind == "round" and words[0] == "point" and focus is not None:
            self._practice.hold(focus, f"pair {words[1]}")
            return f"Your probes are on pair {words[1]}."
        return ""
