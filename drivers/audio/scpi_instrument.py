"""One generator or digitiser on a link: opened, its dialect found, settings confirmed by read-back."""

from __future__ import annotations

import contextlib
import math
from typing import Generic

from drivers.addresses import link_for
from drivers.audio.dialect import Either, InstrumentDialects, Setting, dialect_for, filled
from drivers.audio.refusal import AudioRefused
from drivers.clock import host_seconds
from drivers.errors import AddressError, DialectError, LinkError
from drivers.links import Link

OPEN_S = 5.0


class ScpiInstrument(Generic[Either]):
    """The conversation with one instrument. Used by one thread at a time, except `abort`."""

    def __init__(
        self,
        address: str,
        kind: type[Either],
        link: Link | None = None,
        own: InstrumentDialects = (),
        visa_library: str = "@py",
    ) -> None:
        try:
            self.link = link if link is not None else link_for(address, visa_library=visa_library)
        except AddressError as wrong:
            raise AudioRefused(f"{wrong}.") from wrong
        try:
            self.link.open(host_seconds() + OPEN_S)
            self.identity = self._asked(b"*IDN?", OPEN_S)
            self.dialect: Either = dialect_for(self.identity, kind, own)
        except (LinkError, DialectError) as trouble:
            self.link.close()
            raise AudioRefused(f"{trouble}.") from trouble

    @property
    def address(self) -> str:
        """Where it is."""
        return self.link.address

    def tell(self, line: str, **values: float | str) -> None:
        """Send a line. Raises LinkError."""
        self.link.write(filled(line, **values), host_seconds() + self.dialect.answer_s)

    def ask(self, line: str, **values: float | str) -> str:
        """The answer to a question. Raises LinkError."""
        return self._asked(filled(line, **values), self.dialect.answer_s)

    def number(self, line: str, **values: float | str) -> float:
        """An answer that must be a number. Raises LinkError, AudioRefused."""
        said = self.ask(line, **values)
        with contextlib.suppress(ValueError):
            if math.isfinite(value := float(said)):
                return value
        self.link.mark_dirty()
        raise AudioRefused(f"{self.address} answered {said[:40]!r} where a number was asked for.")

    def set(self, setting: Setting, **values: float | str) -> None:
        """Make one setting and see that it holds. Raises LinkError, AudioRefused."""
        for line in setting.write:
            self.tell(line, **values)
        if not setting.value:
            said = self.ask(setting.read_back, **values).strip().strip('"').upper()
            if said in (word.upper() for word in setting.accept) or _equal(said, setting.accept):
                return
            raise AudioRefused(
                f"{self.address} did not take the {setting.name}: it says {said[:40]!r}, "
                f"not {setting.accept[0]}."
            )
        wanted = float(values[setting.value])
        found = self.number(setting.read_back, **values)
        slack = setting.within * abs(wanted)
        high = math.inf if setting.at_least else wanted + slack
        if not wanted - slack <= found <= high:
            raise AudioRefused(
                f"{self.address} did not take the {setting.name}: {wanted:.6g} was asked for and it says "
                f"{found:.6g}; choose what the instrument can do."
            )

    def clear(self) -> None:
        """Make a dirty link usable again, or open it anew. Raises LinkError."""
        if not self.link.dirty:
            return
        deadline = host_seconds() + self.dialect.answer_s
        try:
            self.link.resync(b"*IDN?", self.identity.encode("latin-1"), deadline)
        except LinkError:
            self.reopen()

    def reopen(self) -> None:
        """Connect anew. Raises LinkError."""
        self.link.close()
        self.link.open(host_seconds() + OPEN_S)

    def _asked(self, line: bytes, seconds: float) -> str:
        return self.link.query(line, host_seconds() + seconds).raw.decode("latin-1")


def _equal(said: str, accepted: tuple[str, ...]) -> bool:
    """Whether a number is one of the accepted ones however it is written."""
    try:
        return any(float(said) == float(one) for one in accepted)
    except ValueError:
        return False
