"""Text lines that arrive by themselves: microcontroller loggers, handhelds with an output, scales.

Nothing is asked; a line is read, taken apart by a pattern, and each named field becomes the reading of an
input. What does not fit the pattern is a gap with the line in it. As a `drivers.meter.Meter` it runs in a
worker like any other; give it a short period, so that each line is stamped when it comes.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from drivers.clock import Clock, host_seconds
from drivers.errors import AddressError, LinkError, MeterRefused, ReplyRefused
from drivers.links.line import LineLink
from drivers.meter import MeterAccuracy, MeterFacts, MeterSetup
from drivers.reading import Gap, GapReason, Reading, Unit
from drivers.scpi.reply import Answer, parse_reply
from drivers.typed import ShownUnit, shown_unit

_FIELDS, _COMMAS = re.compile(r"[;\t]"), re.compile(r",")
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")
_UNIT_GROUP = "_unit"
_FIRST_LINES = 20  # so many may be strange before the stream counts as not understood


@dataclass(frozen=True)
class LinePattern:
    """What the lines look like.

    Args:
        expression: a regular expression with a named group for each input, and optionally a group of the
            same name with `_unit` behind it; empty: every field between semicolons or tabs, where there are
            none between commas, is an input, called 1, 2, 3 ...
        units: what a number means where the line names no unit, by input; "" for all others.

    Raises:
        AddressError: when the expression cannot be used.
    """

    expression: str = ""
    units: dict[str, str] = field(default_factory=lambda: {"": "mV"})

    def __post_init__(self) -> None:
        for word in self.units.values():
            try:
                shown_unit(word)
            except ReplyRefused as problem:
                raise AddressError(f"the pattern for lines: {problem}") from problem
        try:
            groups = re.compile(self.expression).groupindex
        except re.error as problem:
            raise AddressError(
                f"the pattern for lines cannot be used ({problem}): {self.expression}"
            ) from None
        if self.expression and not [name for name in groups if not name.endswith(_UNIT_GROUP)]:
            raise AddressError("the pattern for lines names no input; write (?P<left>...) around each number")

    @property
    def inputs(self) -> tuple[str, ...]:
        """The inputs that the expression names; none are known beforehand without one."""
        groups = re.compile(self.expression).groupindex if self.expression else {}
        return tuple(name for name in groups if not name.endswith(_UNIT_GROUP))

    def take_apart(self, line: bytes) -> dict[str, str]:
        """Input and text, number and unit together. Raises ReplyRefused for a line that does not fit."""
        text = line.decode("latin-1").strip("\0 \r\n\t")
        if not self.expression:
            parts = _FIELDS.split(text)
            # Where a comma does not part the fields it is the decimal mark: 13,4 is no 13 and no 4.
            parts = (
                [_DECIMAL_COMMA.sub(".", part) for part in parts] if len(parts) > 1 else _COMMAS.split(text)
            )
            return {str(number): part.strip() for number, part in enumerate(parts, start=1)}
        match = re.search(self.expression, text)
        if not match:
            raise ReplyRefused(f"the line {text[:60]!r} does not fit the pattern", line)
        named = match.groupdict(default="")
        return {
            name: f"{value} {named.get(name + _UNIT_GROUP, '')}".strip()
            for name, value in named.items()
            if not name.endswith(_UNIT_GROUP)
        }

    def unit_of(self, meter_input: str) -> ShownUnit:
        """What a bare number of an input means."""
        return shown_unit(self.units.get(meter_input, self.units.get("", "mV")))


class StreamMeter:
    """A source of lines as a meter. See `drivers.meter.Meter` for the contract.

    Args:
        name: by which leads refer to it.
        link: made by `drivers.addresses.stream_link`.
        clock: stamps the lines.
        pattern: what they look like.
        every_s: how often a line is expected; three times that without one is a gap.
        accuracy: as declared by a person.
    """

    def __init__(
        self,
        name: str,
        link: LineLink,
        clock: Clock,
        pattern: LinePattern | None = None,
        *,
        every_s: float = 1.0,
        accuracy: MeterAccuracy | None = None,
    ) -> None:
        self._name = name
        self._link = link
        self._clock = clock
        self._pattern = pattern or LinePattern()
        self._every_s = every_s
        self._accuracy = accuracy or MeterAccuracy()
        self._inputs: tuple[str, ...] = ("1",)
        self._configured = False

    @property
    def name(self) -> str:
        """See `Meter.name`."""
        return self._name

    @property
    def address(self) -> str:
        """See `Meter.address`."""
        return self._link.address

    @property
    def inputs(self) -> tuple[str, ...]:
        """The fields of the lines; known after `configure`."""
        return self._inputs

    def connect(self, deadline: float) -> str:
        """See `Meter.connect`. A stream says no name; its address is its identity."""
        self._configured = False
        self._link.open(deadline)
        return f"lines from {self.address}"

    def configure(self, setup: MeterSetup, deadline: float) -> MeterFacts:
        """Find out which inputs the lines have. The first line may be a half, and titles may come first."""
        last = min(deadline, host_seconds() + self._patience_s())
        self._link.next_line(last)
        problem: ReplyRefused | None = None
        for _ in range(_FIRST_LINES):
            line = self._link.next_line(min(deadline, host_seconds() + self._patience_s())).raw
            try:
                parts = self._pattern.take_apart(line)
                for meter_input, text in parts.items():
                    self._value(meter_input, text, line)
            except ReplyRefused as refusal:
                problem = refusal
                continue
            self._inputs, self._configured = tuple(parts), True
            return self._facts()
        raise MeterRefused(f"{self.address}: the lines are not understood ({problem})")

    def _patience_s(self) -> float:
        return 3.0 * self._every_s + 1.0

    def _facts(self) -> MeterFacts:
        return MeterFacts(
            identity=f"lines from {self.address}",
            range_volts=0.0,
            integration_s=self._every_s,
            reading_s=self._every_s,
            fresh=True,
            accuracy=self._accuracy,
            unit=self._pattern.unit_of(self._inputs[0]).unit,
            dialect="stream",
            unconfirmed=("range", "integration time"),
            patience_s=self._patience_s(),
        )

    def read(self, deadline: float) -> tuple[Reading | Gap, ...]:
        """The next line. A line that is not understood is a gap of every input."""
        if not self._configured:
            raise MeterRefused(f"{self.address}: the stream has not been looked at yet")
        reply = self._link.next_line(deadline)
        start_s, end_s = self._clock.at_host(reply.sent), self._clock.at_host(reply.received)
        try:
            parts = self._pattern.take_apart(reply.raw)
            if tuple(parts) != self._inputs:
                raise ReplyRefused(f"the line {reply.raw[:60]!r} has other fields than before", reply.raw)
            return tuple(
                self._fact(meter_input, text, reply.raw, start_s, end_s)
                for meter_input, text in parts.items()
            )
        except ReplyRefused as problem:
            return tuple(
                Gap(self._name, meter_input, start_s, end_s, GapReason.GARBLED, str(problem))
                for meter_input in self._inputs
            )

    def _fact(self, meter_input: str, text: str, line: bytes, start_s: float, end_s: float) -> Reading | Gap:
        answer, value, unit = self._value(meter_input, text, line)
        if answer is Answer.OVERLOAD:
            return Gap(self._name, meter_input, start_s, end_s, GapReason.OVERLOAD, f"{text!r}")
        if value is None:
            return Gap(self._name, meter_input, start_s, end_s, GapReason.NO_READING, f"{text!r}")
        return Reading(self._name, meter_input, value, unit, start_s, end_s)

    def _value(self, meter_input: str, text: str, line: bytes) -> tuple[Answer, float | None, Unit]:
        shown = self._pattern.unit_of(meter_input)
        unit = shown.unit
        if not text:
            return Answer.NO_READING, None, unit
        reply = parse_reply(text.encode("latin-1"))
        if reply.unit is not None and reply.unit is not unit:
            raise ReplyRefused(f"the line {line[:60]!r} is in {reply.unit}, not in {unit}", line)
        if reply.value is None or reply.unit is not None:
            return reply.answer, reply.value, unit
        return reply.answer, shown.inside(reply.value), unit

    def recover(self, deadline: float) -> None:
        """Start again at the next whole line."""
        self._link.drop_received()

    def abort(self) -> None:
        """See `Meter.abort`."""
        self._link.abort()

    def disconnect(self) -> None:
        """See `Meter.disconnect`."""
        try:
            self._link.close()
        except LinkError:
            return
