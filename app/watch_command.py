"""The command `watch`: real meters, lines, files and typed displays followed in the terminal, no questions.

One thing is asked, once an instrument: whether its input is isolated from earth.
"""

from __future__ import annotations

import argparse
import io
import queue
import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TextIO

from rich.console import Console

from app.begun_for_job import file_begun, job_meant
from app.bench.live_bench import LiveBench
from app.bench.meter_memory import declare, declared, input_question, learned
from app.bench.opening import SimulatedChoice, open_meters, open_simulated
from app.bench.real_meters import MeterAt, known_meter
from app.meters_command import declared_now, keep, line_pattern, require_addresses, told_dialects
from app.settings import DISPLAY_TOLD, RememberedMeter, Settings, SoundChoice
from app.sound_options import sound_desk, with_sound_options
from app.terminal import file_away, follow_watch, name_files, write_results
from app.typing_desk import TypingDesk
from drivers.addresses import AddressKind, parse_address
from drivers.clock import LifeClock
from drivers.errors import AddressError
from drivers.meter import MeterAccuracy
from procedures.earthing import EarthedInput
from procedures.library import shipped_procedures

CHANNELS = ("left bias", "right bias")


def carry_out_watch(
    chosen: argparse.Namespace,
    settings: Settings,
    settings_path: Path,
    root: Path,
    file: Callable[[Path], str] | None = None,
) -> int:
    """Watch what the command line names until Ctrl+C or the time is over; 0.

    `file` files the closed session, or says why that has to wait.
    """
    require_addresses(chosen.address)
    job = job_meant(root, chosen.job)
    loaded = settings
    settings = with_sound_options(chosen, _about_earth(chosen, _with_display(chosen, settings)))
    keep(settings, settings_path, loaded)
    try:
        bench, typed, meters = _opened(chosen, settings, root)
    except EarthedInput as refusal:
        raise ValueError(f"{refusal} (`--isolated` declares it.)") from refusal
    file_begun(job, bench)
    bench.on_leave(lambda: keep(learned(bench, _remembering(meters, settings)), settings_path, settings))
    console = Console(highlight=False, markup=False)
    bench.be_heard(sound_desk(settings.sound, _unchanged))
    between = None
    if typed:
        every_s = settings.typing_every_s
        desk = TypingDesk(bench, typed, every_s, lambda line: console.print(line, soft_wrap=True))
        between = _typing(desk, bench, sys.stdin)
    follow_watch(bench, console, None if chosen.minutes is None else chosen.minutes * 60.0, between)
    name_files(console, bench.record.folder, write_results(bench.record.folder)[1])
    file_away(console, file, bench.record.folder)
    return 0


def _unchanged(_choice: SoundChoice) -> None:
    """Nothing about sound is chosen while one watches."""


# --- the bench --------------------------------------------------------------------------------------------


def _opened(
    chosen: argparse.Namespace, settings: Settings, root: Path
) -> tuple[LiveBench, list[str], list[MeterAt]]:
    """The bench, the channels that are typed, and the meters."""
    watch = shipped_procedures()["watch"]
    kinds = [parse_address(address).kind for address in chosen.address]
    if AddressKind.SIMULATED in kinds:
        if len(kinds) > 1:
            raise AddressError("simulated is a whole bench of its own: watch it alone")
        return open_simulated(SimulatedChoice(), watch, root, LifeClock(), settings), [], []
    channels = _channels(chosen.channel, chosen.address)
    pattern = line_pattern(chosen.pattern, chosen.unit)
    meters: list[MeterAt] = []
    typed: list[str] = []
    for number, (address, kind, channel) in enumerate(
        zip(chosen.address, kinds, channels, strict=True), start=1
    ):
        if kind is AddressKind.TYPED:
            typed.append(channel or parse_address(address).detail or CHANNELS[0])
            continue
        name = "meter" if len(kinds) == 1 else f"meter {number}"
        by_itself = kind in (AddressKind.STREAM, AddressKind.FILE)
        at = known_meter(
            name,
            address,
            channel,
            settings,
            dialect="" if by_itself else chosen.dialect,
            pattern=pattern if kind is AddressKind.STREAM else None,
        )
        meters.append(at if at.channel is not None else _named(at, number, settings))
    own = told_dialects()
    bench = open_meters(
        meters, watch, root, settings, typed=typed, ground_referenced=chosen.ground_referenced, own=own
    )
    return bench, typed, meters


def _named(at: MeterAt, number: int, settings: Settings) -> MeterAt:
    """A meter for which no channel was named and none is known: left, right, then by number."""
    channel = CHANNELS[number - 1] if number <= len(CHANNELS) else f"channel {number}"
    return known_meter(at.name, at.address, channel, settings, dialect=at.dialect, pattern=at.pattern)


def _channels(named: Sequence[str], addresses: Sequence[str]) -> list[str | None]:
    if len(named) > len(addresses):
        raise AddressError(f"{len(named)} channels are named for {len(addresses)} meters: name one for each")
    return [*named, *[None] * (len(addresses) - len(named))]


def _remembering(meters: Sequence[MeterAt], settings: Settings) -> Settings:
    """These meters as the most recently used ones, in their order."""
    for at in reversed(meters):
        if parse_address(at.address).kind is AddressKind.FILE:
            continue
        known = next((one for one in settings.meters if one.address == at.address), None)
        made = known or RememberedMeter(name=at.name, address=at.address)
        found: dict[str, object] = {"channel": at.reads or made.channel}
        if at.pattern is not None:
            found |= {"pattern": at.pattern.expression, "unit": at.pattern.units.get("", "")}
        settings = settings.remembering(made.model_copy(update=found))
    return settings


# --- what is declared -------------------------------------------------------------------------------------


def _with_display(chosen: argparse.Namespace, settings: Settings) -> Settings:
    """What is declared once about a typed display: its figures, and how often it is asked for."""
    if chosen.ask_every is not None:
        settings = settings.model_copy(update={"typing_every_s": min(chosen.ask_every, 3600.0)})
    if chosen.display is None:
        return settings
    percent, digits, millivolts = chosen.display
    figures = MeterAccuracy(
        of_reading=percent / 100.0,
        counts=digits,
        resolution=millivolts / 1000.0,
        declared_by=DISPLAY_TOLD,
    )
    return settings.model_copy(update={"display": figures})


def _about_earth(
    chosen: argparse.Namespace,
    settings: Settings,
    ask: Callable[[str], bool | None] | None = None,
) -> Settings:
    """Ask once about each instrument that nobody has declared; where nobody can be asked, nothing is said."""
    said = declared_now(chosen)
    may_ask = ask or (_ask if sys.stdin.isatty() and sys.stdout.isatty() else None)
    for address in chosen.address:
        question = input_question(address)
        if not question:
            continue
        if said is not None:
            settings = declare(address, said, settings)
            continue
        settings, known = declared(address, settings)
        answer = may_ask(question) if known is None and may_ask is not None else None
        if answer is not None:
            settings = declare(address, answer, settings)
    return settings


def _ask(question: str) -> bool | None:
    print(question)
    while True:
        try:
            answer = input("i: isolated, e: earthed, Enter: I do not know > ").strip().casefold()
        except EOFError:  # nobody answers
            return None
        if answer in ("", "i", "e"):
            return {"": None, "i": True, "e": False}[answer]


# --- typing -----------------------------------------------------------------------------------------------


def _typing(desk: TypingDesk, bench: LiveBench, source: TextIO) -> Callable[[], None]:
    """What is done between two looks: take the lines that were typed, ask for the next."""
    lines: queue.SimpleQueue[str] = queue.SimpleQueue()
    if isinstance(source, io.TextIOWrapper):
        source.reconfigure(errors="replace")  # a wrong key is a wrong value, and not the end of typing

    def read() -> None:
        for line in source:
            lines.put(line.rstrip("\r\n"))

    threading.Thread(target=read, name="typed lines", daemon=True).start()
    begun = False

    def between() -> None:
        nonlocal begun
        if not begun:
            begun = True
            desk.begin()
        while not lines.empty():
            desk.take(lines.get())
        desk.look(bench.session_s())

    return between
