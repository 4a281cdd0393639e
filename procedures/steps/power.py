"""Power: switch the amplifier on (mains, series lamp, reduced mains) or off, and say so by the one key."""

from __future__ import annotations

from typing import ClassVar, Literal

from procedures import cautions
from procedures.events import Input, Supply, SupplyChanged
from procedures.steps.sitting import Sitting
from procedures.steps.step import Conduct, Prompt, StepFields

_TEXT = {
    Supply.OFF: "Switch the mains off and pull the plug.",
    Supply.MAINS: "Switch the amplifier on, straight from the mains.",
    Supply.SERIES_LAMP: "Switch the amplifier on through the series lamp.",
    Supply.REDUCED: "Switch the amplifier on at reduced mains.",
}
_KEY = {
    Supply.OFF: "It is switched off",
    Supply.MAINS: "It is switched on",
    Supply.SERIES_LAMP: "It is on, through the lamp",
    Supply.REDUCED: "It is on, at reduced mains",
}


class Power(StepFields):
    """The supply that the amplifier is to be switched to."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("done",)

    kind: Literal["power"]
    supply: Supply

    def open(self, sitting: Sitting) -> Conduct:
        """Ask for it."""
        return _Switching(self, sitting)


class _Switching(Conduct):
    def __init__(self, line: Power, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._wanted = line.supply
        self._was = sitting.supply

    def begin(self) -> None:
        if self.sitting.supply is self._wanted:
            self.end("done", f"said before: {self._wanted.value}")

    def feed(self, fact: Input) -> None:
        if isinstance(fact, SupplyChanged):
            self._was = fact.supply
            if fact.supply is self._wanted and not self._lamp_due:
                self.end("done", f"a person says: {fact.supply.value}")

    @property
    def _lamp_due(self) -> bool:
        """After an alarm to switch off, the first power-up is on the lamp, whatever the procedure says."""
        return self.sitting.lamp_first and self._wanted in (Supply.MAINS, Supply.REDUCED)

    def prompt(self) -> Prompt:
        wanted = Supply.SERIES_LAMP if self._lamp_due else self._wanted
        text = _TEXT[wanted]
        if self._was is Supply.SERIES_LAMP and wanted is Supply.MAINS:
            text = "Switch off, take the series lamp out, then switch on straight from the mains."
        fact = SupplyChanged(self.sitting.at_s, wanted)
        return Prompt(text, self._caution(wanted), key_label=_KEY[wanted], key_fact=fact)

    def _caution(self, wanted: Supply) -> str:
        if wanted is Supply.OFF:
            return cautions.POWER_OFF
        if wanted is Supply.SERIES_LAMP:
            return cautions.FIRST_POWER
        if self._was is Supply.SERIES_LAMP:
            return cautions.LAMP_REMOVED
        return cautions.POWER_ON
