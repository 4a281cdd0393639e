"""A session's readings and remarks as one CSV table that spreadsheets and programs read alike.

One row for each moment at which something was read or happened; one column for each channel, its unit in
brackets in the header, blank where that channel had no reading then. Voltages stand in millivolts, because a
person reads them. Numbers are written with every digit and a point, whatever the computer's language; words
that a spreadsheet would take for a formula are made plain text. `drivers.readings_table` reads such a table.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any, TextIO

from app.records.session_folder import Entry
from app.records.whole_file import written_whole
from drivers.reading import ReadingFlag, Unit
from procedures.events import (
    Alarm,
    Answer,
    AwayChanged,
    ChannelGap,
    ChannelReading,
    Disturbance,
    LeadMoved,
    LidChanged,
    Note,
    PauseChanged,
    RecordedValue,
    RunEnded,
    SegmentOpened,
    StepChanged,
    StopRequested,
    SupplyChanged,
    Verdict,
)
from procedures.observed import Inspected
from procedures.records.journal import Anchor, Fault, TakenBack
from procedures.records.practised import HandMoved

PRACTICE = "practice on the simulated bench"
TIME_HEADER = "elapsed [s]"
REMARK_HEADERS = ("time UTC", "flags", "remark")
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def write_csv(path: Path, entries: Sequence[Entry], comma: bool = False, *, practice: bool = False) -> int:
    """Write the table whole or not at all; how many readings it holds. Raises OSError.

    With `practice` it says so even where nobody's hands were recorded.
    """
    if practice and not any(isinstance(one, HandMoved) and one.deed == "speed" for one in entries):
        entries = [Note(0.0, PRACTICE), *entries]
    # A spreadsheet takes a table without the mark for one in its computer's own letters.
    letters = "utf-8-sig" if comma else "utf-8"
    with written_whole(path) as fresh, open(fresh, "w", encoding=letters, newline="") as file:
        return write_table(file, entries, comma)


def export(path: Path, entries: Sequence[Entry], comma: bool = False, *, practice: bool = False) -> str:
    """Write the table; a sentence that says what was written. Raises OSError."""
    count = write_csv(path, entries, comma, practice=practice)
    return f"{count} reading{' was' if count == 1 else 's were'} written to {path}."


def write_table(file: TextIO, entries: Sequence[Entry], comma: bool = False) -> int:
    """Write the table; how many readings it holds. With `comma`: decimal commas, semicolons between cells."""
    columns = _columns(entries)
    table = csv.writer(file, delimiter=";" if comma else ",")
    names = [plain(f"{channel} [{shown_unit(unit)}]") for channel, unit in columns]
    table.writerow([TIME_HEADER, *names, *REMARK_HEADERS])
    anchor = next((entry for entry in entries if isinstance(entry, Anchor)), None)
    count = 0
    for entry in entries:
        if isinstance(entry, Anchor):
            anchor = entry
            continue
        cells = [""] * len(columns)
        flags = ""
        if isinstance(entry, ChannelReading):
            cells[columns[entry.channel, entry.unit]] = shown_value(entry.value, entry.unit)
            flags = " ".join(sorted(flag.value.replace(" ", "-") for flag in entry.flags))
            remark = "typed" if ReadingFlag.TYPED in entry.flags else ""
            count += 1
        else:
            remark = said(entry)
            if not remark:
                continue
        numbers = [repr(round(entry.at_s, 6)), *cells]
        if comma:
            numbers = [number.replace(".", ",") for number in numbers]
        row = [*numbers, _utc(anchor, entry.at_s), flags, plain(remark)]
        table.writerow(row)
    return count


def _columns(entries: Sequence[Entry]) -> dict[tuple[str, Unit], int]:
    """The place of each channel in each unit that it was read in; volts where it never was read."""
    read = dict.fromkeys((e.channel, e.unit) for e in entries if isinstance(e, ChannelReading))
    channels = {channel for channel, _ in read}
    missed = dict.fromkeys(e.channel for e in entries if isinstance(e, ChannelGap))
    keys = [*read, *((channel, Unit.VOLT) for channel in missed if channel not in channels)]
    return {key: place for place, key in enumerate(keys)}


def shown_unit(unit: Unit) -> str:
    """The unit in which a channel of this unit is written."""
    return "mV" if unit is Unit.VOLT else unit.value


def shown_value(value: float, unit: Unit) -> str:
    """A value in its shown unit, with every digit: the decimal point is moved, nothing is rounded."""
    if unit is not Unit.VOLT:
        return repr(value)
    return format(Decimal(repr(value)).scaleb(3), "f" if 1e-9 < abs(value) < 1e9 else "")


def plain(words: str) -> str:
    """Words that no spreadsheet takes for a formula."""
    return "'" + words if words.startswith(_FORMULA) else words


def _utc(anchor: Anchor | None, at_s: float) -> str:
    if anchor is None:
        return ""
    moment: datetime = anchor.utc + timedelta(seconds=at_s - anchor.session_s)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def said(entry: Entry) -> str:
    """What an entry says in words; empty for those that only steer."""
    say = _SAYS.get(type(entry))
    return say(entry).strip() if say else ""


def _recorded(entry: RecordedValue) -> str:
    value = "not measured" if entry.value is None else f"{entry.value!r} {entry.unit.value}"
    name = " ".join(filter(None, (entry.name, entry.channel)))
    return f"{name}: {value}. {entry.reason}"


def _moved(entry: HandMoved) -> str:
    """What hands did at the simulated unit. A session of practice begins with its speed, and so with this."""
    if entry.deed == "speed":
        return f"{PRACTICE}, bench time ×{entry.amount:g}."
    amount = f" {entry.amount * 100.0:+.2f} % of its travel" if entry.deed == "turn" else ""
    if entry.deed == "drive":
        amount = f" {entry.amount:g}"
    return f"practice: {entry.deed} {entry.subject}{amount}".rstrip() + "."


_SAYS: dict[type, Callable[[Any], str]] = {
    ChannelGap: lambda e: f"no reading of {e.channel}: {e.reason.value}. {e.detail}",
    Answer: lambda e: f"answered {e.choice or e.text!r}.",
    LeadMoved: lambda e: f"lead of {e.meter} input {e.input} on {e.channel or 'nothing'}.",
    SupplyChanged: lambda e: f"amplifier on: {e.supply.value}.",
    LidChanged: lambda e: "lid on." if e.fitted else "lid off.",
    PauseChanged: lambda e: "paused." if e.paused else "gone on.",
    AwayChanged: lambda e: "nobody at the bench." if e.away else "back at the bench.",
    Note: lambda e: f"note: {e.text}" if e.text else "mark.",
    SegmentOpened: lambda e: f"recording began again, {e.unwatched_s:.0f} s unwatched: {e.reason}.",
    StopRequested: lambda e: f"stopped: {e.reason or 'by a person'}.",
    StepChanged: lambda e: f"step {e.step}: {e.state.value}. {e.reason}",
    Verdict: lambda e: f"{e.channel or e.step}: {e.outcome.value}. {e.reason}",
    Inspected: lambda e: f"{e.text.rstrip('.')}: {e.result.value}{f' ({e.words})' if e.words else ''}.",
    RecordedValue: _recorded,
    Alarm: lambda e: f"alarm ({e.tier.value}): {e.text}",
    Disturbance: lambda e: f"{e.channel or 'bench'}: {e.text}",
    RunEnded: lambda e: f"run ended: {e.reason}",
    Fault: lambda e: e.text,
    HandMoved: _moved,
    TakenBack: lambda e: f"the note of {e.noted_s:.1f} s was taken back.",
}
