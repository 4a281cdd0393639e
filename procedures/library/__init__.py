"""The procedures and amplifier examples that ship with the program, as TOML."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from procedures.amplifier import Amplifier
from procedures.checking import checked
from procedures.procedure import Procedure, load_procedure
from procedures.route import is_route, load_route


@cache
def shipped_procedures() -> dict[str, Procedure]:
    """The procedures that ship, by id, the shortest first; the routes over them come last."""
    texts = {
        entry.name: entry.read_text(encoding="utf-8")
        for entry in files(__name__).iterdir()
        if entry.name.endswith(".toml")
    }
    found = [load_procedure(text, name) for name, text in texts.items() if not is_route(text)]
    known = {procedure.id: procedure for procedure in sorted(found, key=lambda p: (len(p.step), p.id))}
    routes = [load_route(text, name, known) for name, text in texts.items() if is_route(text)]
    return known | {procedure.id: procedure for procedure in routes}


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
