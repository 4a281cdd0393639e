"""The cautions of a situation: acknowledged by themselves before the step that leads into it, once in a run.

First power-up, the lamp taken out, a bridged output, an earthed instrument, a dangerous rail voltage. Not a
kind that a procedure file may use or leave out.
"""

from __future__ import annotations

from procedures.cautions import DANGEROUS_VOLTS, SITUATIONS
from procedures.events import Answer, Choice, Supply
from procedures.steps.before_work import ACKNOWLEDGED
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, Conduct, Prompt, StepFields

_AT_THE_POINTS = frozenset({"connect", "nudge", "round"})


def situations(line: StepFields, sitting: Sitting) -> tuple[str, ...]:
    """The situations that a step leads into and that nobody has acknowledged yet, by their names."""
    kind = getattr(line, "kind", "")
    found: list[str] = []
    if kind == "power":
        wanted: Supply = line.supply  # type: ignore[attr-defined]
        limited = wanted in (Supply.SERIES_LAMP, Supply.REDUCED)
        if limited or (sitting.lamp_first and wanted is not Supply.OFF):
            found.append("first power")
        if wanted is Supply.MAINS and (sitting.lamp_first or "first power" in sitting.acknowledged):
            found.append("lamp removed")
    amplifier = sitting.amplifier
    if kind in _AT_THE_POINTS:
        if amplifier is not None and amplifier.bridged:
            found.append("bridged")
        if sitting.earthing.earthed:
            found.append("earthed")
        if amplifier is not None and (amplifier.rail_volts or 0.0) > DANGEROUS_VOLTS:
            found.append("high voltage")
    return tuple(name for name in found if name not in sitting.acknowledged)


class Cautioned(Conduct):
    """What comes before a step: its situation's cautions, read and acknowledged; else nothing."""

    def __init__(self, line: StepFields, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._names = situations(line, sitting)

    @property
    def acknowledged(self) -> bool:
        """Whether the step itself may begin."""
        return not self._names

    def answer(self, name: str, answer: Answer) -> None:
        """See `Conduct.answer`."""
        if answer.choice == ACKNOWLEDGED:
            self.sitting.acknowledged.update(self._names)
            self._names = ()

    def prompt(self) -> Prompt:
        """See `Conduct.prompt`."""
        # Not the default choice: the one key must not pass cautions that nobody has read.
        return Prompt(
            "Read what is different now, then say that you have read it.",
            asked=Asked(
                "caution",
                "\n".join(SITUATIONS[name] for name in self._names),
                choices=(Choice(ACKNOWLEDGED, "I have read it"),),
            ),
        )
