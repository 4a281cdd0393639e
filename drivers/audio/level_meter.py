"""A multimeter's AC volts as a source of level: what it shows, and from where to where that is right.

Many multimeters read AC volts far too low above some hundred hertz, and those that only average are right
for a sine alone. So a level never goes without the meter's bandwidth, from its dialect or told by a person.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import Literal, Protocol

from drivers.addresses import link_for
from drivers.audio.refusal import AudioRefused
from drivers.clock import host_seconds
from drivers.errors import AddressError, LinkError, MeterRefused, ReplyRefused
from drivers.links import Link
from drivers.scpi.dialect import AcWays, Dialect, shipped_dialects
from drivers.scpi.dialogue import Dialogue
from drivers.scpi.reply import Answer, parse_reply
from drivers.scpi.setting_up import choose_dialect, mind_manners

OPEN_S = 8.0
READ_S = 6.0


@dataclass(frozen=True, slots=True)
class AcBand:
    """From where to where a meter's AC volts are right, and how it forms them; None, "": nobody has said.

    `said_by` is who said so, for the record.
    """

    low_hz: float | None = None
    high_hz: float | None = None
    responding: Literal["true rms", "average", ""] = ""
    of_reading: float = 0.0
    said_by: str = ""

    @property
    def declared(self) -> bool:
        """Whether its upper end is known, without which no frequency can be trusted."""
        return self.high_hz is not None

    def words(self) -> str:
        """All of it in one line."""
        low = f"{self.low_hz:g}" if self.low_hz is not None else "?"
        band = f"{low} to {self.high_hz:g} Hz" if self.high_hz is not None else "bandwidth not declared"
        forms = {"true rms": "true RMS", "average": "average-responding", "": "not said how it responds"}
        by = f" ({self.said_by})" if self.said_by else ""
        return f"{forms[self.responding]}, {band}{by}"


class LevelMeter(Protocol):
    """Something that shows AC volts. Used by one thread."""

    @property
    def name(self) -> str:
        """What it is, for the record."""
        ...

    @property
    def band(self) -> AcBand:
        """Where it is right."""
        ...

    def read(self, output: str) -> float:
        """AC volts rms at the output that it was clipped to. Raises AudioRefused."""
        ...

    def close(self) -> None:
        """Let go of it."""
        ...


class ScpiLevelMeter:
    """A SCPI multimeter; see `LevelMeter`. It must not be a meter that is being polled.

    Args:
        address: where it is.
        told: what a person said of its band; it goes before what the dialect says.
        dialects: tried in order; a user's own first.
        visa_library: which VISA carries it.
        link: a link to use in place of one to the address.

    Raises:
        AudioRefused: it cannot be reached, or nothing is known of how it shows AC volts.
    """

    def __init__(
        self,
        address: str,
        told: AcBand | None = None,
        dialects: tuple[Dialect, ...] | None = None,
        visa_library: str = "@py",
        *,
        link: Link | None = None,
    ) -> None:
        try:
            self._link = link if link is not None else link_for(address, visa_library=visa_library)
        except AddressError as wrong:
            raise AudioRefused(f"{wrong}.") from wrong
        self._dialogue = Dialogue(self._link)
        self._reading = threading.Lock()
        deadline = host_seconds() + OPEN_S
        try:
            self._link.open(deadline)
            self._dialogue.identify(deadline)
            known = shipped_dialects() if dialects is None else dialects
            dialect = choose_dialect(self._dialogue, known, deadline)
            mind_manners(self._link, dialect)
        except (LinkError, MeterRefused) as trouble:
            self._link.close()
            raise AudioRefused(f"{trouble}.") from trouble
        if dialect.ac is None:
            self._link.close()
            raise AudioRefused(
                f"The dialect {dialect.name} of {self._dialogue.identity} says nothing of AC volts; "
                "add a block [ac] to a dialect of your own."
            )
        self._ac: AcWays = dialect.ac
        self._shape, self._overload_at = dialect.reply.shape, dialect.reply.overload_at
        self._leave = tuple(line.encode("ascii") for line in dialect.leave)
        self._band = told or _declared(dialect.ac, f"dialect {dialect.name}")

    @property
    def name(self) -> str:
        """See `LevelMeter.name`."""
        return self._dialogue.identity

    @property
    def band(self) -> AcBand:
        """See `LevelMeter.band`."""
        return self._band

    def read(self, output: str) -> float:
        """See `LevelMeter.read`."""
        try:
            with self._reading:  # an earlier one that nobody waits for any more may still be on its way
                if self._link.dirty:
                    self._dialogue.recover(host_seconds() + READ_S)
                reply = self._dialogue.ask(self._ac.line.encode("ascii"), host_seconds() + READ_S)
            found = parse_reply(reply.raw, shape=self._shape, overload_at=self._overload_at)
        except ReplyRefused as problem:
            self._link.mark_dirty()
            raise AudioRefused(f"{self._link.address}: {problem}.") from problem
        except LinkError as trouble:
            raise AudioRefused(f"{trouble}.") from trouble
        if found.answer is Answer.OVERLOAD:
            raise AudioRefused(f"{self.name} is over its range; check what it is clipped to.")
        if found.value is None or found.value < 0.0:
            raise AudioRefused(f"{self.name} shows no AC volts; check its leads.")
        return found.value

    def close(self) -> None:
        """See `LevelMeter.close`."""
        self._dialogue.leave(self._leave, 0.02)


def _declared(ac: AcWays, said_by: str) -> AcBand:
    known = ac.high_hz is not None or ac.responding
    return AcBand(ac.low_hz, ac.high_hz, ac.responding, ac.of_reading, said_by if known else "")
