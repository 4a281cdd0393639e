"""Which unit and which job a session belongs to. Given at any time: before, during, or long afterwards."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class UnitName:
    """One amplifier: maker and model as printed, and its serial number."""

    maker: str = ""
    model: str = ""
    serial: str = ""

    def __str__(self) -> str:
        """The name as a person says it."""
        name = " ".join(part for part in (self.maker, self.model) if part)
        serial = f"serial {self.serial}" if self.serial else ""
        return ", ".join(part for part in (name, serial) if part)


@dataclass(frozen=True, slots=True)
class Naming:
    """A session's names: the unit, the job's number, and words of the technician's own.

    Not the customer's name: that is kept apart, so that it can be erased without touching measurements.
    """

    unit: UnitName = UnitName()
    job: str = ""
    words: str = ""
    given_utc: str = ""
