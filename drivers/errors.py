"""The errors that may leave `drivers`.

    DriverError
    ├── LinkError            an exchange with an instrument did not work; always carries the address
    │   ├── LinkRefused      nobody there, no permission, or no such address
    │   ├── LinkTimedOut     no complete answer by the deadline (`received` holds the part that came)
    │   ├── LinkGarbled      an answer came that cannot be one (`received`)
    │   ├── LinkLost         the connection is gone; only opening again can help
    │   └── LinkAborted      another thread called `abort()`
    ├── MeterRefused         the meter is there but will not do what was asked (range, function, identity)
    ├── AddressError         an address that cannot be understood
    ├── DialectError         a file that describes a meter's behaviour and cannot be used
    └── ReplyRefused         a reply that is not a reading (raised by the parser, never guessed around)

The text of each says what is wrong, where, and what to do, in one sentence.
"""

from __future__ import annotations


class DriverError(Exception):
    """Root of what `drivers` raises."""


class LinkError(DriverError):
    """An exchange with an instrument did not work."""

    def __init__(self, address: str, sentence: str, received: bytes = b"") -> None:
        super().__init__(f"{address}: {sentence}")
        self.address = address
        self.sentence = sentence
        self.received = received


class LinkRefused(LinkError):
    """Nobody answers at the address, or this program may not use it."""


class LinkTimedOut(LinkError):
    """No complete answer by the deadline."""


class LinkGarbled(LinkError):
    """Bytes came that cannot be an answer."""


class LinkLost(LinkError):
    """The connection is gone."""


class LinkAborted(LinkError):
    """The exchange was given up because another thread asked for it."""


class MeterRefused(DriverError):
    """The meter answers, but not in the way the bench needs."""


class AddressError(DriverError):
    """An address that cannot be understood. `suggestion` is the nearest address that could be, or empty."""

    def __init__(self, sentence: str, suggestion: str = "") -> None:
        super().__init__(sentence)
        self.suggestion = suggestion


class DialectError(DriverError):
    """A file that describes a meter's behaviour and cannot be used: which, where in it, what is wrong."""


class ReplyRefused(DriverError):
    """A reply that is not a reading."""

    def __init__(self, sentence: str, received: bytes) -> None:
        super().__init__(sentence)
        self.received = received
