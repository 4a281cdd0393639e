"""What a workshop learns about its meters: who they are, their figures, whether their inputs are isolated.

An instrument is known by what it answers to *IDN?, so that it is not asked about again at another address.
Not here: what follows from the answer (`procedures.earthing`), and how a person is asked.
"""

from __future__ import annotations

from app.bench.live_bench import LiveBench
from app.settings import DeclaredInput, Settings
from drivers.addresses import AddressKind, link_for, parse_address
from drivers.checking import identity_at
from drivers.errors import AddressError
from drivers.meter import same_instrument
from procedures.earthing import BY_HAND

_OF_A_METER = (
    "Is the input of the meter at {address} isolated from earth? Its manual says so (floating, isolated, or "
    "how many volts LO may have against earth); a meter on batteries is. An earthed input must not touch "
    "live test points."
)
_OF_A_DISPLAY = (
    "Is the meter that you read off isolated from earth? A handheld on batteries is; a bench meter on the "
    "mains may not be."
)


def input_question(address: str) -> str:
    """What to ask about the meter at an address; empty for what has no probes. Raises AddressError."""
    kind = parse_address(address).kind
    if kind in (AddressKind.FILE, AddressKind.SIMULATED):
        return ""
    return _OF_A_DISPLAY if kind is AddressKind.TYPED else _OF_A_METER.format(address=address)


def store_key(address: str) -> str:
    """Under which address a declaration is kept. Raises AddressError."""
    return BY_HAND if parse_address(address).kind is AddressKind.TYPED else address


def declared(address: str, settings: Settings) -> tuple[Settings, DeclaredInput | None]:
    """What was said about the meter at an address, and the settings in which it stands under that address.

    At an address that is new the instrument is asked who it is; that takes its answer, and 3 s at the most.
    Raises AddressError.
    """
    key = store_key(address)
    said = settings.declared_input(key)
    if said is not None or key == BY_HAND:
        return settings, said
    identity = who_answers(address, settings)
    known = settings.declared_input(key, identity) if identity else None
    if known is None:
        return settings, None
    here = DeclaredInput(address=key, isolated=known.isolated, identity=identity)
    return settings.declaring(here), here


def declare(address: str, isolated: bool, settings: Settings) -> Settings:
    """The settings with what a person says about the meter that is at an address now. Raises AddressError."""
    return settings.declaring(declaration(address, isolated, settings))


def declaration(address: str, isolated: bool, settings: Settings) -> DeclaredInput:
    """What a person says about the meter, with who answers there now. Raises AddressError."""
    key = store_key(address)
    identity = "" if key == BY_HAND else who_answers(address, settings)
    return DeclaredInput(address=key, isolated=isolated, identity=identity)


def who_answers(address: str, settings: Settings) -> str:
    """The identity of the instrument at an address; empty where none is told. Raises AddressError."""
    try:
        link = link_for(address, visa_library=settings.visa_library)
    except AddressError:
        parse_address(address)  # a stream has no link to ask, which is no error; a wrong address is
        return ""
    return identity_at(link)


def learned(bench: LiveBench, settings: Settings) -> Settings:
    """The settings after a bench: who its meters said they were, and their figures.

    Where another instrument answered than the one that was declared, its input is to be asked about.
    """
    found = settings.having_met(dict(bench.meter_facts().values()))
    addresses = bench.meter_addresses()
    for status in bench.snapshot().meters:
        address = addresses.get(status.meter, "")
        said = found.declared_input(address)
        if said is None or not said.identity or not status.identity:
            continue
        if not same_instrument(said.identity, status.identity):
            found = found.asking_again(address)
    return found
