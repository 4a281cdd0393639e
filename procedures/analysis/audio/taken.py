"""What was played and measured in a session: each order with the figures that came of it on one output."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from procedures.analysis.audio.orders import Order, order_of
from procedures.events import Action, AudioMeasured, Request


@dataclass(frozen=True, slots=True)
class Taken:
    """One order, what came of it on one output, and which measurement it belongs to."""

    order: Order
    output: str
    figures: Mapping[str, float]
    measure: str = ""


def taken_of(facts: Iterable[object]) -> tuple[Taken, ...]:
    """Everything that was played and measured, from the facts of a journal; damaged requests apart."""
    orders: dict[str, tuple[Order, str]] = {}
    found = []
    for fact in facts:
        if isinstance(fact, Request) and fact.action is Action.PLAY:
            try:
                orders[fact.id] = order_of(fact.parameters), str(fact.parameters.get("measure", ""))
            except (KeyError, ValueError):
                continue
        elif isinstance(fact, AudioMeasured) and fact.request in orders and fact.figures:
            order, measure = orders[fact.request]
            found.append(Taken(order, fact.channel, fact.figures, measure))
    return tuple(found)
