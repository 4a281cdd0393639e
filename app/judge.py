"""`judge`: any recording through exactly the analysis that watches a live bench, told or as JSON lines.

Here: the command line, files in, words and picture out. What is decided is decided in `procedures.analysis`.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from app.records.session_folder import JOURNAL, SessionUnreadable, open_session
from drivers.reading import GapReason, Unit
from drivers.readings_table import Table, TableRefused, open_table
from procedures.analysis.channel import AnalysisSettings, ChannelSetup
from procedures.analysis.decays import time_constants_s
from procedures.analysis.figures import duration, figure, percent
from procedures.analysis.judge import Account, Judging
from procedures.analysis.monitor import Monitor
from procedures.analysis.window import limits_of
from procedures.events import ChannelGap, ChannelReading, Input, Supply, SupplyChanged
from procedures.records.codec import LineRefused
from procedures.replay import inputs_of, setup_of
from procedures.runner import Run
from procedures.setup import RunSetup

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_AMOUNT = re.compile(r"^\s*([0-9]*[.,]?[0-9]+)\s*(V|mV|uV|µV|μV)\s*$")
_SHARE = re.compile(r"^\s*([0-9]*[.,]?[0-9]+)\s*(%?)\s*$")
_VOLTS = {"V": 1.0, "mV": 1e-3, "uV": 1e-6, "µV": 1e-6, "μV": 1e-6}
_PICTURED = 4000  # readings of a channel kept for the picture


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        sentence = message[:1].upper() + message[1:]
        self.exit(2, f"{sentence.rstrip('.')}. `{self.prog} --help` lists what there is.\n")


@dataclass(frozen=True, slots=True)
class _Asked:
    """What a person wants judged, and how."""

    target: float | None
    tolerance: float
    limit: float | None
    as_json: bool

    @property
    def settings(self) -> AnalysisSettings:
        """How it is judged where the record does not say it itself."""
        return AnalysisSettings() if self.limit is None else AnalysisSettings(limit=self.limit)


@dataclass(slots=True)
class _Recording:
    """One file: its channels, its facts, and what could not be read of it."""

    name: str
    setups: tuple[ChannelSetup, ...]
    facts: Iterable[Input]
    settings: AnalysisSettings
    around: Callable[[Monitor], Run] | None = None
    table: Table | None = None
    problems: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    practice: bool = False

    @property
    def bad(self) -> int:
        return self.table.bad if self.table else len(self.problems)

    @property
    def named(self) -> Sequence[str]:
        return self.table.named if self.table else self.problems


def run_judge(argv: list[str]) -> int:
    """Carry out `judge` with its own arguments; the exit code: 0 all judged, 1 a file could not be."""
    parser = _Parser(
        prog="python3 -m app judge",
        description="Judge recorded readings: when they settled, where they would rest, what disturbed them.",
    )
    parser.add_argument("file", nargs="+", type=Path, help="a session folder or journal, or a CSV file")
    parser.add_argument("--target", type=_target, help="the target of the bias channels, such as 13.5mV")
    parser.add_argument("--tolerance", type=_share, default=0.10, help="of the target, such as 10%%")
    parser.add_argument("--limit", type=_share, help="change that still counts as settled: 3%%")
    parser.add_argument("--json", action="store_true", help="one object a line, per file and channel")
    chosen = parser.parse_intermixed_args(argv)  # options may stand among the files
    asked = _Asked(chosen.target, chosen.tolerance, chosen.limit, chosen.json)
    worst = 0
    for path in chosen.file:
        try:
            _judge_file(path, asked)
        except (TableRefused, SessionUnreadable, LineRefused, UnicodeError, ValueError) as refused:
            print(_sentence(path, refused), file=sys.stderr)
            worst = 1
        except OSError as error:
            print(f"{path}: {error.strerror or error}; check the file and its folder.", file=sys.stderr)
            worst = 1
    return worst


def _sentence(path: Path, refused: Exception) -> str:
    words = str(refused).rstrip(".") + "."
    return words if words.startswith(str(path)) else f"{path}: {words}"


def _target(text: str) -> float:
    found = _AMOUNT.match(text)
    if found is None:
        raise argparse.ArgumentTypeError(f"{text!r} is no voltage; write it with its unit, such as 13.5mV")
    volts = float(found[1].replace(",", ".")) * _VOLTS[found[2]]
    if volts <= 0.0:
        raise argparse.ArgumentTypeError("a target must be above zero")
    return volts


def _share(text: str) -> float:
    found = _SHARE.match(text)
    if found is None:
        raise argparse.ArgumentTypeError(f"{text!r} is no percentage; write for example 3%")
    share = float(found[1].replace(",", ".")) / 100.0
    if not 0.0 < share < 1.0:
        raise argparse.ArgumentTypeError(f"{text} must be above 0 % and below 100 %")
    return share


# --- recordings -------------------------------------------------------------------------------------------


def _judge_file(path: Path, asked: _Asked) -> None:
    recording = _session(path, asked) if _is_session(path) else _csv(path, asked)
    judging = Judging(recording.setups, recording.settings, recording.around)
    drawn = None if asked.as_json else _Drawing()
    judging.feed(recording.facts if drawn is None else drawn.passing(recording.facts))
    accounts = judging.finish()
    if recording.table is not None and not any(account.readings or account.alarms for account in accounts):
        raise TableRefused(
            f"{path}: no reading could be found in it{_bad_words(recording)}; "
            "below the first line belongs a row for each moment, such as `0.5,13.4`."
        )
    if asked.as_json:
        for account in accounts:
            row = account.as_json(recording.name)
            row["bad_rows"], row["bad_rows_named"] = recording.bad, list(recording.named)
            row["practice"] = recording.practice
            print(json.dumps(row, allow_nan=False))
    else:
        assert drawn is not None
        _tell(recording, accounts, drawn)
        _draw(path, recording, accounts, drawn)
    for note in recording.notes:
        print(f"{path}: {note}", file=sys.stderr)
    if recording.bad:
        print(f"{path}: {recording.bad} bad rows{_bad_words(recording)}.", file=sys.stderr)


def _bad_words(recording: _Recording) -> str:
    if not recording.bad:
        return ""
    more = recording.bad - len(recording.named)
    words = "; ".join(recording.named) + (f"; and {more} more" if more > 0 else "")
    return f" ({words})"


def _is_session(path: Path) -> bool:
    return path.is_dir() or path.name == JOURNAL


def _session(path: Path, asked: _Asked) -> _Recording:
    folder = path if path.is_dir() else path.parent
    if not (folder / JOURNAL).exists():
        raise SessionUnreadable(
            f"{path}: no session is recorded there (it has no {JOURNAL}); "
            "`python3 -m app sessions` lists those that there are."
        )
    journal = open_session(folder).journal
    setup = setup_of(journal.header)
    facts, problems = inputs_of(journal.facts), tuple(journal.problems)
    practice = journal.header.practice
    notes = ("this is practice on the simulated bench, no real amplifier.",) if practice else ()
    told = _Recording(
        str(path), setup.channels, facts, setup.settings, problems=problems, notes=notes, practice=practice
    )
    if asked.target is None and asked.limit is None:
        return replace(told, around=_run_of(setup))
    # Another question than the session's own: its readings alone are judged, without its steps.
    channels = setup.channels if asked.target is None else _with_target(setup.channels, asked)
    return replace(told, setups=channels, settings=asked.settings)


def _run_of(setup: RunSetup) -> Callable[[Monitor], Run]:
    """The session's own run around a monitor: it knows when a trimmer was within reach."""

    def around(monitor: Monitor) -> Run:
        for warm_up in setup.remembered:
            monitor.remember(warm_up.channel, warm_up)
        return Run(setup, monitor)

    return around


def _csv(path: Path, asked: _Asked) -> _Recording:
    table = open_table(path)
    setups = tuple(ChannelSetup(column.channel, column.unit) for column in table.columns)
    notes = []
    if asked.target is not None:
        setups = _with_target(setups, asked)
        if not any(setup.target_volts for setup in setups):
            notes.append("no column is in volts, so that the target belongs to none of them.")
    if table.passed_over:
        notes.append(f"passed over, having no unit in brackets: {', '.join(table.passed_over)}.")
    return _Recording(
        str(path), setups, _powered(_facts(table)), asked.settings, table=table, notes=tuple(notes)
    )


def _facts(table: Table) -> Iterable[Input]:
    """What a table holds, as a bench would have sent it. A blank is silence; an overload is told as one."""
    columns = table.columns
    for at_s, values in table.rows():
        for column, value in zip(columns, values, strict=True):
            if type(value) is float:
                yield ChannelReading(at_s, column.channel, value, column.shown.unit)
            elif value is GapReason.OVERLOAD:
                yield ChannelGap(at_s, at_s, column.channel, GapReason.OVERLOAD, "overload")


def _with_target(setups: Sequence[ChannelSetup], asked: _Asked) -> tuple[ChannelSetup, ...]:
    """The target belongs to the channels called bias, or to all in volts where none is called so."""
    assert asked.target is not None
    volts = [setup for setup in setups if setup.unit is Unit.VOLT]
    bias = [setup for setup in volts if "bias" in setup.channel.lower()] or volts
    low, high = limits_of(asked.target, asked.tolerance)
    return tuple(
        replace(setup, target_volts=asked.target, low_volts=low, high_volts=high) if setup in bias else setup
        for setup in setups
    )


def _powered(facts: Iterable[Input]) -> Iterable[Input]:
    """The readings of a table with power-on at zero."""
    powered = False
    for fact in facts:
        if not powered and fact.at_s >= 0.0:
            powered = True
            yield SupplyChanged(0.0, Supply.MAINS)
        yield fact


# --- words and picture ------------------------------------------------------------------------------------


def _tell(recording: _Recording, accounts: Sequence[Account], drawn: _Drawing) -> None:
    count = sum(account.readings for account in accounts)
    print(f"{recording.name}: {count} reading{'' if count == 1 else 's'}")
    for account in accounts:
        for line in _story(account, drawn):
            print(line)
    volts = any(account.readings and account.setup.unit is Unit.VOLT for account in accounts)
    if volts and not any(account.setup.target_volts for account in accounts):
        print("  no target is known: `--target 13.5mV`, say, tells also when it settled")


def _story(account: Account, drawn: _Drawing) -> list[str]:
    setup = account.setup
    if not account.readings:
        return [f"  {setup.channel}: no readings"]
    lines = [f"  {setup.channel}: last {figure(account.last or 0.0, setup.unit)}"]
    if setup.target_volts is not None:
        if account.settled_at_s is None:
            lines.append(f"    never settled within {percent(account.limit)}: {account.reason}")
        else:
            lines.append(f"    settled after {duration(account.settled_at_s)}: {account.settled_reason}")
        lines += [f"    taken back after {duration(at_s)}" for at_s in account.revoked_at_s]
    spoken = [said for said in account.forecasts if said.spoken]
    if spoken:
        first = spoken[0]
        lines.append(
            f"    from {duration(first.at_s)} on it could be said where it rests: "
            f"{figure(first.volts, setup.unit)} "
            f"({figure(first.low_volts, setup.unit)} to {figure(first.high_volts, setup.unit)})"
        )
    constants = time_constants_s(*drawn.arrays(setup.channel))
    if constants is not None:
        quick, slow = (duration(seconds) for seconds in constants)
        lines.append(f"    warmed up with time constants of about {quick} and {slow}")
    told = [(a.at_s, f"{a.tier.value}: {a.text}") for a in account.alarms]
    told += [(d.at_s, d.text) for d in account.disturbances]
    lines += [f"    {duration(at_s)}: {text}" for at_s, text in sorted(told)]
    return lines


class _Drawing:
    """Keeps what the picture needs while the readings pass by: every n-th once there are many."""

    def __init__(self) -> None:
        self.kept: dict[str, list[tuple[float, float]]] = {}
        self._every: dict[str, int] = {}
        self._count: dict[str, int] = {}

    def passing(self, facts: Iterable[Input]) -> Iterable[Input]:
        """The same facts, looked at."""
        for fact in facts:
            if type(fact) is ChannelReading:
                self._keep(fact.channel, fact.at_s, fact.value)
            yield fact

    def _keep(self, channel: str, at_s: float, value: float) -> None:
        count = self._count[channel] = self._count.get(channel, -1) + 1
        if count % self._every.setdefault(channel, 1):
            return
        kept = self.kept.setdefault(channel, [])
        kept.append((at_s, value))
        if len(kept) > 2 * _PICTURED:
            self.kept[channel] = kept[::2]
            self._every[channel] *= 2

    def arrays(self, channel: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Seconds and values of a channel, each of shape (n,)."""
        import numpy as np

        points = np.array(self.kept.get(channel, []), dtype=np.float64).reshape(-1, 2)
        return points[:, 0], points[:, 1]


def _draw(path: Path, recording: _Recording, accounts: Sequence[Account], drawn: _Drawing) -> None:
    import numpy as np

    from app.bench.snapshot import Trace
    from app.reports.trace_picture import PRACTISED, DrawnChannel, DrawnMark, TracePicture, Window, write_png

    channels, marks = [], []
    for account in accounts:
        setup = account.setup
        seconds, values = drawn.arrays(setup.channel)
        if not len(seconds):
            continue
        usual_s = float(np.median(np.diff(seconds))) if len(seconds) > 1 else 1.0
        joined = np.append(np.diff(seconds) <= max(15.0, 5.0 * usual_s), False)
        trace = Trace(setup.channel, setup.unit, seconds, values, joined, np.empty(0))
        low, high = setup.low_volts, setup.high_volts
        window = Window(low, high) if low is not None and high is not None else None
        channels.append(DrawnChannel(trace, window))
        if account.settled_at_s is not None:
            marks.append(DrawnMark(account.settled_at_s, f"{setup.channel} settled"))
    named = path.resolve()
    name = named.parent.name if named.name == JOURNAL else named.name.removesuffix(".csv")
    target = Path(f"{name}-judged.png")
    marks.sort(key=lambda mark: mark.at_s)
    watermark = PRACTISED if recording.practice else ""
    judged = "judged from its readings"
    write_png(target, TracePicture(path.name, judged, tuple(channels), tuple(marks), watermark))
    print(f"  picture: {target}")
