"""What the bench asks of a meter, whatever it is made of."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

from drivers.reading import Gap, Reading, Unit


@dataclass(frozen=True, slots=True)
class MeterAccuracy:
    """A maker's specification of one range, as in the manual: ± (of reading + of range), and one count.

    `of_reading` and `of_range` are fractions (0.0005 for 0.05 %), `resolution` is the value of one count in
    the input's unit. `counts` is for meters specified in counts of the last digit instead of range.
    """

    of_reading: float = 0.0
    of_range: float = 0.0
    range_value: float = 0.0
    resolution: float = 0.0
    counts: float = 0.0
    declared_by: str = ""  # where the figures come from; shown in the budget


@dataclass(frozen=True, slots=True)
class MeterSetup:
    """What a step wants of a meter: DC volts on a fixed range, slow enough to reject mains hum."""

    range_volts: float = 0.1
    mains_hz: float = 50.0
    integration_s: float = 0.2
    inputs: tuple[str, ...] = ("1",)


@dataclass(frozen=True, slots=True)
class MeterFacts:
    """What the meter answered when its settings were read back."""

    identity: str
    range_volts: float  # 0: it has none that is known (lines that arrive by themselves, a file)
    integration_s: float
    reading_s: float  # how long one reading takes at the most, in health
    fresh: bool = True  # measures after being asked (False: the display's latest value)
    accuracy: MeterAccuracy = field(default_factory=MeterAccuracy)
    unit: Unit = Unit.VOLT
    dialect: str = ""  # by which description of behaviour the meter is spoken to
    unconfirmed: tuple[str, ...] = ()  # settings that the meter would not read back; asked for, not known
    notes: tuple[str, ...] = ()  # what a person should know, one sentence each
    patience_s: float = 0.0  # a reading that takes longer has gone wrong (0: three times reading_s and 1 s)

    @property
    def limit_s(self) -> float:
        """How long to wait for a reading, in host seconds."""
        return self.patience_s or 3.0 * self.reading_s + 1.0

    def in_words(self) -> str:
        """What the meter is set to, and what about it is not known, for a person."""
        words = []
        if self.range_volts > 0.0:
            millivolts = self.range_volts * 1e3
            shown = f"{millivolts:g} mV" if millivolts < 1000.0 else f"{self.range_volts:g} V"
            words.append(f"range {shown}, {self.integration_s:g} s of integration")
        if self.unconfirmed:
            words.append(f"not confirmed by the meter: {', '.join(self.unconfirmed)}")
        return "; ".join([*words, *self.notes])


def same_instrument(one: str, other: str) -> bool:
    """Whether two answers to *IDN? name the same instrument: maker, model and serial number agree.

    The fourth field is the firmware (IEEE 488.2, 10.14), which may be brought up to date.
    """
    return one.split(",")[:3] == other.split(",")[:3]


class Meter(Protocol):
    """One physical instrument. Used by one thread, except `abort`.

    Every call takes a host-time deadline and returns or raises by it (plus the stated bound of its link).
    """

    @property
    def name(self) -> str:
        """The name by which leads refer to it."""
        ...

    @property
    def address(self) -> str:
        """Where it is."""
        ...

    @property
    def inputs(self) -> tuple[str, ...]:
        """The inputs that `read` reports on."""
        ...

    def connect(self, deadline: float) -> str:
        """Open the link and return the instrument's identity. Raises LinkError, MeterRefused."""
        ...

    def configure(self, setup: MeterSetup, deadline: float) -> MeterFacts:
        """Set the meter up and verify by reading back. Raises LinkError, MeterRefused."""
        ...

    def read(self, deadline: float) -> tuple[Reading | Gap, ...]:
        """Take one reading of each input.

        A reading that could not be had is a Gap with its reason. Raises LinkError when the link needs
        care (dirty or lost); the caller decides between `recover` and `disconnect`.
        """
        ...

    def recover(self, deadline: float) -> None:
        """Resynchronise a dirty link. Raises LinkError."""
        ...

    def abort(self) -> None:
        """Make a blocked call return soon. Any thread."""
        ...

    def disconnect(self) -> None:
        """Give the instrument back to its front panel and let go. Never raises."""
        ...
