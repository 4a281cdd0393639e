"""What a journal of practice holds beside the facts: the hands at the simulated unit, and its truth.

Nothing here decides anything in a run, so it is no fact: a run is told of neither, as on a real bench.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from procedures.records.codec import LONGEST_S, LineRefused, dumps


@dataclass(frozen=True, slots=True)
class HandMoved:
    """Hands did something at the simulated unit, or the bench was made to go faster or slower.

    `deed` is one of turn (`amount`: fraction of the trimmer's travel), switch (`subject`: the supply), lid,
    probe (`subject`: where it went), slip, short, drive (`amount`: volts peak) and speed (`amount`).
    """

    at_s: float
    deed: str
    subject: str = ""
    amount: float = 0.0

    def line(self) -> str:
        """The move as a line of JSON."""
        return dumps(
            {
                "kind": "hand",
                "at_s": round(self.at_s, 3),
                "deed": self.deed,
                "subject": self.subject,
                "amount": self.amount,
            }
        )


@dataclass(frozen=True, slots=True)
class UnitDefect:
    """What is the matter with the simulated unit, on a channel or (empty) on the whole of it."""

    kind: str
    channel: str = ""


@dataclass(frozen=True, slots=True)
class UnitTruth:
    """What nobody at a real bench could know: where each channel would rest, in volts, lid on, full mains.

    `found` is how the unit came, `left` how it was left; None: it does not come to rest, or it is damaged.
    """

    at_s: float
    found: Mapping[str, float | None] = field(default_factory=dict)
    left: Mapping[str, float | None] = field(default_factory=dict)
    defects: tuple[UnitDefect, ...] = ()

    def line(self) -> str:
        """The truth as a line of JSON."""
        return dumps(
            {
                "kind": "truth",
                "at_s": self.at_s,
                "found": dict(self.found),
                "left": dict(self.left),
                "defects": [[defect.kind, defect.channel] for defect in self.defects],
            }
        )


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What a person thinks is the matter with the simulated unit; the newest one counts."""

    at_s: float
    kinds: tuple[str, ...]

    def line(self) -> str:
        """The diagnosis as a line of JSON."""
        return dumps({"kind": "diagnosis", "at_s": self.at_s, "kinds": list(self.kinds)})


PractiseLine = HandMoved | UnitTruth | Diagnosis
KINDS = frozenset({"hand", "truth", "diagnosis"})


def practise_line(entry: Mapping[str, Any]) -> PractiseLine:
    """A parsed line of one of `KINDS`. Raises LineRefused."""
    try:
        at_s = float(entry["at_s"])
        if not abs(at_s) <= LONGEST_S:
            raise ValueError
        match entry["kind"]:
            case "hand":
                subject, amount = str(entry.get("subject", "")), float(entry.get("amount", 0.0))
                return HandMoved(at_s, str(entry["deed"]), subject, amount)
            case "truth":
                defects = tuple(UnitDefect(str(kind), str(channel)) for kind, channel in entry["defects"])
                return UnitTruth(at_s, _volts(entry["found"]), _volts(entry["left"]), defects)
            case _:
                return Diagnosis(at_s, tuple(str(kind) for kind in entry["kinds"]))
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError):
        raise LineRefused(f'the line of kind "{entry["kind"]}" is damaged') from None


def _volts(entry: Mapping[str, Any]) -> dict[str, float | None]:
    return {str(name): None if value is None else float(value) for name, value in entry.items()}
