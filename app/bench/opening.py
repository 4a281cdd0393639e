"""Putting whole benches together: the simulated one, one of real meters, one whose values are typed.

Everything here takes what it needs as arguments; what the user chose and where files go is decided by the
composition root (`app.main`, `app.workshop`).
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from app.bench.audio.desk import AudioDesk
from app.bench.audio.recordings import kept_in_practice
from app.bench.live_bench import BenchParts, LiveBench, PolledMeter
from app.bench.practice_bench import PracticeBench
from app.bench.practice_unit import SIDES, SimulatedHands, amplifier_of
from app.bench.real_meters import (
    INTEGRATION_S,
    PERIOD_S,
    MeterAt,
    OwnDialects,
    accuracy_of,
    earthing_of,
    ground_was_told,
    own_dialects,
    polled,
    units_of,
)
from app.bench.session_header import header_of
from app.bench.sleep import ComputerSleep
from app.bench.tour import TourBench
from app.records.session_folder import SessionRecord
from app.settings import Settings
from drivers.addresses import link_for
from drivers.audio.level_meter import LevelMeter
from drivers.audio.path import AudioPath
from drivers.clock import Clock, LifeClock, SteppedClock
from drivers.links import Link
from drivers.meter import MeterAccuracy, MeterSetup
from drivers.scpi.meter import ScpiMeter
from drivers.simulated.audio_bench import AudioBench
from drivers.simulated.audio_path import SimulatedPath
from drivers.simulated.bench import SimulatedBench
from drivers.simulated.hislip_server import HislipServer
from drivers.simulated.in_process import InProcessLink
from drivers.simulated.instrument import Multimeter
from drivers.simulated.level_meter import SimulatedLevelMeter
from drivers.simulated.multimeter import MODELS, MultimeterInput
from drivers.simulated.units import load_unit
from procedures.amplifier import Amplifier
from procedures.analysis.channel import AnalysisSettings
from procedures.analysis.remembered import RememberedWarmUp
from procedures.earthing import BY_HAND, Earthing
from procedures.job import UnitName
from procedures.leads import Lead
from procedures.library import shipped_procedures
from procedures.procedure import Procedure
from procedures.setup import RunSetup, channel_setup

BIAS_RANGE_VOLTS = 0.1
METER_MODEL = "6120"
# Wider than the simulated meters' own errors, as a maker's figures are.
METER_ACCURACY = MeterAccuracy(
    of_reading=5e-5,
    of_range=5e-5,
    range_value=BIAS_RANGE_VOLTS,
    resolution=1e-8,
    declared_by="figures of the simulated meter",
)


GROUND_TOLD = (
    "The outputs count as measured against ground, as was told about an earthed meter: "
    "take its lead off a bridged output."
)


@dataclass(frozen=True, slots=True)
class SimulatedChoice:
    """What is put on the simulated bench. `meters` is 1 or 2; `session` an identifier to use again.

    With `instruments` signals are measured with a simulated SCPI generator and digitiser. `remembered` is how
    the unit warmed up in practice before.
    """

    unit: str = "healthy"
    meters: int = 2
    seed: int = 1
    session: str = ""
    lid_fitted: bool = False
    instruments: bool = False
    remembered: tuple[RememberedWarmUp, ...] = ()


def analysis_settings(settings: Settings) -> AnalysisSettings:
    """The part of the settings that decides."""
    return AnalysisSettings(
        limit=settings.settled_limit,
        horizon_s=settings.settled_horizon_s,
        mains_hz=float(settings.mains_hz),
    )


def meter_setup(settings: Settings) -> MeterSetup:
    """How a meter is set for a bias reading."""
    return MeterSetup(BIAS_RANGE_VOLTS, float(settings.mains_hz), INTEGRATION_S)


def _never(_unit: str) -> str:
    """The cautions of no unit were read before."""
    return ""


def open_simulated(
    choice: SimulatedChoice,
    procedure: Procedure,
    root: Path,
    clock: Clock,
    settings: Settings,
    *,
    read: Callable[[str], str] = _never,
) -> PracticeBench:
    """The simulated bench, not yet started.

    `read` says when a unit's cautions were read earlier in this sitting, empty where they were not.
    Its meters are reached over HiSLIP and PyVISA, or within this process where time is stepped.
    Raises UnitRefused, FolderUnusable, OSError.
    """
    within = isinstance(clock, SteppedClock)
    on_it = _put_on(choice, procedure, root, clock, settings, within=within, read=read)
    live = PracticeBench(on_it.parts, on_it.hands)
    stepped = isinstance(clock, SteppedClock)
    path, meter = _signals(on_it.bench, choice, within=stepped)
    mains_hz = float(settings.mains_hz)
    keep = None if stepped else kept_in_practice(live.record.folder)
    inbox = live.conductor
    live.hear(AudioDesk(path, inbox, mains_hz=mains_hz, at_once=stepped, keep=keep, open_meter=meter))
    return live


def _signals(
    bench: SimulatedBench, choice: SimulatedChoice, *, within: bool
) -> tuple[Callable[[], AudioPath], Callable[[], LevelMeter]]:
    """How the simulated signal path and the AC voltmeter are opened."""
    if choice.instruments:
        on = AudioBench(bench, bench.unit, choice.seed)
        return lambda: on.path(within=within), lambda: on.meter(within=within)
    path = SimulatedPath(bench, bench.unit, choice.seed)
    return lambda: path, lambda: SimulatedLevelMeter(bench, path)


def open_tour(root: Path, clock: Clock, settings: Settings, after: Callable[[], object]) -> TourBench:
    """The tour, not yet started: `watch` on a healthy unit, meters within this process, record in `root`.

    `after` is called once the bench has been left and its record closed. Raises OSError.
    """
    choice = SimulatedChoice(seed=2)
    on_it = _put_on(choice, shipped_procedures()["watch"], root, clock, settings, within=True)
    return TourBench(on_it.parts, on_it.hands, after)


@dataclass(frozen=True, slots=True)
class _Simulated:
    parts: BenchParts
    hands: SimulatedHands
    bench: SimulatedBench


def _put_on(
    choice: SimulatedChoice,
    procedure: Procedure,
    root: Path,
    clock: Clock,
    settings: Settings,
    *,
    within: bool,
    read: Callable[[str], str] = _never,
) -> _Simulated:
    """A unit with its meters and the record; `within` reaches the meters without sockets."""
    unit = load_unit(choice.unit)
    bench = SimulatedBench(unit, clock, choice.seed)
    bench.move_lid(choice.lid_fitted)
    names = [f"{side} meter" for side in SIDES] if choice.meters > 1 else ["meter"]
    channels = [f"{side} bias" for side in SIDES]
    leads = [Lead(name, "1", channel) for name, channel in zip(names, channels, strict=False)]
    unit_name = f"{unit.maker} {unit.model}, serial {unit.serial} (simulated)"
    setup = RunSetup.build(
        procedure,
        amplifier_of(unit),
        leads=leads,
        accuracies=dict.fromkeys(names, METER_ACCURACY),
        settings=analysis_settings(settings),
        lid_fitted=choice.lid_fitted,
        practice=True,
        remembered=choice.remembered,
        cautions_read=read(unit_name),
    )
    meters: list[PolledMeter] = []
    cables: dict[str, Callable[[], object]] = {}
    with contextlib.ExitStack() as opened:  # where one cannot be opened, none is left running
        for number, name in enumerate(names):
            bench.move_probes(name, channels[number])
            served = Multimeter(
                MultimeterInput(bench, name, MODELS[METER_MODEL]), clock, serial=f"FW{number + 1:06d}"
            )
            link, close = _served(name, served, clock, settings, within)
            opened.callback(close)
            cables[name] = link.unplug if isinstance(link, InProcessLink) else close
            meter = ScpiMeter(name, link, clock, accuracy=METER_ACCURACY)
            meters.append(PolledMeter(meter, meter_setup(settings), PERIOD_S))
        record = SessionRecord.create(root, header_of(setup, clock.utc(), unit_name, choice.session))
        closers = [opened.pop_all().close]
    hands = SimulatedHands(bench, clock, names, cables)
    parts = BenchParts(
        clock=clock,
        setup=setup,
        record=record,
        meters=meters,
        practice=hands,
        move_probes=bench.move_probes,
        closers=closers,
        unit_name=unit_name,
    )
    return _Simulated(parts, hands, bench)


def _served(
    name: str, instrument: Multimeter, clock: Clock, settings: Settings, within: bool
) -> tuple[Link, Callable[[], object]]:
    """A link to a simulated meter, and how its server is stopped."""
    if within:
        return InProcessLink(instrument, f"simulated:{name}"), _nothing
    server = HislipServer(instrument, clock, name=name)
    server.start()
    return link_for(server.address, visa_library=settings.visa_library), server.stop


def _nothing() -> None:
    """Nothing to stop."""


def _earthing(meters: Sequence[MeterAt], settings: Settings, ground_referenced: bool) -> tuple[Earthing, str]:
    """What is declared about earth, and what has to stay in sight because of it."""
    by_hand = settings.declared_input(BY_HAND)
    isolated = by_hand is None or by_hand.isolated
    if not ground_referenced and ground_was_told(meters, isolated, settings):
        return earthing_of(meters, isolated, True), GROUND_TOLD
    return earthing_of(meters, isolated, ground_referenced), ""


def open_meters(
    meters: Sequence[MeterAt],
    procedure: Procedure,
    root: Path,
    settings: Settings,
    *,
    amplifier: Amplifier | None = None,
    typed: Sequence[str] = (),
    ground_referenced: bool = False,
    own: OwnDialects | None = None,
    notice: str = "",
    serial: str = "",
    remembered: tuple[RememberedWarmUp, ...] = (),
    read: Callable[[str], str] = _never,
) -> LiveBench:
    """A bench of real meters and typed channels at life speed, not yet started.

    `ground_referenced` is what a person said about the amplifier's outputs; `own` are the user's dialects,
    `notice` stays in sight. `serial` is the unit's number, `remembered` how it warmed up before,
    `read` as for `open_simulated`.

    Raises AddressError for an address that cannot be understood, ValueError where an earthed input would
    touch live test points, FolderUnusable; a meter that does not answer is no error here: its worker says so
    and goes on trying.
    """
    clock = LifeClock()
    own = own_dialects() if own is None else own
    targets = {at.name: _target_of(at.channel, amplifier) for at in meters}
    polled_meters = [polled(at, clock, settings, own, targets[at.name]) for at in meters]
    figures = {at.name: accuracy_of(at, targets[at.name], own) for at in meters}
    if settings.display is not None:
        figures |= dict.fromkeys(typed, settings.display)
    earthing, said = _earthing(meters, settings, ground_referenced)
    unit_name = str(UnitName(amplifier.maker, amplifier.model, serial)) if amplifier is not None else ""
    setup = RunSetup.build(
        procedure,
        amplifier,
        leads=[lead for at in meters for lead in at.leads],
        typed=typed,
        accuracies={name: found for name, found in figures.items() if found is not None},
        settings=analysis_settings(settings),
        units=units_of(meters, own),
        earthing=earthing,
        remembered=remembered,
        cautions_read=read(unit_name) if serial else "",
    )
    return LiveBench(
        BenchParts(
            clock=clock,
            setup=setup,
            record=_record_of(setup, clock, root, unit_name, meters),
            meters=polled_meters,
            sleep=ComputerSleep(),
            unit_name=unit_name,
            ask_every_s=settings.typing_every_s,
            notice=" ".join(filter(None, (notice, said, *_unusable(own)))),
        )
    )


def _record_of(
    setup: RunSetup, clock: Clock, root: Path, unit_name: str, meters: Sequence[MeterAt]
) -> SessionRecord:
    addresses = {at.name: at.address for at in meters}
    ways = {at.name: at.way for at in meters if at.way}
    return SessionRecord.create(root, header_of(setup, clock.utc(), unit_name, meters=addresses, ways=ways))


def _unusable(own: OwnDialects) -> list[str]:
    return [f"A meter's description cannot be used: {one}." for one in own.problems[:2]]


def _target_of(channel: str | None, amplifier: Amplifier | None) -> float | None:
    """What a channel should read, or may read at the most, in volts; None: nobody has said."""
    if channel is None:
        return None
    described = channel_setup(channel, amplifier)
    return described.target_volts or described.high_volts
