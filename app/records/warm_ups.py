"""How a channel warmed up in a session: from which power-on, until when, and whether hands were in it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from procedures.analysis.disturbance import Kind
from procedures.events import (
    ChannelReading,
    Disturbance,
    DriveChanged,
    LidChanged,
    SettledChanged,
    StepChanged,
    StepState,
    Supply,
    SupplyChanged,
    TrimDeclared,
)
from procedures.records.codec import Fact

CLOSENESS, LEAST_APART_S = 1.05, 0.5  # of two times that are kept
KEPT_S = 1800.0  # so much of a warm-up is kept, where nothing disturbed it
FIRST_S = 60.0  # the level from which a warm-up's drift counts: what goes before is the switching on
_HANDS = ("trim", "turn-down")  # kinds of steps in which trimmers are turned
_UNEXPLAINED = (Kind.STEP, Kind.JOINT, Kind.MAINS, Kind.SUPPLY_LOST)


@dataclass(frozen=True, slots=True)
class WarmUp:
    """A channel's way to rest, undisturbed. Times count from that power-on; `points` are times and levels.

    `drift` is a fraction, from one minute after the power-on to the rest.
    """

    settled_s: float
    drift: float | None
    points: tuple[tuple[float, float], ...]


class WarmUps:
    """The warm-ups of a session's channels, found in its facts and its header's setup."""

    def __init__(self, facts: Sequence[Fact], setup: Mapping[str, Any]) -> None:
        self._on = _powered(facts)
        self._rests: list[tuple[str | None, float]] = []
        self._touched: list[tuple[str | None, float]] = []
        kinds = _kinds(setup)
        for fact in facts:
            match fact:
                case SettledChanged(settled=True):
                    self._rests.append((fact.channel, fact.at_s))
                case StepChanged(state=StepState.DONE) if kinds.get(fact.step) == "warm-up":
                    if fact.reason.startswith("settled"):
                        self._rests.append((None, fact.at_s))
                case StepChanged(state=StepState.ACTIVE) if kinds.get(fact.step) in _HANDS:
                    self._touched.append((None, fact.at_s))
                case TrimDeclared():
                    self._touched.append((fact.channel, fact.at_s))
                case LidChanged() | DriveChanged():
                    self._touched.append((None, fact.at_s))
                case Disturbance() if fact.kind in _UNEXPLAINED:
                    self._touched.append((fact.channel, fact.at_s))
                case _:
                    pass

    def of(self, channel: str, readings: Sequence[ChannelReading]) -> WarmUp | None:
        """The first time that the channel came to rest undisturbed after a power-on; None: it never did.

        "Settled" asks for the target's window too, so that a unit off its target rests where its warm-up step
        says so.
        """
        for on_s, off_s in self._on:
            told = [(one.at_s - on_s, one.value) for one in readings if on_s < one.at_s <= off_s]
            touched_s = _first(self._touched, channel, on_s, off_s, off_s) - on_s
            rest_s = _first(self._rests, channel, on_s, off_s, math.inf) - on_s
            if rest_s > touched_s or math.isinf(rest_s) or not told:
                continue
            level = next((value for elapsed, value in told if elapsed >= rest_s), None)
            first = next((value for elapsed, value in told if elapsed >= FIRST_S), None)
            end_s = min(touched_s, max(rest_s, KEPT_S))
            course = [point for point in told if point[0] <= end_s]
            drift = level / first - 1.0 if level is not None and first else None
            return WarmUp(rest_s, drift, _thinned(course))
        return None


def _first(
    moments: Sequence[tuple[str | None, float]], channel: str, on_s: float, off_s: float, else_s: float
) -> float:
    """The first moment of a channel, or of all, while the amplifier was on."""
    told = [at_s for name, at_s in moments if name in (None, channel) and on_s < at_s <= off_s]
    return min(told, default=else_s)


def _powered(facts: Sequence[Fact]) -> list[tuple[float, float]]:
    """From when to when the amplifier was on its mains, in order; infinity where it still was."""
    spans: list[tuple[float, float]] = []
    on_s: float | None = None
    for fact in facts:
        if isinstance(fact, SupplyChanged):
            if fact.supply is Supply.MAINS:
                on_s = fact.at_s if on_s is None else on_s
            elif on_s is not None:
                spans.append((on_s, fact.at_s))
                on_s = None
    return spans if on_s is None else [*spans, (on_s, math.inf)]


def _kinds(setup: Mapping[str, Any]) -> dict[str, str]:
    """The kinds of a procedure's steps by their names, as the header has them."""
    procedure = setup.get("procedure")
    steps = procedure.get("step") if isinstance(procedure, Mapping) else None
    if not isinstance(steps, Sequence):
        return {}
    return {str(one.get("id")): str(one.get("kind")) for one in steps if isinstance(one, Mapping)}


def _thinned(course: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Some points, ascending in time: close together at first, where a reading moves fast; the last too."""
    kept: list[tuple[float, float]] = []
    for point in course:
        if not kept or point[0] >= kept[-1][0] * CLOSENESS + LEAST_APART_S:
            kept.append(point)
    if kept and course[-1][0] > kept[-1][0]:
        kept.append(course[-1])
    return tuple(kept)
