"""What is known about the bench as a whole while its channels are analysed: supply, lid, drive."""

from __future__ import annotations

from dataclasses import dataclass

from procedures.events import DriveChanged, LidChanged, SegmentOpened, Supply, SupplyChanged

SUPPLY_GONE = "no supply, as you said"


@dataclass(slots=True)
class Bench:
    """The declared circumstances. `supply` is None until somebody has said what it is.

    `power_on_s` is None while off or unknown; a change between two kinds of feed does not restart it.
    """

    supply: Supply | None = None
    power_on_s: float | None = None
    fed_since_s: float | None = None
    lid_fitted: bool | None = None
    driven: bool = False

    def take(self, fact: SupplyChanged | LidChanged | DriveChanged | SegmentOpened) -> None:
        """Take a declared change."""
        if isinstance(fact, LidChanged):
            self.lid_fitted = fact.fitted
        elif isinstance(fact, DriveChanged):
            self.driven = fact.driven
        else:
            self._feed(fact.at_s, fact.supply)

    def _feed(self, at_s: float, supply: Supply) -> None:
        if supply is Supply.OFF:
            self.power_on_s = self.fed_since_s = None
        elif supply is not self.supply:
            self.fed_since_s = at_s
            if self.power_on_s is None:
                self.power_on_s = at_s
        self.supply = supply

    def barred(self) -> str:
        """Why nothing may be called settled under these circumstances; empty when it may."""
        if self.supply is Supply.OFF:
            return SUPPLY_GONE
        if self.supply is Supply.SERIES_LAMP:
            return "on the series lamp nothing is settled: judge it on full mains"
        if self.supply is Supply.REDUCED:
            return "at reduced mains nothing is settled: judge it on full mains"
        if self.driven:
            return "a signal is applied: bias is judged without one"
        return ""
