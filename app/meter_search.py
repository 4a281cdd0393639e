"""Which meters there are, and whether one is fit for the job: what `meters` and the window's dialogue show.

Listing opens nothing that the user has not chosen; checking changes none of a meter's settings.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from app.bench.real_meters import OwnDialects
from app.settings import Settings
from drivers.addresses import Address, AddressKind, link_for, parse_address
from drivers.checking import CheckLine, check_meter, check_source
from drivers.clock import LifeClock
from drivers.discovery import Found, Source, Trouble, find_meters
from drivers.errors import AddressError
from drivers.meters import meter_for
from drivers.scpi.dialect import Dialect, shipped_dialects
from drivers.stream import LinePattern

OURS = (
    Found("typed", "a display that you read and type", "always there"),
    Found("simulated", "the simulated bench", "always there"),
)
NO_CHECK = {
    AddressKind.TYPED: "typed is a display that you read yourself: there is nothing to check",
    AddressKind.SIMULATED: "the simulated bench opens its meters itself: `practice` uses them",
}


@dataclass(frozen=True, slots=True)
class ListedMeter:
    """One line of the list. `about` says what is known of it, `hint` what to do before it can be used."""

    address: str
    what: str
    about: str = ""
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Listing:
    """What was found, and which bus could not be searched and why."""

    meters: tuple[ListedMeter, ...]
    troubles: tuple[Trouble, ...]


def list_meters(settings: Settings, sources: Iterable[Source] | None = None) -> Listing:
    """Search every bus at once, each with its own time limit, and add what is remembered and what is ours."""
    found, troubles = find_meters(sources)
    remembered = {known.address: known for known in settings.meters}
    listed = []
    for each in found:
        known = remembered.pop(each.address, None)
        about = _remembered_words(each.address, known.identity if known else "", settings)
        listed.append(ListedMeter(each.address, each.what, about, each.hint))
    for address, known in remembered.items():
        about = _remembered_words(address, known.identity, settings)
        listed.append(ListedMeter(address, "used before, not found now", about))
    listed += [ListedMeter(each.address, each.what) for each in OURS]
    return Listing(tuple(listed), troubles)


def _remembered_words(address: str, identity: str, settings: Settings) -> str:
    words = [identity] if identity else []
    said = settings.declared_input(address)
    if said is not None:
        words.append("input isolated from earth" if said.isolated else "input earthed")
    return "; ".join(words)


def check_address(
    address: str,
    settings: Settings,
    own: OwnDialects,
    *,
    dialect: str = "",
    pattern: LinePattern | None = None,
) -> tuple[CheckLine, ...]:
    """Look at the meter at an address, without changing any of its settings.

    `dialect` is the name of one to go by, `pattern` what the lines of a stream look like. What goes wrong on
    the way is a line of the result. Raises AddressError for an address that has no meter to look at.
    """
    known = parse_address(address)
    if known.kind in NO_CHECK:
        raise AddressError(NO_CHECK[known.kind])
    chosen = own.called(dialect) if dialect else None
    if dialect and chosen is None:
        raise AddressError(f"there is no dialect called {dialect!r}; there are {own.names()}")
    lines = _looked_at(known, settings, own, chosen, pattern)
    return (*lines, _about_earth(known, settings))


def _looked_at(
    known: Address,
    settings: Settings,
    own: OwnDialects,
    chosen: Dialect | None,
    pattern: LinePattern | None,
) -> tuple[CheckLine, ...]:
    if known.kind in (AddressKind.STREAM, AddressKind.FILE):
        return check_source(meter_for("meter", known, LifeClock(), pattern=pattern))
    return check_meter(
        link_for(known, visa_library=settings.visa_library),
        dialects=(*own.dialects, *shipped_dialects()),
        chosen=chosen,
        mains_hz=float(settings.mains_hz),
    )


def _about_earth(known: Address, settings: Settings) -> CheckLine:
    if known.kind is AddressKind.FILE:
        return CheckLine("earth", "a file has no probes")
    said = settings.declared_input(known.text)
    if said is None:
        return CheckLine("earth", "nobody has said whether the input is isolated: it counts as earthed")
    return CheckLine("earth", "input declared isolated" if said.isolated else "input declared earthed")


def is_fit(lines: Iterable[CheckLine]) -> bool:
    """Whether nothing was found that speaks against a bias measurement."""
    return all(line.good is not False for line in lines)
