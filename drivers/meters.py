"""From an address to the meter behind it, whatever kind it is; nothing is opened yet."""

from __future__ import annotations

from pathlib import Path

from drivers.addresses import Address, AddressKind, link_for, parse_address, stream_link
from drivers.clock import Clock
from drivers.errors import AddressError
from drivers.meter import Meter, MeterAccuracy
from drivers.replayed import ReplayedMeter
from drivers.scpi.dialect import Dialect, shipped_dialects
from drivers.scpi.meter import ScpiMeter
from drivers.stream import LinePattern, StreamMeter


def meter_for(
    name: str,
    address: str | Address,
    clock: Clock,
    *,
    visa_library: str = "@py",
    dialect: str = "",
    own_dialects: tuple[Dialect, ...] = (),
    pattern: LinePattern | None = None,
    every_s: float = 1.0,
    accuracy: MeterAccuracy | None = None,
) -> Meter:
    """The meter at an address.

    Args:
        name: by which leads refer to it.
        address: a VISA resource string, `stream:...` or `file:...`.
        clock: stamps its readings.
        visa_library: see `drivers.addresses.link_for`.
        dialect: the name of one to insist on (needed where the quantity is not volts); empty: found out.
        own_dialects: a user's, tried before those that ship.
        pattern: what the lines of a stream look like.
        every_s: how often a stream is expected to say something.
        accuracy: as declared by a person; None: the dialect's.

    Raises:
        AddressError: when the address is wrong, is typed or simulated (no meter to open here), or when no
            dialect has the name.
    """
    known = parse_address(address) if isinstance(address, str) else address
    if known.kind is AddressKind.STREAM:
        return StreamMeter(name, stream_link(known), clock, pattern, every_s=every_s, accuracy=accuracy)
    if known.kind is AddressKind.FILE:
        return ReplayedMeter(name, Path(known.detail), clock, accuracy=accuracy)
    dialects = (*own_dialects, *shipped_dialects())
    chosen = _called(dialect, dialects) if dialect else None
    link = link_for(known, visa_library=visa_library)
    return ScpiMeter(name, link, clock, chosen, dialects=dialects, accuracy=accuracy)


def _called(name: str, dialects: tuple[Dialect, ...]) -> Dialect:
    for each in dialects:
        if each.name == name:
            return each
    known = ", ".join(each.name for each in dialects)
    raise AddressError(f"there is no dialect called {name!r}; there are {known}")
