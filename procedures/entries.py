"""What entries of a data file may be: names, words, resistances. The base of every table that a file has.

Here: the shape of single entries. Not here: what they mean (`amplifier`, `ratings`) and the sentences about
what is wrong with them (`checking`).
"""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

from procedures.resistance import ohms


class Entry(BaseModel):
    """A table of a data file: frozen, and nothing in it that is not known."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)


def _a_resistance(printed: str) -> str:
    ohms(printed)
    return printed


Name = Annotated[str, StringConstraints(min_length=1, max_length=60, strip_whitespace=True)]
Words = Annotated[str, StringConstraints(max_length=2000, strip_whitespace=True)]
Resistance = Annotated[str, StringConstraints(min_length=1, max_length=20), AfterValidator(_a_resistance)]
Degrees = Annotated[float, Field(ge=-40.0, le=150.0)]
"""Degrees Celsius that something in a workshop may have."""
