"""Every fact of a run as one line of JSON, and back.

A line is an object with a `kind`. Readings and ticks that follow each other share one line of kind `rows`,
in the order in which they arrived; every other fact has a line of its own. Field names are those of the
facts (`procedures.events`); enumerations are their words. Numbers come back exactly.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Annotated, Any, get_args

from pydantic import AfterValidator, AwareDatetime, TypeAdapter, ValidationError

from drivers.reading import ReadingFlag, Unit
from procedures.events import (
    Acknowledged,
    Advice,
    Alarm,
    AlarmCleared,
    Answer,
    AudioMeasured,
    AwayChanged,
    ChannelGap,
    ChannelReading,
    Disturbance,
    DriveChanged,
    Event,
    Input,
    Instruction,
    LeadMoved,
    LidChanged,
    MeterChanged,
    Note,
    PauseChanged,
    Question,
    RecordedValue,
    Request,
    RequestClosed,
    RunEnded,
    SegmentOpened,
    SettledChanged,
    StepChanged,
    StopRequested,
    SupplyChanged,
    Tick,
    TrimDeclared,
    Verdict,
)
from procedures.observed import Captured, Inspected

Fact = Input | Event

INPUT_KINDS: dict[str, type] = {
    "gap": ChannelGap,
    "answer": Answer,
    "lead moved": LeadMoved,
    "supply": SupplyChanged,
    "lid": LidChanged,
    "drive": DriveChanged,
    "trim": TrimDeclared,
    "meter": MeterChanged,
    "request closed": RequestClosed,
    "audio": AudioMeasured,
    "acknowledged": Acknowledged,
    "pause": PauseChanged,
    "away": AwayChanged,
    "note": Note,
    "segment": SegmentOpened,
    "stop": StopRequested,
}
EVENT_KINDS: dict[str, type] = {
    "step": StepChanged,
    "instruction": Instruction,
    "question": Question,
    "advice": Advice,
    "verdict": Verdict,
    "inspected": Inspected,
    "captured": Captured,
    "recorded": RecordedValue,
    "alarm": Alarm,
    "alarm cleared": AlarmCleared,
    "disturbance": Disturbance,
    "settled": SettledChanged,
    "request": Request,
    "ended": RunEnded,
}
# A field called `kind` of a fact must not hide the line's own.
_RENAMED = "of_kind"
_ADAPTERS: dict[str, TypeAdapter[Any]] = {
    kind: TypeAdapter(fact) for kind, fact in (INPUT_KINDS | EVENT_KINDS).items()
}
_KIND_OF: dict[type, str] = {fact: kind for kind, fact in (INPUT_KINDS | EVENT_KINDS).items()}
_INPUTS = get_args(Input)
LONGEST_S = 1e9  # thirty years: no session lasts so long, and no calendar is asked for more


def _as_utc(moment: datetime) -> datetime:
    if not 1900 <= moment.year <= 9000:  # others overflow where they are shown in another zone
        raise ValueError(f"the year {moment.year} is none that a record can be of")
    return moment.astimezone(UTC)


MOMENT: TypeAdapter[datetime] = TypeAdapter(Annotated[AwareDatetime, AfterValidator(_as_utc)])
"""A moment with its zone, as the wall clock had it; it comes out in UTC."""


class LineRefused(ValueError):
    """A line is not a fact; the text says what is wrong with it, in one sentence."""


def is_input(fact: Fact) -> bool:
    """Whether a fact goes into a run (else it came out of one)."""
    return isinstance(fact, _INPUTS)


# --- out --------------------------------------------------------------------------------------------------


def encode(facts: Iterable[Fact]) -> list[str]:
    """Facts as lines of JSON without line ends, in their order; consecutive readings share a line."""
    lines: list[str] = []
    rows: list[ChannelReading | Tick] = []
    for fact in facts:
        if isinstance(fact, ChannelReading | Tick):
            rows.append(fact)
            continue
        if rows:
            lines.append(_rows_line(rows))
            rows = []
        lines.append(_line(fact))
    if rows:
        lines.append(_rows_line(rows))
    return lines


def dumps(entry: Mapping[str, Any]) -> str:
    """One JSON line: compact, UTF-8 as it is, and numbers that are none as words."""
    return writable(json.dumps(_finite(entry), ensure_ascii=False, separators=(",", ":"), allow_nan=False))


def writable(text: str) -> str:
    """Text that can be written as UTF-8: half a letter, as a broken input hands over, becomes a mark."""
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        return text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
    return text


def _line(fact: Fact) -> str:
    kind = _KIND_OF[type(fact)]
    fields = _ADAPTERS[kind].dump_python(fact, mode="json")
    if "kind" in fields:
        fields[_RENAMED] = fields.pop("kind")
    return dumps({"kind": kind, **fields})


def _rows_line(facts: list[ChannelReading | Tick]) -> str:
    """Readings as `[channel number, at_s, value, half_s, flags]`, ticks as `[at_s]`; short where empty."""
    channels: dict[tuple[str, str], int] = {}
    rows: list[list[Any]] = []
    for fact in facts:
        if isinstance(fact, Tick):
            rows.append([fact.at_s])
            continue
        number = channels.setdefault((fact.channel, fact.unit.value), len(channels))
        row: list[Any] = [number, fact.at_s, fact.value]
        if fact.half_s or fact.flags:
            row.append(fact.half_s)
        if fact.flags:
            row.append(sorted(flag.value for flag in fact.flags))
        rows.append(row)
    entry: dict[str, Any] = {"kind": "rows"}
    if channels:
        entry["channels"] = [list(channel) for channel in channels]
    return dumps(entry | {"rows": rows})


def _finite(value: Any) -> Any:
    """The same with words for infinities and not-a-numbers: JSON has none, and a record must survive."""
    if isinstance(value, float):
        return value if math.isfinite(value) else str(value)
    if isinstance(value, Mapping):
        return {key: _finite(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(inner) for inner in value]
    return value


# --- in ---------------------------------------------------------------------------------------------------


def parse(line: str) -> dict[str, Any]:
    """The JSON object of a line.

    Raises:
        LineRefused: when it is none, or has no kind.
    """
    try:
        entry = json.loads(line if "\\u" not in line else _whole_letters(line))
    except (ValueError, RecursionError):
        raise LineRefused("the line is not complete JSON") from None
    if not isinstance(entry, dict) or not isinstance(entry.get("kind"), str):
        raise LineRefused("the line has no kind")
    return entry


def decode(line: str) -> tuple[Fact, ...]:
    """The facts of a line.

    Raises:
        LineRefused: when the line is none of a fact, with what is wrong.
    """
    return decode_entry(parse(line))


def decode_entry(entry: Mapping[str, Any]) -> tuple[Fact, ...]:
    """The facts of a parsed line; see `decode`."""
    kind = entry["kind"]
    if kind == "rows":
        return tuple(_rows(entry))
    adapter = _ADAPTERS.get(kind)
    if adapter is None:
        raise LineRefused(f'"{kind}" is no kind of fact that this version knows')
    fields = {("kind" if key == _RENAMED else key): value for key, value in entry.items() if key != "kind"}
    try:
        fact: Fact = adapter.validate_python(fields)
        for at_s in (fact.at_s, getattr(fact, "until_s", fact.at_s)):
            _moment(at_s)
        return (fact,)
    except _NoMoment:
        raise LineRefused(f'the fact of kind "{kind}" is damaged at at_s') from None
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ".".join(str(part) for part in first["loc"])
        raise LineRefused(f'the fact of kind "{kind}" is damaged at {place or "its start"}') from None


class _NoMoment(ValueError):
    """A moment that no session can have: nothing can be ordered, or counted, by it."""


def _moment(at_s: float) -> float:
    if not abs(at_s) <= LONGEST_S:
        raise _NoMoment
    return at_s


def _whole_letters(line: str) -> str:
    """A line of JSON without escapes for half letters: they can be read, but never be written again."""
    text = json.dumps(json.loads(line), ensure_ascii=False)
    return line if text == writable(text) else writable(text)


def _rows(entry: Mapping[str, Any]) -> Iterator[ChannelReading | Tick]:
    try:
        channels = [(str(name), Unit(unit)) for name, unit in entry.get("channels", ())]
        for row in entry["rows"]:
            if len(row) == 1:
                yield Tick(_moment(float(row[0])))
                continue
            name, unit = channels[row[0]]
            half_s = float(row[3]) if len(row) > 3 else 0.0
            flags = frozenset(ReadingFlag(flag) for flag in row[4]) if len(row) > 4 else frozenset()
            at_s = _moment(float(row[1]))
            yield ChannelReading(at_s, name, float(row[2]), unit, half_s, flags)
    except (KeyError, IndexError, TypeError, ValueError, OverflowError):
        raise LineRefused("a row of readings is damaged") from None
