"""How a generator or a digitiser is spoken to, as data: TOML files in `dialects`, tried in rising rank.

A user's own files are tried before those that ship; a broken one costs itself alone.

Nothing in a file is run; the only thing put into a line is one of `PLACES`. Not here: the conversation.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, PositiveFloat, model_validator

from drivers import dialect_files
from drivers.errors import DialectError

PLACES = ("hz", "volts_rms", "volts_peak", "volts_pp", "rate_hz", "points", "seconds", "channel")
_PLACE = re.compile(r"\{([^{}]*)\}")


def _line(text: str) -> str:
    if not text.isascii() or not text.isprintable():
        raise ValueError("a line may hold printable ASCII only")
    for place in _PLACE.findall(text):
        if place not in PLACES:
            raise ValueError(f"{{{place}}} is not one of {', '.join('{' + name + '}' for name in PLACES)}")
    return text


Line = Annotated[str, AfterValidator(_line)]


def _pattern(text: str) -> str:
    try:
        re.compile(text)
    except re.error as problem:
        raise ValueError(f"is not a regular expression ({problem})") from problem
    return text


Pattern = Annotated[str, AfterValidator(_pattern)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Setting(_Part):
    """One thing to set and how it is confirmed: by a number (`value`, one of the places) or by a word."""

    name: str
    write: tuple[Line, ...] = ()
    read_back: Line
    value: Literal["hz", "volts_rms", "volts_peak", "volts_pp", "rate_hz", "points", "seconds", ""] = ""
    accept: tuple[str, ...] = ()
    within: float = Field(default=1e-3, gt=0.0, le=0.5)  # of the value, or more than it where `at_least`
    at_least: bool = False

    @model_validator(mode="after")
    def _is_confirmed(self) -> Setting:
        if not self.value and not self.accept:
            raise ValueError(f'"{self.name}" is confirmed by value or by accept: give one of the two')
        return self


def _need_places(
    settings: Iterable[Setting], lines: Iterable[str], bare: Iterable[str], known: set[str]
) -> None:
    """Raise ValueError where a line holds a place that is not filled in there.

    `known` are those of the settings; in `lines` there is the channel alone, in `bare` there is none.
    """
    everywhere = [(line, {"channel"}) for line in lines] + [(line, set[str]()) for line in bare]
    for setting in settings:
        everywhere += [(line, known) for line in (*setting.write, setting.read_back)]
        if setting.value and setting.value not in known:
            raise ValueError(f'"{setting.name}": value = "{setting.value}" is nothing that is set here')
    for line, places in everywhere:
        for place in _PLACE.findall(line):
            if place not in places:
                shown = " and ".join(f"{{{name}}}" for name in PLACES if name in places) or "no place"
                raise ValueError(f"{{{place}}} is not filled in in {line!r}, where there is {shown}")


_OF_A_TONE = {"hz", "volts_rms", "volts_peak", "volts_pp", "channel"}
_OF_A_RECORD = {"rate_hz", "points", "seconds", "volts_peak", "volts_pp", "channel"}


class SecondTone(_Part):
    """A second sine that is added to the first within the instrument; the places are those of the second.

    `on` and `off` add it and leave it out, `state` asks; it is left out wherever one tone is played.
    """

    setting: tuple[Setting, ...] = Field(min_length=1)
    on: Line
    off: Line
    state: Line


class GeneratorDialect(_Part):
    """A generator of tones. `on` and `off` switch its output, `state` asks; "1" is on, "0" off.

    Without `second` it plays one tone at a time.
    """

    role: Literal["generator"]
    name: str
    identity: Pattern = ""
    rank: int = 50
    start: tuple[Line, ...] = ()
    setting: tuple[Setting, ...] = Field(min_length=1)
    on: Line
    off: Line
    state: Line
    channels: tuple[str, ...] = Field(default=("1",), min_length=1, max_length=8)
    most_volts_peak: PositiveFloat = 10.0
    most_hz: PositiveFloat = 1e6
    settle_s: float = Field(default=0.2, ge=0.0, le=10.0)
    second: SecondTone | None = None
    answer_s: PositiveFloat = 2.0

    @model_validator(mode="after")
    def _places_are_filled(self) -> GeneratorDialect:
        _need_places(self.setting, (*self.start, self.on, self.off, self.state), (), _OF_A_TONE)
        if self.second is not None:
            second = self.second
            _need_places(second.setting, (second.on, second.off, second.state), (), _OF_A_TONE)
        return self


class DigitiserDialect(_Part):
    """A recorder whose samples come as a block. `samples` says how one is written; reals are volts."""

    role: Literal["digitiser"]
    name: str
    identity: Pattern = ""
    rank: int = 50
    start: tuple[Line, ...] = ()
    setting: tuple[Setting, ...] = Field(min_length=1)
    begin: Line
    complete: Line  # answered with 1 when the record is taken
    fetch: Line
    range_read_back: Line
    volts_a_step: Line = ""  # asked where samples are integers
    samples: Literal["real 32", "integer 16", "integer 32"] = "real 32"
    byte_order: Literal["big", "little"] = "big"
    bits: int = Field(default=0, ge=0, le=32)
    channels: tuple[str, ...] = Field(default=("1", "2"), min_length=1, max_length=8)
    most_points: int = Field(default=1_000_000, ge=16)
    answer_s: PositiveFloat = 2.0
    transfer_s: PositiveFloat = 20.0

    @model_validator(mode="after")
    def _places_are_filled(self) -> DigitiserDialect:
        lines = (*self.start, self.fetch, self.range_read_back, self.volts_a_step)
        _need_places(self.setting, lines, (self.begin, self.complete), _OF_A_RECORD)
        return self

    @model_validator(mode="after")
    def _integers_become_volts(self) -> DigitiserDialect:
        if self.samples.startswith("integer") and not self.volts_a_step:
            raise ValueError(f'samples = "{self.samples}" needs volts_a_step: what one step is in volts')
        return self


InstrumentDialects = tuple[GeneratorDialect | DigitiserDialect, ...]
Either = TypeVar("Either", GeneratorDialect, DigitiserDialect)


def filled(line: str, **values: float | str) -> bytes:
    """A line with its places filled in."""

    def shown(match: re.Match[str]) -> str:
        value = values[match[1]]
        return value if isinstance(value, str) else f"{value:.9g}"

    return _PLACE.sub(shown, line).encode("ascii")


def read_instrument_dialect(text: str, where: str) -> GeneratorDialect | DigitiserDialect:
    """Read one dialect from TOML text. Raises DialectError with the file, the place and what is wrong."""

    def describe(raw: dict[str, Any]) -> GeneratorDialect | DigitiserDialect:
        role = raw.get("role")
        if role not in ("generator", "digitiser"):
            raise DialectError(f'{where}: role must be "generator" or "digitiser"')
        return (GeneratorDialect if role == "generator" else DigitiserDialect).model_validate(raw)

    return dialect_files.parsed(text, where, describe)


@cache
def shipped_instrument_dialects() -> InstrumentDialects:
    """The dialects that come with the program, in the order in which they are tried."""
    found = dialect_files.shipped("drivers.audio", read_instrument_dialect)
    return tuple(sorted(found, key=lambda dialect: dialect.rank))


def instrument_dialects_in(folders: Iterable[Path]) -> tuple[InstrumentDialects, tuple[str, ...]]:
    """A user's own dialects, and a sentence for each file that cannot be used."""
    found, problems = dialect_files.own(folders, read_instrument_dialect)
    return tuple(sorted(found, key=lambda dialect: dialect.rank)), problems


def dialect_for(identity: str, kind: type[Either], own: InstrumentDialects = ()) -> Either:
    """The first dialect of a kind that fits an instrument's identity, a user's own first.

    Raises:
        DialectError: none fits.
    """
    for dialect in (*own, *shipped_instrument_dialects()):
        if isinstance(dialect, kind) and re.search(dialect.identity, identity):
            return dialect
    raise DialectError(f"no dialect fits {identity!r}")
