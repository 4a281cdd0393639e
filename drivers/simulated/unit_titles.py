"""What the units that ship are called, read from their files without checking or building them.

Not here: the units themselves (`drivers.simulated.units`), which need numbers and physics.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Final

SURPRISE: Final = "surprise"


@dataclass(frozen=True, slots=True)
class UnitTitle:
    """The words of a unit file that a list shows."""

    name: str
    maker: str
    model: str
    title: str
    brought_in: str


@cache
def shipped_titles() -> tuple[UnitTitle, ...]:
    """The shipped units, sorted by name."""
    found = []
    for file in (resources.files("drivers.simulated") / "units").iterdir():
        if file.name.endswith(".toml"):
            table = tomllib.loads(file.read_text(encoding="utf-8"))
            words = {key: str(table.get(key, "")) for key in ("maker", "model", "title", "brought_in")}
            found.append(UnitTitle(file.name.removesuffix(".toml"), **words))
    return tuple(sorted(found, key=lambda one: one.name))
