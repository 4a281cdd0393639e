"""Dialects: how a meter is spoken to, as data.

A dialect is a TOML file that describes behaviour, not a brand: which lines set the range and the
integration, how each is read back, what a reply looks like. The ones that ship are in `dialects/`; a user
may add files of their own, which are tried first. Nothing in a file is evaluated: the only thing that is
put into a line is one of the `PLACES` below.

Not here: the conversation itself (`drivers.scpi.setting_up`, `drivers.scpi.meter`).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Annotated, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    PositiveFloat,
    model_validator,
)

from drivers import dialect_files
from drivers.links.line import Manners
from drivers.meter import MeterAccuracy
from drivers.reading import Unit
from drivers.scpi.reply import NumberShape
from drivers.scpi.sensors import Sensor

PLACES = ("range_volts", "range_index", "nplc", "integration_s", "speed", "channel", "channels", "count")
_PLACE = re.compile(r"\{([^{}]*)\}")
_WIDEST = "0.000123456"  # a place takes no more than that, lists of channels apart


def _line(text: str) -> str:
    if not text.isascii() or not text.isprintable():
        raise ValueError("a line may hold printable ASCII only")
    for place in _PLACE.findall(text):
        if place not in PLACES:
            raise ValueError(f"{{{place}}} is not one of {', '.join('{' + name + '}' for name in PLACES)}")
    return text


def _pattern(text: str) -> str:
    try:
        re.compile(text)
    except re.error as problem:
        raise ValueError(f"is not a regular expression ({problem})") from problem
    return text


def _prompt(text: str) -> str:
    if not text.strip() or not text.isascii() or not text.isprintable():
        raise ValueError("a prompt is printable ASCII, such as => or ?>")
    return text


Prompt = Annotated[str, AfterValidator(_prompt)]
Line = Annotated[str, AfterValidator(_line)]
Pattern = Annotated[str, AfterValidator(_pattern)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Choice(_Part):
    """When this dialect is the right one: the identity matches, and each probe answers with a number."""

    identity: Pattern = ""
    probe: tuple[Line, ...] = ()
    rank: int = 50  # lower is tried first
    by_name_only: bool = False  # never found by probing: the quantity is not what the meter shows by itself


class ReplyForm(_Part):
    """What one reply looks like (`drivers.scpi.reply`)."""

    fields: int = Field(default=1, ge=1, le=64)
    index: int = Field(default=0, ge=0)
    shape: NumberShape = NumberShape.FREE
    overload_at: PositiveFloat = 9.9e37
    unit: Unit = Unit.VOLT
    sensor: Sensor | None = None  # turns ohms or volts into a temperature
    cold_junction_c: float = 25.0

    @property
    def quantity(self) -> Unit:
        """What a reading is in the end."""
        return Unit.CELSIUS if self.sensor else self.unit

    @model_validator(mode="after")
    def _index_in_reply(self) -> ReplyForm:
        if self.index >= self.fields:
            raise ValueError(f"index {self.index} does not exist in a reply of {self.fields} fields")
        return self


class Reads(_Part):
    """How one reading is asked for. The first of `lines` that gives one is kept."""

    lines: tuple[Line, ...] = Field(min_length=1)
    fresh: bool = True  # measures after being asked; false: gives the display's latest value
    paced: bool = False  # every question starts a measurement, so no answer comes much faster than the others
    display_period_s: float = Field(default=0.0, ge=0.0)  # how old the value may be where it is not fresh


class Timing(_Part):
    """How long things take at the most, in health."""

    transfer_s: PositiveFloat = 0.05
    answer_s: PositiveFloat = 1.0  # for a setting to be read back
    allowance_s: PositiveFloat = 1.0  # on top of three times the reading time
    autozero_factor: float = Field(default=2.0, ge=1.0)
    unknown_reading_s: PositiveFloat = 1.0  # assumed where the integration time is not known


class RangeWays(_Part):
    """How the range is fixed. Without `ranges_volts` any range up to five times the wanted one is taken."""

    write: tuple[Line, ...] = ()
    read_back: Line = ""
    ranges_volts: tuple[PositiveFloat, ...] = ()
    first_index: int = 0
    needed: bool = (
        True  # False: a meter that does not answer is used all the same, and said to be unconfirmed
    )

    @model_validator(mode="after")
    def _rising(self) -> RangeWays:
        if list(self.ranges_volts) != sorted(self.ranges_volts):
            raise ValueError("ranges_volts must rise")
        return self


class Speed(_Part):
    """One of a few named speeds."""

    word: str
    integration_s: PositiveFloat


class IntegrationWays(_Part):
    """How the integration time is set: in power-line cycles, in seconds, or by a word."""

    kind: Literal["nplc", "seconds", "words"] = "nplc"
    write: tuple[Line, ...] = ()
    read_back: Line = ""
    steps: tuple[PositiveFloat, ...] = ()  # the values that exist, rising; empty: any
    speeds: tuple[Speed, ...] = ()
    line_frequency: Line = ""  # asks for the mains frequency that the meter assumes
    needed: bool = True

    @model_validator(mode="after")
    def _words_have_speeds(self) -> IntegrationWays:
        if self.kind == "words" and not self.speeds:
            raise ValueError("kind = 'words' needs speeds, each with its word and integration_s")
        return self


class Way(_Part):
    """One way to make a setting, and the answers that confirm it."""

    write: tuple[Line, ...] = ()
    read_back: Line
    accept: tuple[str, ...] = Field(min_length=1)


class Setting(_Part):
    """One more thing to set: auto-zero, input impedance, trigger, counts. The first way that works counts."""

    name: str
    way: tuple[Way, ...] = Field(min_length=1)
    needed: bool = True
    doubles_reading: bool = False  # while it is on, a reading takes `timing.autozero_factor` times as long


class InputWay(_Part):
    """One of several displays: which question reads it (empty: the common one), and which field it is."""

    name: str
    line: Line = ""
    index: int = Field(default=0, ge=0)


class Scanner(_Part):
    """A scanner card: one channel after another is closed and read, or one question scans a list.

    With `close` the common read line is asked for each channel. With `scan` the list is set once, and one
    reply holds a field for each channel in the order of the list.
    """

    channels: tuple[str, ...] = Field(min_length=1)
    close: Line = ""
    settle_s: float = Field(default=0.02, ge=0.0, le=2.0)
    scan: tuple[Line, ...] = ()
    scan_read_back: Line = ""

    @model_validator(mode="after")
    def _one_way(self) -> Scanner:
        if bool(self.close) == bool(self.scan):
            raise ValueError("needs either close or scan")
        return self


class LineWays(_Part):
    """How the meter behaves around its lines, on a serial port or a socket (`drivers.links.line.Manners`).

    `compound = false` and `longest` say what the meter takes in one line; the lines of this file are held to
    them when it is read.
    """

    ending: Literal["lf", "crlf", "cr"] = "lf"
    echo: bool = False
    prompts: tuple[Prompt, ...] = ()
    failure_prompts: tuple[Prompt, ...] = ()
    gap_s: float = Field(default=0.0, ge=0.0, le=5.0)
    ctrl_c: bool = False
    compound: bool = True
    longest: int = Field(default=0, ge=0, le=10_000)  # characters, without the end of the line; 0: any number

    def manners(self) -> Manners:
        """The same for a link."""
        return Manners(
            ending={"lf": b"\n", "crlf": b"\r\n", "cr": b"\r"}[self.ending],
            echo=self.echo,
            prompts=tuple(each.encode("ascii") for each in self.prompts),
            failure_prompts=tuple(each.encode("ascii") for each in self.failure_prompts),
            gap_s=self.gap_s,
            clear=b"\x03" if self.ctrl_c else b"",
        )

    def refusal(self, line: str) -> str:
        """Why a line cannot be sent to this meter; empty when it can."""
        if not self.compound and ";" in line:
            return f"{line!r} holds two commands, and compound = false says that this meter takes one"
        length = len(_PLACE.sub(_WIDEST, line))
        if self.longest and length > self.longest:
            return f"{line!r} may be {length} characters long, and longest says {self.longest}"
        return ""


class Accuracy(_Part):
    """The maker's figures for one range."""

    range_volts: PositiveFloat
    of_reading: float = Field(default=0.0, ge=0.0)
    of_range: float = Field(default=0.0, ge=0.0)
    resolution: float = Field(default=0.0, ge=0.0)
    counts: float = Field(default=0.0, ge=0.0)


class AcWays(_Part):
    """How AC volts are asked for, and where they are right: from the manual; left out where it is silent."""

    line: Line = "MEAS:VOLT:AC?"
    low_hz: PositiveFloat | None = None
    high_hz: PositiveFloat | None = None
    responding: Literal["true rms", "average", ""] = ""
    of_reading: float = Field(default=0.0, ge=0.0, le=1.0)

    @model_validator(mode="after")
    def _in_order(self) -> AcWays:
        if self.low_hz is not None and self.high_hz is not None and self.low_hz >= self.high_hz:
            raise ValueError(f"low_hz {self.low_hz:g} must be below high_hz {self.high_hz:g}")
        return self


class Dialect(_Part):
    """How a meter is spoken to."""

    name: str
    title: str
    choose: Choice = Choice()
    remote: tuple[Line, ...] = ()  # sent first, on serial ports only
    start: tuple[Line, ...] = ()
    range: RangeWays = RangeWays()
    integration: IntegrationWays = IntegrationWays()
    setting: tuple[Setting, ...] = ()
    read: Reads
    reply: ReplyForm = ReplyForm()
    timing: Timing = Timing()
    input: tuple[InputWay, ...] = ()
    scanner: Scanner | None = None
    ac: AcWays | None = None
    errors: Line = ""
    leave: tuple[Line, ...] = ()
    line: LineWays = LineWays()
    accuracy: tuple[Accuracy, ...] = ()
    declared_by: str = ""  # where the accuracy figures come from

    @model_validator(mode="after")
    def _inputs_in_reply(self) -> Dialect:
        for each in self.input:
            if each.index >= self.reply.fields:
                raise ValueError(f"input {each.name} is field {each.index} of {self.reply.fields}")
        if self.input and self.scanner:
            raise ValueError("input and scanner cannot both be given")
        return self

    @model_validator(mode="after")
    def _lines_fit(self) -> Dialect:
        refusal = next(filter(None, map(self.line.refusal, self._lines())), "")
        if refusal:
            raise ValueError(refusal)
        return self

    @model_validator(mode="after")
    def _places_are_filled(self) -> Dialect:
        for line, places in self._places():
            for place in _PLACE.findall(line):
                if place not in places:
                    known = " and ".join(f"{{{each}}}" for each in places) or "no place"
                    raise ValueError(f"{{{place}}} is not filled in in {line!r}, where there is {known}")
        return self

    def _places(self) -> list[tuple[str, tuple[str, ...]]]:
        """Lines with the places that are filled in there; every other line has none."""
        speed = ("speed",) if self.integration.kind == "words" else ("nplc", "integration_s")
        range_lines = [*self.start, *self.read.lines, *(each.line for each in self.input)]
        found: list[tuple[str, tuple[str, ...]]] = [(line, ("range_volts",)) for line in range_lines]
        found += [(line, ("range_volts", "range_index")) for line in self.range.write]
        found += [(line, speed) for line in self.integration.write]
        if self.scanner is not None:
            found.append((self.scanner.close, ("channel",)))
            found += [(line, ("channels", "count")) for line in self.scanner.scan]
        known = {line for line, _ in found}
        return [*found, *((line, ()) for line in self._lines() if line not in known)]

    def _lines(self) -> tuple[str, ...]:
        """Every line that is sent to this meter."""
        ways = [way for setting in self.setting for way in setting.way]
        found = [*self.choose.probe, *self.remote, *self.start, *self.read.lines, self.errors, *self.leave]
        found += [*self.range.write, self.range.read_back]
        found += [*self.integration.write, self.integration.read_back, self.integration.line_frequency]
        found += [line for way in ways for line in (*way.write, way.read_back)]
        found += [each.line for each in self.input] + ([self.ac.line] if self.ac is not None else [])
        if self.scanner is not None:
            found += [self.scanner.close, *self.scanner.scan, self.scanner.scan_read_back]
        return tuple(found)

    @property
    def inputs(self) -> tuple[str, ...]:
        """The inputs that can be asked for."""
        if self.scanner:
            return self.scanner.channels
        return tuple(each.name for each in self.input) or ("1",)

    def accuracy_of(self, range_volts: float) -> MeterAccuracy:
        """The maker's figures for a range; all zero where the file gives none."""
        for row in self.accuracy:
            if abs(row.range_volts - range_volts) <= 0.01 * range_volts:
                return MeterAccuracy(
                    of_reading=row.of_reading,
                    of_range=row.of_range,
                    range_value=row.range_volts,
                    resolution=row.resolution,
                    counts=row.counts,
                    declared_by=self.declared_by or f"dialect {self.name}",
                )
        return MeterAccuracy()


def filled(line: str, **values: float | str) -> bytes:
    """A line with its places filled in. Numbers are written so that any SCPI parser takes them."""

    def shown(match: re.Match[str]) -> str:
        value = values[match[1]]
        return value if isinstance(value, str) else f"{value:.6g}"

    return _PLACE.sub(shown, line).encode("ascii")


def read_dialect(text: str, where: str) -> Dialect:
    """Read one dialect from TOML text. `where` names the file in the sentences.

    Raises:
        DialectError: with the file, the place and what is wrong there.
    """
    return dialect_files.parsed(text, where, Dialect.model_validate)


@cache
def shipped_dialects() -> tuple[Dialect, ...]:
    """The dialects that come with the program, in the order in which they are tried."""
    found = dialect_files.shipped("drivers.scpi", read_dialect)
    return tuple(sorted(found, key=lambda dialect: dialect.choose.rank))


def dialects_in(folders: Iterable[Path]) -> tuple[tuple[Dialect, ...], tuple[str, ...]]:
    """A user's own dialects, to be tried before the shipped ones, and a sentence for each unusable file."""
    found, problems = dialect_files.own(folders, read_dialect)
    return tuple(sorted(found, key=lambda dialect: dialect.choose.rank)), problems
