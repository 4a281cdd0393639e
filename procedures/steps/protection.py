"""Protection: at which DC on its sense point the output protection acts, in both polarities.

Carried out only where the maker's papers name a point for it: a source of a few hundred millivolts is raised
slowly there and the relay is listened to. Nothing is ever fed into an output. Published example of such a
test: 200 mV of either sign at the input must open the relay.
"""

from __future__ import annotations

from typing import ClassVar, Literal

from drivers.reading import Unit
from procedures.analysis.figures import figure
from procedures.events import Answer, AnswerKind, Choice, Outcome, SupplyChanged
from procedures.ratings import DcProtection
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, Conduct, Prompt, StepFields
from procedures.steps.typed_units import typed_value

POLARITIES = ("positive", "negative")
STAYED, SKIP, CLOSED, OPEN = "stayed", "not measured", "closed", "open"
_MOST_SHARE = 2.0  # of the upper limit: what the source may give at the most
CAUTION = (
    "Speakers and loads off. Feed only the point that the papers name, through 1 kΩ or more, and never an "
    "output: the amplifier would fight the source."
)


def protection_name(polarity: str) -> str:
    """Under which name a threshold is recorded."""
    return f"protection threshold, {polarity}"


class ProtectionStep(StepFields):
    """Both polarities, judged against what the amplifier's file says of its protection."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("passed", "failed", "not measured")

    kind: Literal["protection"]

    def open(self, sitting: Sitting) -> Conduct:
        """Ask."""
        return _Raising(sitting)

    def unfit(self, sitting: Sitting) -> str:
        """Left out where no point is known: a guessed one can destroy the unit."""
        known = sitting.amplifier is not None and sitting.amplifier.dc_protection is not None
        return "" if known else "the amplifier's file names no point at which its protection can be tried"


class _Raising(Conduct):
    needs_power = True

    def __init__(self, sitting: Sitting) -> None:
        super().__init__(sitting)
        assert sitting.amplifier is not None
        known = sitting.amplifier.dc_protection
        assert known is not None
        self._known: DcProtection = known
        self._left = list(POLARITIES)
        self._ready = False
        self._closing = False
        self._trouble = ""
        self._words: list[str] = []

    def feed(self, fact: object) -> None:
        if isinstance(fact, SupplyChanged):
            self._ready = False  # whoever switched it may have moved the source as well

    def answer(self, name: str, answer: Answer) -> None:
        self._trouble = ""
        if answer.choice == SKIP:
            self._not_measured(answer.text or "a person chose not to measure it")
        elif name == "ready":
            self._ready = True
        elif name == "closes":
            self._came_back(answer.choice == CLOSED)
        elif answer.choice == STAYED:
            most = figure(_MOST_SHARE * self._known.high_volts)
            self._found(None, Outcome.FAILED, f"did not act up to {most}")
        else:
            self._take(answer.text)

    def _take(self, text: str) -> None:
        try:
            volts = abs(typed_value(text, "mV"))
        except ValueError as refusal:
            self._trouble = f"{refusal} "
            return
        known = self._known
        inside = known.low_volts <= volts <= known.high_volts
        said = f"{figure(volts)}, where {figure(known.low_volts)} to {figure(known.high_volts)} is asked for"
        source = known.source or "the amplifier's file"
        outcome = Outcome.PASSED if inside else Outcome.FAILED
        self._found(volts, outcome, f"acted at {said} ({source})")

    def _found(self, volts: float | None, outcome: Outcome, words: str) -> None:
        name = protection_name(self._left[0])
        reason = "" if volts is not None else words
        self.sitting.record(name, None, volts, Unit.VOLT, reason, typed="yes", point=self._known.point)
        self.sitting.judge(None, outcome, f"{name}: {words}", volts, name)
        self._words.append("passed" if outcome is Outcome.PASSED else "failed")
        if volts is None:
            self._next()  # what never opened need not close again
        else:
            self._closing = True

    def _came_back(self, closed: bool) -> None:
        self._closing = False
        if not closed:
            name = "protection closes again"
            self.sitting.judge(None, Outcome.FAILED, f"{name}: it stayed open at zero", None, name)
            self._words.append("failed")
            self._left = []
        self._next()

    def _next(self) -> None:
        self._left = self._left[1:]
        if not self._left:
            self.end(
                "failed" if "failed" in self._words else "passed", "both polarities at " + self._known.point
            )

    def _not_measured(self, reason: str) -> None:
        for polarity in self._left:
            name = protection_name(polarity)
            self.sitting.record(name, None, None, Unit.VOLT, reason)
            self.sitting.judge(None, Outcome.NOT_MEASURED, f"{name}: {reason}", None, name)
        self.end("failed" if "failed" in self._words else "not measured", reason)

    def prompt(self) -> Prompt:
        skip = Choice(SKIP, "Not measured")
        if not self._ready:
            text = (
                f"Bring the source to zero at {self._known.point}, a meter across it, and wait until "
                "the relay has closed."
            )
            ready = Choice("ready", "At zero, relay closed", True)
            return Prompt(text, CAUTION, Asked("ready", text, choices=(ready, skip)))
        if self._closing:
            text = "Bring the source back to zero, and say whether the relay closes again."
            choices = (Choice(CLOSED, "It closes", True), Choice(OPEN, "It stays open"), skip)
            return Prompt(text, CAUTION, Asked("closes", text, choices=choices))
        return self._raise(skip)

    def _raise(self, skip: Choice) -> Prompt:
        polarity, most = self._left[0], figure(_MOST_SHARE * self._known.high_volts)
        text = (
            f"{self._trouble}Turn the {polarity} voltage up slowly until the relay opens, to {most} at the "
            "most, and type what the meter shows (mV)."
        )
        stayed = Choice(STAYED, f"It did not open up to {most}")
        return Prompt(text, CAUTION, Asked(polarity, text, AnswerKind.VALUE, (stayed, skip)))
