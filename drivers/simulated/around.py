"""What else can be found out about a simulated unit: other instruments, eyes and ears, several output pairs.

The simulated meters read the bias and the offset. Everything else that a job asks for (a contact's
resistance, hum at one frequency, a cracked joint) is here as data: the healthy values of
`drivers/simulated/around.toml`, and in a unit's file the table `[around]` with what is different about it.

A value is what the instrument shows, in the unit it shows; a list is one value after the other, as several
operations of a contact give them. Not here: the idle current (`physics`), and who asks.
"""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from typing import Final

Shown = float | tuple[float, ...]
_LARGEST: Final = sys.float_info.max
_TABLES: Final = ("values", "wrong", "answers", "pairs")


@dataclass(frozen=True, slots=True)
class Around:
    """The finds of one unit.

    `values` are what other instruments show, by the name under which a value is recorded. `wrong` says, by
    the name of a thing to look at, what is wrong with it; what is not named is right. `answers` are answers
    to questions, by the step that asks. `pairs` are the currents of a channel's output pairs as shares of
    the pair that the test points read, for `left` and `right`. With `swapped_test_points` what is printed as
    left is right.
    """

    values: Mapping[str, Shown] = field(default_factory=dict)
    wrong: Mapping[str, str] = field(default_factory=dict)
    answers: Mapping[str, str] = field(default_factory=dict)
    pairs: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    swapped_test_points: bool = False

    def value(self, name: str, time: int = 0) -> float | None:
        """What an instrument shows under a name, the `time`-th time (from 0); None where nothing is known."""
        shown = self.values.get(name)
        if isinstance(shown, tuple):
            return shown[time % len(shown)]
        return shown

    def share(self, side: str, pair: int) -> float:
        """The current of an output pair (from 0) as a share of the one that is measured."""
        shares = self.pairs.get(side, ())
        return shares[pair] if 0 <= pair < len(shares) else 1.0

    def dead_pairs(self, side: str) -> int:
        """How many output pairs of a channel carry nothing."""
        return sum(share == 0.0 for share in self.pairs.get(side, ()))


@cache
def healthy_around() -> Around:
    """What is found on a unit that has nothing wrong with it."""
    text = (resources.files("drivers.simulated") / "around.toml").read_text(encoding="utf-8")
    around, problems = read_around(tomllib.loads(text), healthy=Around())
    if problems:
        raise ValueError("; ".join(problems))
    return around


def read_around(table: object, healthy: Around | None = None) -> tuple[Around, list[str]]:
    """The finds of a unit's file over the healthy ones, and one sentence for each thing that is wrong."""
    base = healthy_around() if healthy is None else healthy
    if not isinstance(table, dict):
        return base, ["'around' must be a table; write [around] on a line of its own"]
    problems = [
        f"'{key}' in [around] is not known; it may be swapped_test_points, {', '.join(_TABLES)}"
        for key in table
        if key not in (*_TABLES, "swapped_test_points")
    ]
    parts = {key: table.get(key, {}) for key in _TABLES}
    for key, part in parts.items():
        if not isinstance(part, dict):
            problems.append(f"'{key}' in [around] must be a table; write [around.{key}]")
            parts[key] = {}
    swapped = table.get("swapped_test_points", False)
    if not isinstance(swapped, bool):
        problems.append(f"'swapped_test_points' in [around] must be true or false, not {swapped!r}")
    values = {name: _shown(name, given, problems) for name, given in parts["values"].items()}
    texts = {key: _texts(key, parts[key], problems) for key in ("wrong", "answers")}
    return (
        Around(
            values={**base.values, **{name: shown for name, shown in values.items() if shown is not None}},
            wrong={**base.wrong, **texts["wrong"]},
            answers={**base.answers, **texts["answers"]},
            pairs={**base.pairs, **_pairs(parts["pairs"], problems)},
            swapped_test_points=swapped is True,
        ),
        problems,
    )


def _shown(name: str, given: object, problems: list[str]) -> Shown | None:
    if is_number(given):
        return float(given)  # type: ignore[arg-type]
    if isinstance(given, list) and given and all(is_number(one) for one in given):
        return tuple(float(one) for one in given)
    problems.append(f"'{name}' in [around.values] must be a number or a list of numbers, not {given!r}")
    return None


def _texts(table: str, given: Mapping[str, object], problems: list[str]) -> dict[str, str]:
    wrong = [key for key, text in given.items() if not isinstance(text, str)]
    problems += [f"'{key}' in [around.{table}] must be text in double quotes" for key in wrong]
    return {key: text for key, text in given.items() if isinstance(text, str)}


def _pairs(given: Mapping[str, object], problems: list[str]) -> dict[str, tuple[float, ...]]:
    found: dict[str, tuple[float, ...]] = {}
    for side, shares in given.items():
        numbers: Sequence[object] = shares if isinstance(shares, list) else ()
        if side not in ("left", "right"):
            problems.append(f"'{side}' in [around.pairs] is not known; it may be left or right")
        elif not numbers or not all(is_number(one) and float(one) >= 0.0 for one in numbers):  # type: ignore[arg-type]
            problems.append(
                f"'{side}' in [around.pairs] must be a list of shares of zero or more, such as [1.0, 0.98]"
            )
        else:
            found[side] = tuple(float(one) for one in numbers)  # type: ignore[arg-type]
    return found


def is_number(given: object) -> bool:
    """Whether an entry is a number that a float can hold: whole numbers of a file may have any length."""
    return isinstance(given, int | float) and not isinstance(given, bool) and abs(given) <= _LARGEST
