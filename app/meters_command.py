"""The command `meters`: what there is, and the check of one meter, as plain lines that can be copied."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from app.bench.meter_memory import declare, declared
from app.bench.real_meters import OwnDialects, own_dialects
from app.meter_search import ListedMeter, Listing, check_address, is_fit, list_meters
from app.settings import Settings
from app.settings_file import SettingsFile
from drivers.addresses import parse_address
from drivers.checking import CheckLine
from drivers.stream import LinePattern

_MARKS = {True: "good", False: "BAD", None: ""}


def meter_lines(meters: Sequence[ListedMeter]) -> list[str]:
    """One line a meter, and one below it where something has to be done first."""
    widest = max((len(meter.address) for meter in meters), default=0)
    lines = []
    for meter in meters:
        about = f" ({meter.about})" if meter.about else ""
        lines.append(f"{meter.address:<{widest}}  {meter.what}{about}")
        if meter.hint:
            lines.append(f"{'':<{widest}}  {meter.hint}")
    return lines


def check_lines(lines: Sequence[CheckLine]) -> list[str]:
    """Name, whether it suits a bias measurement, and what was found."""
    widest = max((len(line.what) for line in lines), default=0)
    return [f"{line.what:<{widest}}  {_MARKS[line.good]:<4}  {line.found}".rstrip() for line in lines]


def carry_out_meters(
    chosen: argparse.Namespace,
    settings: Settings,
    settings_path: Path,
    *,
    search: Callable[[Settings], Listing] = list_meters,
) -> int:
    """List, or check the meter at `chosen.check`; 1 where the check found what speaks against it."""
    own = told_dialects()
    if chosen.check is None:
        listing = search(settings)
        print("\n".join(meter_lines(listing.meters)))
        for trouble in listing.troubles:
            print(f"Not searched: {trouble.source}: {trouble.sentence}.")
        return 0
    pattern = line_pattern(chosen.pattern, chosen.unit)
    said = declared_now(chosen)
    if said is not None:
        before, settings = settings, declare(chosen.check, said, settings)
        keep(settings, settings_path, before)
    settings, _ = declared(chosen.check, settings)
    found = check_address(chosen.check, settings, own, dialect=chosen.dialect, pattern=pattern)
    print("\n".join(check_lines(found)))
    return 0 if is_fit(found) else 1


def told_dialects() -> OwnDialects:
    """The user's dialects; what is wrong with a file is said."""
    own = own_dialects()
    for problem in own.problems:
        print(f"A meter's description is passed over: {problem}.", file=sys.stderr)
    return own


def line_pattern(expression: str, unit: str) -> LinePattern | None:
    """The pattern that the command line describes, if it does. Raises AddressError."""
    return LinePattern(expression, {"": unit or "mV"}) if expression or unit else None


def declared_now(chosen: argparse.Namespace) -> bool | None:
    """What the command line says about earth: isolated, earthed, or nothing."""
    return True if chosen.isolated else False if chosen.earthed else None


def keep(settings: Settings, path: Path, known: Settings) -> None:
    """Keep what differs from `known`; a folder that cannot be written costs the memory, not the job."""
    try:
        SettingsFile(path, known).keep(settings)
    except OSError as problem:
        print(f"The settings cannot be kept in {path} ({problem.strerror or problem}).", file=sys.stderr)


def require_addresses(addresses: Sequence[str]) -> None:
    """Refuse what cannot be understood before anything is asked or opened. Raises AddressError."""
    for address in addresses:
        parse_address(address)
