"""The target window and the guard-banded acceptance window inside it, and deviations in words.

Decision rules are named as in JCGM 106:2012 and ILAC-G8:09/2019. Not here: where the reading will go.
"""

from __future__ import annotations

from dataclasses import dataclass

from drivers.reading import Unit
from procedures.analysis.channel import ChannelSetup, DecisionRule, Position
from procedures.analysis.figures import amount
from procedures.analysis.uncertainty import Budget, reading_budget

_GUARD_OF_EXPANDED = {
    DecisionRule.SIMPLE: 0.0,
    DecisionRule.GUARDED_083: 0.83,
    DecisionRule.GUARDED: 1.0,
    DecisionRule.GUARDED_15: 1.5,
    DecisionRule.GUARDED_3: 3.0,
}
ONE_SIDED_FACTOR = 1.64  # JCGM 106 Table 1, 5 % on one side


@dataclass(frozen=True, slots=True)
class TargetWindow:
    """Low and high limit, and the narrower limits that a reading must keep. All in the channel's unit.

    `accept_low` above `accept_high` means that the meter's uncertainty uses up the whole window.
    """

    target: float
    low: float
    high: float
    guard: float = 0.0
    rule: DecisionRule = DecisionRule.SIMPLE
    unit: Unit = Unit.VOLT
    resolution: float = 0.0

    @property
    def accept_low(self) -> float:
        """The lowest reading that is accepted."""
        return self.low + self.guard

    @property
    def accept_high(self) -> float:
        """The highest reading that is accepted."""
        return self.high - self.guard

    @property
    def usable(self) -> bool:
        """Whether any reading can be accepted with this meter and rule."""
        return self.accept_low <= self.accept_high

    def position(self, level: float | None) -> Position:
        """Where a level stands with respect to the acceptance window.

        UNKNOWN without a level, and for a level within the limits when no reading can be accepted.
        """
        if level is None:
            return Position.UNKNOWN
        if not self.usable:
            if level < self.low:
                return Position.BELOW
            return Position.ABOVE if level > self.high else Position.UNKNOWN
        if level < self.accept_low:
            return Position.BELOW
        return Position.ABOVE if level > self.accept_high else Position.INSIDE

    def deviation(self, level: float) -> str:
        """How far a level is from the target, as said at the bench: `0.4 mV low`, `on target`."""
        off = level - self.target
        step = self.resolution if self.resolution > 0.0 else abs(self.target) * 1e-3
        if abs(off) < step / 2.0:
            return "on target"
        said = amount(off, self.unit, self.resolution)
        return f"{said} {'high' if off > 0.0 else 'low'}" if said else "on target"

    def outside(self, level: float) -> str:
        """How far a level is outside the acceptance window: `0.3 mV above the window`; empty when inside.

        `just above the window` where the meter could not show by how much.
        """
        if level > self.accept_high:
            over, where = level - self.accept_high, "above"
        elif level < self.accept_low:
            over, where = self.accept_low - level, "below"
        else:
            return ""
        return f"{amount(over, self.unit, self.resolution) or 'just'} {where} the window"


def limits_of(target: float, tolerance: float) -> tuple[float, float]:
    """Low and high limit of a target with a symmetric tolerance (a fraction), in ascending order."""
    half = abs(target) * tolerance
    return target - half, target + half


def guard_of(rule: DecisionRule, budget: Budget) -> float:
    """Width of the guard band that a named decision rule asks for."""
    if rule is DecisionRule.ONE_SIDED_5:
        return ONE_SIDED_FACTOR * budget.u
    return _GUARD_OF_EXPANDED[rule] * budget.expanded


def window_of(
    setup: ChannelSetup,
    rule: DecisionRule,
    *,
    lead_offset: float = 0.0,
    ambient_c: float | None = None,
) -> TargetWindow | None:
    """The window of a channel with its meter's guard band; None when it has no target.

    The budget is taken at the target: the guard would otherwise move with every reading.
    """
    if setup.target_volts is None:
        return None
    low = setup.low_volts if setup.low_volts is not None else -float("inf")
    high = setup.high_volts if setup.high_volts is not None else float("inf")
    if low > high:
        raise ValueError(f"{setup.channel}: the low limit is above the high limit")
    budget = reading_budget(
        setup.target_volts, setup.accuracy, unit=setup.unit, lead_offset=lead_offset, ambient_c=ambient_c
    )
    resolution = setup.accuracy.resolution if setup.accuracy else 0.0
    return TargetWindow(setup.target_volts, low, high, guard_of(rule, budget), rule, setup.unit, resolution)
