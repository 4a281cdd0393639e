"""The program in a terminal: a bench followed line by line, a progress bar, and the files at the end.

Where standard output is a terminal there is one live line for each channel and a bar; elsewhere plain lines.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console, Group
from rich.live import Live
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn
from rich.text import Text

from app.bench.live_bench import LiveBench
from app.bench.snapshot import Snapshot
from app.records.export_csv import write_csv
from app.records.session_folder import Session, open_session
from app.reports.session_picture import write_session_png
from drivers.reading import MeterState, Unit
from procedures.analysis.channel import ChannelSetup, ChannelState, Position
from procedures.analysis.figures import figure
from procedures.events import (
    Alarm,
    Event,
    Outcome,
    RecordedValue,
    RunEnded,
    StepChanged,
    StepState,
    Verdict,
)
from procedures.observed import Inspected

_POSITIONS = {
    Position.BELOW: ("▼ below", "yellow"),
    Position.INSIDE: ("● inside", "green"),
    Position.ABOVE: ("▲ above", "bold red"),
    Position.UNKNOWN: ("", ""),
}


def shown_value(value: float | None, unit: Unit) -> str:
    """A value as a person reads it, at a fixed width: millivolts, or the unit as it is."""
    if unit is Unit.VOLT:
        return "   ---   mV" if value is None else f"{value * 1000.0:8.3f} mV"
    return f"   ---   {unit.value}" if value is None else f"{value:8.2f} {unit.value}"


def clock_words(seconds: float) -> str:
    """Minutes and seconds: `20:05`."""
    return f"{int(seconds) // 60:d}:{int(seconds) % 60:02d}"


def channel_line(state: ChannelState, setup: ChannelSetup | None) -> Text:
    """One channel: reading, where it stands in its window, whether it has settled and why not."""
    unit = setup.unit if setup is not None else Unit.VOLT
    line = Text()
    line.append(f"{state.channel:<14}", style="bold")
    line.append(shown_value(state.value, unit))
    if setup is not None and setup.low_volts is not None and setup.high_volts is not None:
        word, style = _POSITIONS[state.position]
        line.append(f"  {word:<9}", style=style)
        line.append(f" {setup.low_volts * 1000:.2f}–{setup.high_volts * 1000:.2f} mV", style="dim")
    words = state.gap or state.reason
    if state.settled:
        words = f"settled: {words}" if words else "settled"
    line.append(f"  {words}")
    return line


@dataclass
class _Told:
    """What was said already, so that each thing is said once."""

    events: int = 0
    meters: dict[str, tuple[MeterState, str]] | None = None
    sound: str = ""


class Follower:
    """Shows what happens at a bench until it is told to end. `look` is called as often as one likes."""

    def __init__(self, bench: LiveBench, console: Console, live: bool = True) -> None:
        self._bench = bench
        self._console = console
        self._told = _Told(meters={})
        self._setups = {setup.channel: setup for setup in bench.setup.channels}
        self._progress = Progress(
            TextColumn("{task.description}", markup=False),
            BarColumn(None, complete_style="cyan", finished_style="cyan"),
            TimeElapsedColumn(),
            console=console,
        )
        self._task = self._progress.add_task("", total=1.0)
        self._live = (
            Live(Group(self._progress), console=console, refresh_per_second=8, transient=True)
            if live and console.is_terminal
            else None
        )
        self._spoken_s = -60.0

    def __enter__(self) -> Follower:
        if self._live is not None:
            self._live.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._live is not None:
            self._live.stop()

    def look(self) -> None:
        """Show what is new."""
        snapshot = self._bench.snapshot()
        fresh = snapshot.events[self._told.events :]
        self._told.events += len(fresh)
        for event in fresh:
            line = self._event_line(event)
            if line is not None:
                self._console.print(line, soft_wrap=True)
        self._meters(snapshot)
        if self._bench.sound_notice not in ("", self._told.sound):
            self._told.sound = self._bench.sound_notice
            self._console.print(Text(f"{'':>6}  {self._told.sound}", style="dim"), soft_wrap=True)
        if self._live is not None:
            self._show_live(snapshot)
        elif snapshot.view.at_s - self._spoken_s >= 60.0:
            self._spoken_s = snapshot.view.at_s
            for line in self._channel_lines(snapshot):
                said = Text(f"{clock_words(snapshot.view.at_s):>6}  ").append_text(line)
                self._console.print(said, soft_wrap=True)

    def _show_live(self, snapshot: Snapshot) -> None:
        assert self._live is not None
        view = snapshot.view
        done = sum(step.state in (StepState.DONE, StepState.SKIPPED) for step in view.steps)
        share = (done + (view.progress or 0.0)) / max(1, len(view.steps))
        title = next((step.title for step in view.steps if step.id == view.step), view.title)
        self._progress.update(
            self._task, completed=share, description=f"{clock_words(view.at_s):>6} {title:<28}"
        )
        lines: list[Text] = self._channel_lines(snapshot)
        if view.instruction is not None:
            lines.insert(0, Text(view.instruction.text, style="bold"))
        if snapshot.trouble:
            lines.append(Text(snapshot.trouble, style="bold red"))
        self._live.update(Group(*lines, self._progress))

    def _channel_lines(self, snapshot: Snapshot) -> list[Text]:
        return [channel_line(state, self._setups.get(state.channel)) for state in snapshot.view.channels]

    def _meters(self, snapshot: Snapshot) -> None:
        told = self._told.meters
        assert told is not None
        for meter in snapshot.meters:
            now = (meter.state, meter.detail)
            if told.get(meter.meter) != now and meter.state in (MeterState.POLLING, MeterState.WAITING):
                words = meter.detail if meter.state is MeterState.WAITING else meter.identity or meter.detail
                self._console.print(
                    Text(f"{'':>6}  {meter.meter}: {meter.state.value}. {words}", style="dim")
                )
            told[meter.meter] = now

    def _event_line(self, event: Event) -> Text | None:
        at = f"{clock_words(event.at_s):>6}  "
        match event:
            case RecordedValue():
                name = " ".join(filter(None, (event.name, event.channel)))
                value = "not measured" if event.value is None else _recorded_words(event.value, event)
                return Text(f"{at}{name}: {value} {event.reason}".rstrip())
            case Verdict():
                style = {Outcome.PASSED: "green", Outcome.LEFT_ALONE: "green", Outcome.FAILED: "red"}
                about = event.channel or event.subject or "the whole"
                reason = event.reason.removeprefix(f"{about}: ")
                words = f"{at}{about}: {event.outcome.value}. {reason}"
                return Text(words, style=style.get(event.outcome, "yellow"))
            case Inspected():
                said = f": {event.words}" if event.words else ""
                return Text(f"{at}{event.text.rstrip('.')}: {event.result.value}{said}")
            case Alarm():
                return Text(f"{at}{event.tier.value.upper()}: {event.text}", style="bold red")
            case _:
                return self._step_line(event, at)

    def _step_line(self, event: Event, at: str) -> Text | None:
        if isinstance(event, StepChanged) and event.state is StepState.ACTIVE:
            steps = self._bench.view.steps
            title = next((step.title for step in steps if step.id == event.step), event.step)
            return Text(f"{at}{title}", style="bold")
        if isinstance(event, RunEnded):
            return Text(f"{at}{event.reason}", style="bold")
        return None


def follow_watch(
    bench: LiveBench,
    console: Console,
    limit_s: float | None,
    between: Callable[[], object] | None = None,
) -> None:
    """Watch a bench of real meters until Ctrl+C, the limit, or the end of the run; then close it.

    `between` is done ten times a second; while a person types, no line is drawn over what is typed.
    """
    console.print("Watching; Ctrl+C ends it. Every reading is kept.")
    bench.start()
    try:
        with Follower(bench, console, live=between is None) as follower:
            while bench.conductor.ended is None and (limit_s is None or bench.session_s() < limit_s):
                follower.look()
                if between is not None:
                    between()
                time.sleep(0.1)
            follower.look()
    except KeyboardInterrupt:
        pass
    finally:
        bench.leave()


def write_results(folder: Path) -> tuple[Session, list[Path]]:
    """Write the CSV and the picture of a closed session into its folder. Raises OSError, ValueError."""
    session = open_session(folder)
    table, picture = folder / "readings.csv", folder / "traces.png"
    write_csv(table, session.entries, practice=session.journal.header.practice)
    write_session_png(picture, session)
    return session, [table, picture]


def name_files(console: Console, folder: Path, files: Sequence[Path]) -> None:
    """Say what was written and where."""
    console.print(Text(f"Session:  {folder}"), soft_wrap=True)
    for kind, path in zip(("Readings", "Traces  "), files, strict=False):
        console.print(Text(f"{kind}: {path}"), soft_wrap=True)


def file_away(console: Console, file: Callable[[Path], str] | None, folder: Path) -> None:
    """File a closed session where there is an archive, and say why it could not be."""
    trouble = file(folder) if file is not None else ""
    if trouble:
        console.print(Text(trouble), soft_wrap=True)


def _recorded_words(value: float, kept: RecordedValue) -> str:
    """A value with its unit: in columns with its channel's readings, else with the digits that it needs."""
    return figure(value, kept.unit) if kept.channel is None else shown_value(value, kept.unit).strip()
