"""In practice the hands are on the simulated unit: what is told to the run has to be what they did.

On a real bench a person's word is all there is. Here the switch and the lid can be looked at, so the record
keeps how they stand, and where word and hand differ, one sentence says so.
"""

from __future__ import annotations

from app.windows.ports import Hands, PracticeControls
from procedures.events import LidChanged, Supply, SupplyChanged
from procedures.view import RunView

_STANDS = {
    Supply.OFF: "Off",
    Supply.MAINS: "Mains",
    Supply.SERIES_LAMP: "Lamp",
    Supply.REDUCED: "reduced mains",
}


class ToldAndDone:
    """Follows what was told of the switch and the lid of a simulated unit; without one every word stands."""

    def __init__(self, practice: PracticeControls | None) -> None:
        self._practice = practice
        self._told_supply: Supply | None = None
        self._told_lid: bool | None = None

    def supply(self, told: Supply) -> Supply:
        """What the record keeps when a person says what the amplifier is fed from."""
        if self._practice is None:
            return told
        stands = self._practice.hands().supply
        self._told_supply = None if stands is told else told
        return stands

    def lid(self, told: bool) -> bool:
        """What the record keeps when a person says where the lid is."""
        if self._practice is None:
            return told
        fitted = self._practice.hands().lid_fitted
        self._told_lid = None if fitted is told else told
        return fitted

    def difference(self, view: RunView) -> str:
        """Where hands and words differ, and what to do; empty while they agree or the hands go first."""
        if self._practice is None or view.ended is not None:
            return ""
        hands = self._practice.hands()
        return " ".join(filter(None, (self._of_supply(hands, view), self._of_lid(hands, view))))

    def _of_supply(self, hands: Hands, view: RunView) -> str:
        if hands.supply is self._told_supply:
            self._told_supply = None
        asked = view.next_fact.supply if isinstance(view.next_fact, SupplyChanged) else None
        stands = f"The switch stands at {_STANDS[hands.supply]}"
        if self._told_supply is not None:
            wanted = _STANDS[self._told_supply]
            return f"{stands}, and so it was recorded: set it to {wanted}, then say so again."
        if hands.supply in (view.supply, asked):
            return ""
        if asked is not None:
            return f"{stands}; {_STANDS[asked]} is asked for."
        return f"{stands}; the run was told {_STANDS[view.supply]}: say how it is fed now, or put it back."

    def _of_lid(self, hands: Hands, view: RunView) -> str:
        if hands.lid_fitted is self._told_lid:
            self._told_lid = None
        asked = view.next_fact.fitted if isinstance(view.next_fact, LidChanged) else None
        lies = "The lid is " + ("on" if hands.lid_fitted else "off")
        if self._told_lid is not None:
            wanted = "on" if self._told_lid else "aside"
            return f"{lies}, and so it was recorded: put it {wanted}, then say so again."
        if hands.lid_fitted in (view.lid_fitted, asked):
            return ""
        return f"{lies}; the run was told otherwise: say where it is now, or put it back."
