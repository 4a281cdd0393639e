"""Real meters as the bench takes them: what is known about each before it is opened, and how it is polled.

Nothing is opened here. What a workshop remembers about an address (who answered there, its figures, whether
its input is isolated from earth) comes from the settings; how a meter is spoken to, from dialects.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from app.bench.live_bench import PolledMeter
from app.records.places import dialects_folder
from app.settings import Settings
from drivers.addresses import AddressKind, parse_address
from drivers.clock import Clock
from drivers.meter import MeterAccuracy, MeterSetup
from drivers.meters import meter_for
from drivers.reading import Unit
from drivers.replayed import inputs_of
from drivers.scpi.dialect import Dialect, dialects_in, shipped_dialects
from drivers.stream import LinePattern
from procedures.earthing import BY_HAND, Earthing
from procedures.leads import Lead
from procedures.ranging import range_for

PERIOD_S = 1.0
LINE_PERIOD_S = 0.05  # lines and files come by themselves: each is to be stamped when it comes
INTEGRATION_S = 0.2


@dataclass(frozen=True, slots=True)
class MeterAt:
    """A real meter: its name on the leads, where it is, what its probes touch, and what is known about it.

    `accuracy` are its figures as they were met or declared, `dialect` the one by which it was spoken to, or
    has to be. `more` are further inputs, each with its channel; `isolated` is what was declared about earth,
    and `identity` who has to answer for that to hold; empty: whoever does.
    """

    name: str
    address: str
    channel: str | None
    accuracy: MeterAccuracy | None = None
    dialect: str = ""
    pattern: LinePattern | None = None
    first_input: str = "1"
    more: tuple[tuple[str, str], ...] = ()
    isolated: bool = False
    identity: str = ""

    @property
    def leads(self) -> tuple[Lead, ...]:
        """Which of its inputs reads which channel at the start."""
        first = Lead(self.name, self.first_input, self.channel)
        return (first, *(Lead(self.name, wired, channel) for wired, channel in self.more))

    @property
    def reads(self) -> str:
        """Its inputs and their channels as `reads_of` takes them; empty where it reads nothing."""
        if not self.more and self.first_input == "1":
            return self.channel or ""
        return ",".join(f"{lead.input}={lead.channel}" for lead in self.leads if lead.channel)

    @property
    def way(self) -> dict[str, str]:
        """How it is spoken to or understood, in words that a record can keep; see `way_of`."""
        way = {"dialect": self.dialect}
        if self.pattern is not None:
            units = ",".join(f"{name}={word}" for name, word in self.pattern.units.items())
            way |= {"pattern": self.pattern.expression, "units": units}
        return {name: words for name, words in way.items() if words}


def way_of(kept: Mapping[str, str]) -> tuple[str, LinePattern | None]:
    """Dialect and pattern from what `MeterAt.way` kept. Raises AddressError."""
    pattern = None
    if "pattern" in kept or "units" in kept:
        pairs = (each.partition("=") for each in kept.get("units", "").split(","))
        pattern = LinePattern(kept.get("pattern", ""), {name: word for name, _, word in pairs if word})
    return kept.get("dialect", ""), pattern


@dataclass(frozen=True, slots=True)
class OwnDialects:
    """The dialect files of this user, and a sentence for each that cannot be used."""

    dialects: tuple[Dialect, ...]
    problems: tuple[str, ...] = ()

    def called(self, name: str) -> Dialect | None:
        """The dialect of that name, a user's own before one that ships; None where there is none."""
        return next((one for one in (*self.dialects, *shipped_dialects()) if one.name == name), None)

    def names(self) -> str:
        """Every name that may be chosen, for a sentence."""
        return ", ".join(one.name for one in (*self.dialects, *shipped_dialects()))


def own_dialects(folder: Path | None = None) -> OwnDialects:
    """Read the user's dialect files; a broken one costs itself alone."""
    return OwnDialects(*dialects_in([folder or dialects_folder()]))


def known_meter(
    name: str,
    address: str,
    channel: str | None,
    settings: Settings,
    *,
    isolated: bool | None = None,
    dialect: str = "",
    pattern: LinePattern | None = None,
) -> MeterAt:
    """A meter with all that is remembered about its address.

    Args:
        name: by which leads refer to it.
        address: where it is.
        channel: what it reads; or, for several inputs, `INPUT=CHANNEL,INPUT=CHANNEL`; None: what its lines or
            columns are called, as far as that is known.
        settings: what is remembered.
        isolated: what is declared about earth just now; None: what was declared before.
        dialect: the name of one to insist on.
        pattern: what the lines of a stream look like.

    Raises:
        AddressError, or MeterRefused for a file of readings that cannot be used.
    """
    met = next((one for one in settings.meters if one.address == address), None)
    declared = settings.declared_input(address)
    remembered = declared is not None and isolated is None
    if pattern is None and met is not None and (met.pattern or met.unit):
        pattern = LinePattern(met.pattern, {"": met.unit or "mV"})
    first, *more = reads_of(address, channel, pattern)
    return MeterAt(
        name,
        address,
        first[1],
        accuracy=met.accuracy if met is not None else None,
        dialect=dialect or (met.dialect if met is not None else ""),
        pattern=pattern,
        first_input=first[0],
        more=tuple((wired, read) for wired, read in more if read is not None),
        isolated=declared.isolated if declared is not None and remembered else bool(isolated),
        identity=declared.identity if declared is not None and remembered and declared.isolated else "",
    )


def reads_of(
    address: str, channel: str | None, pattern: LinePattern | None = None
) -> list[tuple[str, str | None]]:
    """Inputs of a meter, each with its channel. Raises as `known_meter`."""
    known = parse_address(address)
    inputs = ["1"]
    if known.kind is AddressKind.FILE:
        inputs = list(inputs_of(Path(known.detail)))
    elif known.kind is AddressKind.STREAM and pattern is not None and pattern.inputs:
        inputs = list(pattern.inputs)
    if channel is None:
        named = known.kind in (AddressKind.FILE, AddressKind.STREAM) and inputs != ["1"]
        return [(wired, wired.replace("_", " ") if named else None) for wired in inputs]
    if "=" not in channel:
        return [(inputs[0], channel)]
    pairs = (part.partition("=") for part in channel.split(","))
    return [(wired.strip(), read.strip() or None) for wired, _, read in pairs]


def has_probes(address: str) -> bool:
    """Whether anything at the address could be clipped to an amplifier. Raises AddressError."""
    return parse_address(address).kind not in (AddressKind.FILE, AddressKind.SIMULATED)


def earthing_of(meters: Sequence[MeterAt], typed_isolated: bool, ground_referenced: bool) -> Earthing:
    """What is declared about the sources of a bench. Raises AddressError."""
    earthed = [at.name for at in meters if not at.isolated and has_probes(at.address)]
    if not typed_isolated:
        earthed.append(BY_HAND)
    return Earthing(tuple(earthed), ground_referenced)


def ground_was_told(meters: Sequence[MeterAt], typed_isolated: bool, settings: Settings) -> bool:
    """Whether of every earthed source it was told that it measures outputs against ground."""
    told = {one.address for one in settings.meters if one.ground_referenced}
    earthed = [at.address in told for at in meters if not at.isolated and has_probes(at.address)]
    if not typed_isolated:
        earthed.append(settings.display_ground_referenced)
    return bool(earthed) and all(earthed)


def polled(
    at: MeterAt, clock: Clock, settings: Settings, own: OwnDialects, target_volts: float | None = None
) -> PolledMeter:
    """A real meter, not yet connected, set for a reading of about `target_volts`.

    Raises AddressError, or DriverError for a file of readings that cannot be used.
    """
    kind = parse_address(at.address).kind
    by_itself = kind in (AddressKind.STREAM, AddressKind.FILE)
    meter = meter_for(
        at.name,
        at.address,
        clock,
        visa_library=settings.visa_library,
        dialect="" if by_itself else _to_insist_on(at, own),
        own_dialects=own.dialects,
        pattern=at.pattern,
    )
    inputs = tuple(lead.input for lead in at.leads)
    setup = MeterSetup(range_for(target_volts), float(settings.mains_hz), INTEGRATION_S, inputs)
    return PolledMeter(meter, setup, LINE_PERIOD_S if by_itself else PERIOD_S, at.identity)


def _to_insist_on(at: MeterAt, own: OwnDialects) -> str:
    """A dialect that fits by itself is found again by itself; what was chosen by name has to be named."""
    dialect = own.called(at.dialect)
    return "" if dialect is not None and not dialect.choose.by_name_only else at.dialect


def accuracy_of(at: MeterAt, target_volts: float | None, own: OwnDialects) -> MeterAccuracy | None:
    """The meter's figures on the range that it will be on, where they are known before it is opened."""
    wanted_volts = range_for(target_volts)
    if at.accuracy is not None and at.accuracy.range_value in (0.0, wanted_volts):
        return at.accuracy
    dialect = own.called(at.dialect)
    found = dialect.accuracy_of(wanted_volts) if dialect is not None else MeterAccuracy()
    return found if found != MeterAccuracy() else None


def units_of(meters: Sequence[MeterAt], own: OwnDialects) -> Mapping[str, Unit]:
    """What each channel is read in, as far as it is known before anything is opened. Raises AddressError."""
    return {
        lead.channel: unit
        for at in meters
        for lead in at.leads
        if lead.channel is not None
        for unit in (_unit_of(at, lead.input, own),)
        if unit is not None
    }


def _unit_of(at: MeterAt, meter_input: str, own: OwnDialects) -> Unit | None:
    address = parse_address(at.address)
    if address.kind is AddressKind.FILE:
        return inputs_of(Path(address.detail)).get(meter_input)
    if address.kind is AddressKind.STREAM:
        return (at.pattern or LinePattern()).unit_of(meter_input).unit
    dialect = own.called(at.dialect)
    return dialect.reply.quantity if dialect is not None else None
