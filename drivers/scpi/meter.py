"""A SCPI multimeter as a `drivers.meter.Meter`: DC volts on a fixed range, one reading a question.

Over range it tries the next range by itself and says so with a flag, so that a value is there before an
alarm has to be; it goes back when the value fits again.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace

from drivers.clock import Clock, host_seconds
from drivers.errors import LinkError, MeterRefused, ReplyRefused
from drivers.links import Link, Reply
from drivers.meter import MeterAccuracy, MeterFacts, MeterSetup
from drivers.reading import Gap, GapReason, Reading, ReadingFlag
from drivers.scpi.dialect import Dialect, filled, shipped_dialects
from drivers.scpi.dialogue import Dialogue
from drivers.scpi.pace import Pace
from drivers.scpi.questions import Question, fields_of, questions_of
from drivers.scpi.reply import Answer, ReplyValue
from drivers.scpi.sensors import celsius
from drivers.scpi.setting_up import FoundSettings, SettingUp, choose_dialect, mind_manners, read_limit_s

_LEAVE_S = 0.02  # for each line that gives the front panel back
_BACK_DOWN = 0.9  # of the wanted range: below this the meter returns to it
_HIGHEST_VOLTS = 1000.0

AccuracyOf = Callable[[str, float], MeterAccuracy | None]


class ScpiMeter:
    """One SCPI instrument, with one input or several. See `drivers.meter.Meter` for the contract.

    Args:
        name: by which leads refer to it.
        link: the way to it, not yet open.
        clock: stamps the readings.
        dialect: how it is spoken to; None chooses among `dialects` by identity and probing.
        dialects: tried in order; a user's own first, then the shipped ones.
        accuracy: the maker's figures, as they are or by identity and range; None takes the dialect's.
        pace: what is known of how fast it measures.
    """

    def __init__(
        self,
        name: str,
        link: Link,
        clock: Clock,
        dialect: Dialect | None = None,
        *,
        dialects: tuple[Dialect, ...] | None = None,
        accuracy: MeterAccuracy | AccuracyOf | None = None,
        pace: Pace | None = None,
    ) -> None:
        self._name = name
        self._link = link
        self._clock = clock
        self._given = dialect
        self._dialects = shipped_dialects() if dialects is None else dialects
        self._accuracy = accuracy
        self._pace = pace or Pace()
        self._dialogue = Dialogue(link)
        self._dialect: Dialect | None = dialect
        self._setup: MeterSetup | None = None
        self._found: FoundSettings | None = None
        self._facts: MeterFacts | None = None
        self._aborted = threading.Event()
        self._silent: set[str] = set()  # questions that this instrument does not answer
        self._range_now = 0.0
        self._highest_volts = _HIGHEST_VOLTS
        if dialect is not None:
            mind_manners(link, dialect)

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
        """See `Meter.inputs`. Others than 1 exist after a `configure` that asked for them."""
        return self._setup.inputs if self._setup else ("1",)

    @property
    def facts(self) -> MeterFacts | None:
        """What the last `configure` found, or None."""
        return self._facts

    def connect(self, deadline: float) -> str:
        """See `Meter.connect`. A connection counts only when the instrument has said its name."""
        self._found = None
        self._aborted.clear()
        self._link.open(deadline)
        before = self._dialogue.identity
        try:
            identity = self._dialogue.identify(deadline)
        except LinkError:
            self._link.close()
            raise
        if identity != before:
            # What was learned about another instrument does not hold for this one.
            self._dialect = self._given
            self._silent.clear()
            self._highest_volts = _HIGHEST_VOLTS
            self._pace.forget()
        return identity

    def configure(self, setup: MeterSetup, deadline: float) -> MeterFacts:
        """See `Meter.configure`."""
        if self._dialect is None:
            self._dialect = choose_dialect(self._dialogue, self._dialects, deadline)
            mind_manners(self._link, self._dialect)
        self._check_inputs(setup, self._dialect)
        self._found = None
        if self._setup is None or setup.integration_s != self._setup.integration_s:
            self._pace.forget()
        found = SettingUp(self._dialogue, self._dialect, setup, deadline, self._silent).carry_out()
        self._found, self._setup, self._range_now = found, setup, found.range_volts
        self._facts = MeterFacts(
            identity=self._dialogue.identity,
            range_volts=found.range_volts,
            integration_s=found.integration_s,
            reading_s=found.reading_s,
            fresh=self._dialect.read.fresh,
            accuracy=self._accuracy_at(found.range_volts),
            unit=self._dialect.reply.quantity,
            dialect=self._dialect.name,
            unconfirmed=tuple(found.unconfirmed),
            notes=tuple(found.notes),
            patience_s=read_limit_s(self._dialect, found.reading_s),
        )
        return self._facts

    def _check_inputs(self, setup: MeterSetup, dialect: Dialect) -> None:
        unknown = [name for name in setup.inputs if name not in dialect.inputs]
        if unknown or not setup.inputs or len(set(setup.inputs)) != len(setup.inputs):
            raise MeterRefused(
                f"{self.address}: the inputs {', '.join(setup.inputs) or 'none'} were asked for; "
                f"this meter has {', '.join(dialect.inputs)}, each once"
            )

    def _accuracy_at(self, range_volts: float) -> MeterAccuracy:
        assert self._dialect is not None
        known = self._accuracy
        if callable(known):
            known = known(self._dialogue.identity, range_volts)
        return known if known is not None else self._dialect.accuracy_of(range_volts)

    # --- reading -------------------------------------------------------------------------------------

    def read(self, deadline: float) -> tuple[Reading | Gap, ...]:
        """See `Meter.read`."""
        dialect, found, setup = self._ready()
        facts: dict[str, Reading | Gap] = {}
        for question in questions_of(dialect, found.read_line, setup.inputs):
            facts.update(self._answered(question, deadline))
        return tuple(facts[name] for name in setup.inputs)

    def _ready(self) -> tuple[Dialect, FoundSettings, MeterSetup]:
        if self._dialect is None or self._found is None or self._setup is None:
            raise MeterRefused(f"{self.address}: the meter has not been set up yet")
        return self._dialect, self._found, self._setup

    def _answered(self, question: Question, deadline: float) -> dict[str, Reading | Gap]:
        """Ask one question; of a single input, also on higher ranges while it is over range."""
        _, found, _ = self._ready()
        reply, values = self._ask(question, deadline)
        single = values[0] if len(values) == 1 else None
        while isinstance(single, ReplyValue) and single.answer is Answer.OVERLOAD and self._go_up(deadline):
            reply, values = self._ask(question, deadline)
            single = values[0]
        facts = {
            name: self._fact(name, value, *self._interval(question, reply, number))
            for number, ((name, _), value) in enumerate(zip(question.takes, values, strict=True))
        }
        if (
            self._range_now > found.range_volts * 1.01
            and isinstance(single, ReplyValue)
            and single.value is not None
            and abs(single.value) < _BACK_DOWN * found.range_volts
        ):
            self._range_now = self._change_range(found.range_volts, deadline)
        return facts

    def _ask(
        self, question: Question, deadline: float
    ) -> tuple[Reply, tuple[ReplyValue | ReplyRefused, ...]]:
        dialect, _, _ = self._ready()
        if question.first:
            self._dialogue.tell(filled(question.first, channel=question.channel), deadline)
            self._aborted.wait(question.settle_s)
        reply = self._dialogue.ask(filled(question.line, range_volts=self._range_now), deadline)
        try:
            values = fields_of(question, reply, dialect)
            if dialect.read.paced and not self._pace.plausible(reply.received - reply.sent):
                raise ReplyRefused(
                    "an answer came faster than this meter measures; it belongs to an older question",
                    reply.raw,
                )
        except ReplyRefused as problem:
            raise self._dialogue.refuse(problem) from problem
        return reply, values

    def _interval(self, question: Question, reply: Reply, number: int) -> tuple[float, float]:
        """When a field was measured, in bench time."""
        dialect, _, _ = self._ready()
        start_s, end_s = self._clock.at_host(reply.sent), self._clock.at_host(reply.received)
        if question.in_turn:
            share_s = (end_s - start_s) / len(question.takes)
            start_s, end_s = start_s + number * share_s, start_s + (number + 1) * share_s
        if not dialect.read.fresh:
            # The display's latest value is up to one display period older than the question.
            start_s -= dialect.read.display_period_s
        return start_s, end_s

    def _fact(
        self, name: str, value: ReplyValue | ReplyRefused, start_s: float, end_s: float
    ) -> Reading | Gap:
        dialect, found, _ = self._ready()
        if isinstance(value, ReplyRefused):
            return Gap(self._name, name, start_s, end_s, GapReason.NO_READING, str(value))
        if value.answer is Answer.OVERLOAD:
            detail = f"{self._name} is over its range; check the probes, and the range if they are right"
            return Gap(self._name, name, start_s, end_s, GapReason.OVERLOAD, detail)
        if value.value is None:
            detail = f"{self._name} says that it has no reading"
            return Gap(self._name, name, start_s, end_s, GapReason.NO_READING, detail)
        form = dialect.reply
        amount = value.value
        if form.sensor:
            temperature = celsius(form.sensor, amount, form.cold_junction_c)
            if temperature is None:
                detail = (
                    f"{amount:g} {form.unit} is no temperature of a {form.sensor} sensor; check its leads"
                )
                return Gap(self._name, name, start_s, end_s, GapReason.NO_READING, detail)
            amount = temperature
        flags: set[ReadingFlag] = set()
        if end_s - start_s > 3.0 * found.reading_s + dialect.read.display_period_s:
            flags.add(ReadingFlag.SLOW)
        if not dialect.read.fresh:
            flags.add(ReadingFlag.LATEST)
        if self._range_now > found.range_volts * 1.01:
            flags.add(ReadingFlag.OTHER_RANGE)
        return Reading(self._name, name, amount, form.quantity, start_s, end_s, frozenset(flags))

    # --- range ---------------------------------------------------------------------------------------

    def _go_up(self, deadline: float) -> bool:
        """Choose the next higher range if there is one and there is time to read on it."""
        dialect, found, _ = self._ready()
        if not dialect.range.write or not dialect.range.read_back or "range" in found.unconfirmed:
            return False
        ranges = dialect.range.ranges_volts
        higher = (
            next((each for each in ranges if each > self._range_now * 1.01), None)
            if ranges
            else self._range_now * 10.0
        )
        if higher is None or higher > min(self._highest_volts, _HIGHEST_VOLTS) * 1.01:
            return False
        if deadline - host_seconds() < found.reading_s:
            return False
        try:
            self._range_now = self._change_range(higher, deadline)
        except MeterRefused:
            # It has no such range; where it is now, it stays.
            self._highest_volts = self._range_now
            self._range_now = self._change_range(self._range_now, deadline)
            return False
        return True

    def _change_range(self, range_volts: float, deadline: float) -> float:
        dialect, _, setup = self._ready()
        wanted = replace(setup, range_volts=range_volts)
        return SettingUp(self._dialogue, dialect, wanted, deadline, self._silent).set_range()

    # --- care ----------------------------------------------------------------------------------------

    def recover(self, deadline: float) -> None:
        """See `Meter.recover`. On a clean link it keeps the connection alive."""
        self._dialogue.recover(deadline)

    def abort(self) -> None:
        """See `Meter.abort`."""
        self._aborted.set()
        self._link.abort()

    def disconnect(self) -> None:
        """See `Meter.disconnect`."""
        lines = tuple(line.encode("ascii") for line in self._dialect.leave) if self._dialect else ()
        self._dialogue.leave(lines, _LEAVE_S)
        self._found = None
