"""The procedures and amplifier examples that ship with the program, as TOML."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from procedures.amplifier import Amplifier
from procedures.checking import checked
from procedures.procedure import Procedure, load_procedure


@cache
def shipped_procedures() -> dict[str, Procedure]:
    """The procedures that ship, by id, the shortest first."""
    found = [
        load_procedure(entry.read_text(encoding="utf-8"), entry.name)
        for entry in files(__name__).iterdir()
        if entry.name.endswith(".toml")
    ]
    return {procedure.id: procedure for procedure in sorted(found, key=lambda p: (len(p.step), p.id))}


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
