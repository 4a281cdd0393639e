"""Lid: put the amplifier's cover on, or take it off, and say so by the one key."""

from __future__ import annotations

from typing import ClassVar, Literal

from procedures import cautions
from procedures.events import Input, LidChanged
from procedures.steps.sitting import Sitting
from procedures.steps.step import Conduct, Prompt, StepFields


class Lid(StepFields):
    """Whether the cover is to be fitted."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("done",)

    kind: Literal["lid"]
    fitted: bool

    def open(self, sitting: Sitting) -> Conduct:
        """Ask for it."""
        return _Covering(self, sitting)


class _Covering(Conduct):
    def __init__(self, line: Lid, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._fitted = line.fitted

    def begin(self) -> None:
        if self.sitting.lid_fitted == self._fitted:
            self.end("done", "it was so already")

    def feed(self, fact: Input) -> None:
        if isinstance(fact, LidChanged) and fact.fitted == self._fitted:
            self.end("done")

    def prompt(self) -> Prompt:
        text = "Lay the lid on, without its screws." if self._fitted else "Take the lid off."
        key = "The lid is on" if self._fitted else "The lid is off"
        return Prompt(text, cautions.LID, key_label=key, key_fact=LidChanged(self.sitting.at_s, self._fitted))
