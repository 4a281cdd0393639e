"""The cautions before hands go to a unit: one screen, one key of its own, once for each unit and sitting.

Not a kind that a procedure file may use or leave out: the course of every procedure that sends hands to
the unit begins with it.
"""

from __future__ import annotations

from procedures.cautions import BEFORE_WORK
from procedures.events import Answer, Choice
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, Conduct, Prompt, StepFields

BEFORE_WORK_ID = "cautions"
ACKNOWLEDGED = "acknowledged"


class BeforeWork(StepFields):
    """Read the cautions and say so."""

    acknowledged: bool = False
    read: str = ""

    @classmethod
    def line(cls, acknowledged: bool, read: str = "") -> BeforeWork:
        """The line that is put before a procedure's own; `read`: when and in which session they were."""
        return cls(id=BEFORE_WORK_ID, title="Read the cautions", acknowledged=acknowledged, read=read)

    def open(self, sitting: Sitting) -> Conduct:
        """Show them."""
        return _Cautioning(self, sitting)


class _Cautioning(Conduct):
    def __init__(self, line: BeforeWork, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line

    def begin(self) -> None:
        if self._line.acknowledged:
            when = f", {self._line.read}" if self._line.read else ""
            self.end("done", f"acknowledged earlier in this sitting{when}")

    def answer(self, name: str, answer: Answer) -> None:
        if answer.choice == ACKNOWLEDGED:
            self.end("done", "acknowledged")

    def prompt(self) -> Prompt:
        # Not the default choice: the one key must not pass cautions that nobody has read.
        return Prompt(
            "Read the cautions, then say that you have read them.",
            asked=Asked("read", "\n".join(BEFORE_WORK), choices=(Choice(ACKNOWLEDGED, "I have read them"),)),
        )
