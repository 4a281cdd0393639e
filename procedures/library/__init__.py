"""The procedures and amplifier examples that ship with the program, as TOML.

What loads procedures is imported with the first of them: a list of their titles does not need it.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

from procedures.amplifier import Amplifier
from procedures.checking import checked

if TYPE_CHECKING:
    from procedures.procedure import Procedure


@dataclass(frozen=True, slots=True)
class Heading:
    """What a procedure or a route is called, and what it is for."""

    id: str
    title: str
    purpose: str


WHEN = {
    "taking in": ("incoming-inspection", "complaint"),
    "finding": (
        "watch",
        "protection-threshold",
        "emitter-resistors",
        "safety-and-power-up",
        "relay-contact",
        "transformer-hum",
        "solder-joints",
        "controls",
        "trimmer-check",
    ),
    "adjusting": (
        "two-channel-bias-trim",
        "cold-set-bias",
        "bias-by-supply-current",
        "multi-pair-spread",
        "dc-offset",
        "warm-up",
    ),
    "proving": (
        "oscillation-check",
        "load-test",
        "output-level",
        "voltmeter-check",
        "verification",
        "soak",
        "next-day-check",
        "electrical-safety",
        "hand-back",
    ),
    "all of it": ("service-route",),
}
"""When in a job each procedure is wanted, in the order of the work."""


def by_occasion() -> tuple[tuple[str, Heading], ...]:
    """Every heading with when it is wanted, in the order of the work; what is named nowhere comes last."""
    known = {heading.id: heading for heading in shipped_headings()}
    placed = [(when, known.pop(name)) for when, names in WHEN.items() for name in names if name in known]
    return (*placed, *(("at any time", heading) for heading in known.values()))


@cache
def _texts() -> dict[str, str]:
    """The files of the procedures, by name and in the order of their names."""
    found = {entry.name: entry for entry in files(__name__).iterdir() if entry.name.endswith(".toml")}
    return {name: found[name].read_text(encoding="utf-8") for name in sorted(found)}


@cache
def shipped_headings() -> tuple[Heading, ...]:
    """The headings of `shipped_procedures`, in its order, taken from the files without checking them."""
    found = []
    for text in _texts().values():
        table = tomllib.loads(text)
        heading = Heading(table["id"], table["title"], table["purpose"])
        route = "part" in table
        found.append((route, 0 if route else len(table["step"]), heading.id, heading))
    return tuple(heading for *_, heading in sorted(found, key=lambda one: one[:3]))


@cache
def shipped_procedures() -> dict[str, Procedure]:
    """The procedures that ship, by id, the shortest first; the routes over them come last."""
    from procedures.procedure import load_procedure
    from procedures.route import is_route, load_route

    texts = _texts()
    found = [load_procedure(text, name) for name, text in texts.items() if not is_route(text)]
    known = {procedure.id: procedure for procedure in sorted(found, key=lambda p: (len(p.step), p.id))}
    routes = [load_route(text, name, known) for name, text in texts.items() if is_route(text)]
    return known | {route.id: route for route in sorted(routes, key=lambda r: r.id)}


@cache
def shipped_amplifiers() -> dict[str, Amplifier]:
    """The amplifier examples that ship, by maker and model."""
    folder = files(f"{__name__}.amplifiers")
    found = [
        checked(entry.read_text(encoding="utf-8"), entry.name, Amplifier)
        for entry in folder.iterdir()
        if entry.name.endswith(".toml")
    ]
    return {amplifier.name: amplifier for amplifier in sorted(found, key=lambda a: a.name)}
