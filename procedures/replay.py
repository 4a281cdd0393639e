"""A recorded session judged again: the header's setup and the inputs, fed to a new run.

The same rules version says the same things, with numbers that agree within 1e-9. Another version may judge
differently; that is not tampering, and is said so.
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import TypeAdapter, ValidationError

from procedures.events import Event, Input
from procedures.records.codec import Fact, LineRefused, is_input
from procedures.records.journal import Header
from procedures.runner import Run
from procedures.setup import RULES_VERSION, RunSetup

AGREEMENT = 1e-9  # relative, and absolute for numbers below one
_SETUP = TypeAdapter(RunSetup)


def setup_entry(setup: RunSetup) -> dict[str, Any]:
    """A setup as it stands in the header."""
    entry: dict[str, Any] = _SETUP.dump_python(setup, mode="json", exclude_none=False)
    return entry


def setup_of(header: Header) -> RunSetup:
    """The setup that a header holds.

    Raises:
        LineRefused: when it cannot be understood.
    """
    try:
        # By way of JSON: there a list is a tuple and a word is an enumeration.
        return _SETUP.validate_json(json.dumps(dict(header.setup)))
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ".".join(str(part) for part in first["loc"])
        raise LineRefused(f"the session's setup is damaged at {place}") from None


def replay(setup: RunSetup, facts: Iterable[Fact]) -> tuple[Run, list[Event]]:
    """Feed the inputs among the facts to a new run; the run as it then stands, and all that it said."""
    run = Run(setup)
    said: list[Event] = []
    for fact in facts:
        if is_input(fact):
            said.extend(run.feed(fact))  # type: ignore[arg-type]
    return run, said


@dataclass(frozen=True, slots=True)
class Comparison:
    """Whether a session was judged the same again. `same_rules` is False for another rules version."""

    same: bool
    same_rules: bool
    sentence: str


def compare(header: Header, facts: Sequence[Fact]) -> Comparison:
    """Judge a recorded session again and compare with what was said then."""
    recorded = [fact for fact in facts if not is_input(fact)]
    _, said = replay(setup_of(header), facts)
    same_rules = header.rules == RULES_VERSION
    difference = first_difference(recorded, said)
    if difference is None:
        return Comparison(True, same_rules, "Judged again from its readings, the session says the same.")
    if not same_rules:
        return Comparison(
            False,
            False,
            f"Rules version {RULES_VERSION} would judge this session of version {header.rules} differently: "
            f"{difference}.",
        )
    return Comparison(False, True, f"Judged again, the session says something else: {difference}.")


def first_difference(recorded: Sequence[Fact], said: Sequence[Fact]) -> str | None:
    """In words, where two lists of events part; None when they agree."""
    for number, (then, now) in enumerate(zip(recorded, said, strict=False), start=1):
        if type(then) is not type(now) or not _agree(dataclasses.asdict(then), dataclasses.asdict(now)):
            return f"event {number} was {then}, and is now {now}"
    if len(recorded) != len(said):
        return f"{len(recorded)} events then, {len(said)} now"
    return None


def _agree(then: Any, now: Any) -> bool:
    if isinstance(then, float) and isinstance(now, float):
        return math.isclose(then, now, rel_tol=AGREEMENT, abs_tol=AGREEMENT) or (
            math.isnan(then) and math.isnan(now)
        )
    if isinstance(then, Mapping) and isinstance(now, Mapping):
        return then.keys() == now.keys() and all(_agree(then[key], now[key]) for key in then)
    if isinstance(then, list | tuple) and isinstance(now, list | tuple):
        return len(then) == len(now) and all(_agree(a, b) for a, b in zip(then, now, strict=True))
    return bool(then == now)


def inputs_of(facts: Iterable[Fact]) -> list[Input]:
    """The inputs among facts, in their order."""
    return [fact for fact in facts if is_input(fact)]  # type: ignore[misc]
