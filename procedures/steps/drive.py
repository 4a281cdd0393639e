"""Drive: play a signal into a load, or take it away, and say so by the one key; bias alarms rest then."""

from __future__ import annotations

from typing import ClassVar, Literal

from procedures import cautions
from procedures.events import DriveChanged, Input
from procedures.steps.sitting import Sitting
from procedures.steps.step import Conduct, Prompt, StepFields, Words


class Drive(StepFields):
    """Whether there is to be a signal; `text` says which, and into what."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("done",)

    kind: Literal["drive"]
    driven: bool
    text: Words | None = None

    def open(self, sitting: Sitting) -> Conduct:
        """Ask for it."""
        return _Driving(self, sitting)


class _Driving(Conduct):
    def __init__(self, line: Drive, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line
        self.needs_power = line.driven

    def begin(self) -> None:
        if self.sitting.driven == self._line.driven:
            self.end("done", "it was so already")

    def feed(self, fact: Input) -> None:
        if isinstance(fact, DriveChanged) and fact.driven == self._line.driven:
            self.end("done")

    def prompt(self) -> Prompt:
        driven = self._line.driven
        text = self._line.text or (
            "Play a signal into the dummy load." if driven else "Take the signal away, and the load off."
        )
        key = "The signal is on" if driven else "There is no signal"
        caution = cautions.DRIVEN if driven else cautions.TEST_POINTS
        return Prompt(text, caution, key_label=key, key_fact=DriveChanged(self.sitting.at_s, driven))
