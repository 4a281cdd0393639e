"""A look at one meter that changes none of its settings: who it is, how it is set, how well it reads.

Every finding is a line with a name, what was found, and whether it suits a bias measurement (None: it is
only information). Nothing here configures; the questions are those of the dialect's read-backs.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable
from dataclasses import dataclass

from drivers.clock import host_seconds
from drivers.errors import DriverError, LinkError, ReplyRefused
from drivers.links import Link
from drivers.meter import Meter, MeterFacts, MeterSetup
from drivers.reading import Gap, Reading, Unit
from drivers.scpi.dialect import Dialect, ReplyForm, shipped_dialects
from drivers.scpi.dialogue import Dialogue
from drivers.scpi.reply import Answer, parse_reply
from drivers.scpi.sensors import celsius
from drivers.scpi.setting_up import choose_dialect, mind_manners


@dataclass(frozen=True, slots=True)
class CheckLine:
    """One finding."""

    what: str
    found: str
    good: bool | None = None


def identity_at(link: Link, limit_s: float = 3.0) -> str:
    """Who answers behind a link, which is let go of again; empty where nobody does. Never raises."""
    deadline = host_seconds() + limit_s
    dialogue = Dialogue(link)
    try:
        link.open(deadline)
        return dialogue.identify(deadline)
    except DriverError:
        return ""
    finally:
        dialogue.leave((), 0.05)


def check_meter(
    link: Link,
    *,
    dialects: tuple[Dialect, ...] | None = None,
    chosen: Dialect | None = None,
    readings: int = 20,
    mains_hz: float = 50.0,
    limit_s: float = 30.0,
    now: Callable[[], float] = host_seconds,
) -> tuple[CheckLine, ...]:
    """Look at the meter behind a link and let go of it again. Never raises: what went wrong is a line.

    `chosen` is a dialect to go by; without it one of `dialects` is found out.
    """
    deadline = now() + limit_s
    lines: list[CheckLine] = [CheckLine("address", link.address)]
    dialogue = Dialogue(link)
    dialect: Dialect | None = None
    if chosen is not None:
        mind_manners(link, chosen)
    try:
        link.open(min(deadline, now() + 5.0))
        lines.append(CheckLine("identity", dialogue.identify(deadline), True))
        among = shipped_dialects() if dialects is None else dialects
        dialect = chosen or choose_dialect(dialogue, among, deadline)
        mind_manners(link, dialect)
        lines.append(CheckLine("dialect", f"{dialect.name}: {dialect.title}", True))
        lines.extend(_settings(dialogue, dialect, deadline, mains_hz))
        lines.extend(_readings(dialogue, dialect, deadline, readings, now))
        lines.extend(_errors(dialogue, dialect, deadline))
    except DriverError as problem:
        lines.append(CheckLine("stopped", str(problem), False))
    finally:
        dialogue.leave(tuple(line.encode("ascii") for line in dialect.leave) if dialect else (), 0.05)
    return tuple(lines)


def check_source(
    meter: Meter, *, readings: int = 20, limit_s: float = 30.0, now: Callable[[], float] = host_seconds
) -> tuple[CheckLine, ...]:
    """Look at a source that is asked nothing: lines that arrive by themselves, a file. Never raises."""
    deadline = now() + limit_s
    lines = [CheckLine("address", meter.address)]
    try:
        lines.append(CheckLine("identity", meter.connect(min(deadline, now() + 5.0)), True))
        facts = meter.configure(MeterSetup(inputs=meter.inputs), deadline)
        lines.append(CheckLine("inputs", ", ".join(meter.inputs), True))
        lines.extend(CheckLine("note", note) for note in facts.notes)
        lines.extend(_what_comes(meter, facts, deadline, readings, now))
    except DriverError as problem:
        lines.append(CheckLine("stopped", str(problem), False))
    finally:
        meter.disconnect()
    return tuple(lines)


def _what_comes(
    meter: Meter, facts: MeterFacts, deadline: float, readings: int, now: Callable[[], float]
) -> list[CheckLine]:
    """Rate and scatter of what arrives, for each input; a gap counts as such."""
    values: dict[str, list[Reading]] = {name: [] for name in meter.inputs}
    gaps: list[Gap] = []
    started, seen = now(), 0
    while seen < readings and now() < deadline:
        arrived = meter.read(min(deadline, now() + facts.limit_s))
        seen += bool(arrived)
        for fact in arrived:
            if isinstance(fact, Gap):
                gaps.append(fact)
            else:
                values[fact.input].append(fact)
        if not arrived and facts.dialect == "file":
            break  # the first rows have come, the others keep their own time
    took_s = max(now() - started, 1e-9)
    lines = []
    if facts.dialect != "file":  # which keeps its own pace
        words = f"{seen} in {took_s:.2g} s, {seen / took_s:.3g} a second"
        lines.append(CheckLine("rate", words, seen > 0))
    lines += [CheckLine(f"input {name}", _spread(found), True) for name, found in values.items() if found]
    if gaps:
        lines.append(CheckLine("gaps", f"{len(gaps)}, the first: {gaps[0].reason}: {gaps[0].detail}", False))
    return lines


def _spread(found: list[Reading]) -> str:
    """Mean and scatter of an input, as a person reads them."""
    scale, unit = (1e3, "mV") if found[0].unit is Unit.VOLT else (1.0, found[0].unit.value)
    numbers = [each.value * scale for each in found]
    words = f"{statistics.fmean(numbers):.6g} {unit}"
    return f"{words}, scatter {statistics.stdev(numbers):.3g} {unit}" if len(numbers) > 1 else words


def _settings(dialogue: Dialogue, dialect: Dialect, deadline: float, mains_hz: float) -> list[CheckLine]:
    lines = []
    answer_s = dialect.timing.answer_s
    if dialect.range.read_back:
        told = dialogue.ask_number(dialect.range.read_back.encode("ascii"), answer_s, deadline)
        lines.append(CheckLine("range", "not told" if told is None else _range_words(dialect, told)))
    integration = dialect.integration
    if integration.read_back and integration.kind != "words":
        found = dialogue.ask_number(integration.read_back.encode("ascii"), answer_s, deadline)
        told_hz = (
            dialogue.ask_number(integration.line_frequency.encode("ascii"), answer_s, deadline)
            if integration.line_frequency
            else None
        )
        lines.append(_hum(found, integration.kind == "nplc", told_hz, mains_hz))
    for setting in dialect.setting:
        said = dialogue.ask_word(setting.way[0].read_back.encode("ascii"), answer_s, deadline)
        lines.append(CheckLine(setting.name, "not told" if said is None else f"now {said}"))
    return lines


def _range_words(dialect: Dialect, told: float) -> str:
    """The range that a meter tells, in its unit; some tell its number in the list of their ranges."""
    ways = dialect.range
    if not any("{range_index}" in line for line in ways.write):
        return f"{told:g} {dialect.reply.unit}"
    place = round(told) - ways.first_index
    if 0 <= place < len(ways.ranges_volts):
        return f"{ways.ranges_volts[place]:g} {dialect.reply.unit}"
    return f"number {told:g}"


def _hum(found: float | None, in_cycles: bool, told_hz: float | None, mains_hz: float) -> CheckLine:
    """Hum cancels only over whole periods of the mains that are really there."""
    if found is None:
        return CheckLine("mains hum", "the meter does not tell how long it integrates")
    assumed_hz = told_hz or mains_hz
    seconds = found / assumed_hz if in_cycles else found
    cycles = seconds * mains_hz
    words = f"integrates for {seconds:g} s, {cycles:g} periods of {mains_hz:g} Hz"
    if cycles < 0.999:
        return CheckLine("mains hum", f"{words}: less than one, so hum shows as noise", False)
    if not math.isclose(cycles, round(cycles), rel_tol=0.001):
        return CheckLine("mains hum", f"{words}: no whole number, so hum shows as a slow beat", False)
    return CheckLine("mains hum", f"{words}: hum cancels", True)


def _readings(
    dialogue: Dialogue, dialect: Dialect, deadline: float, readings: int, now: Callable[[], float]
) -> list[CheckLine]:
    """Noise and rate from a row of readings with the meter as it is set."""
    question = next((line for line in dialect.read.lines if "{" not in line), None)
    if question is None:
        return [CheckLine("readings", "not tried: this dialect sets the meter with each question")]
    form = dialect.reply
    values: list[float] = []
    over = 0
    started = now()
    for _ in range(readings):
        if now() >= deadline:
            break
        try:
            raw = dialogue.ask(question.encode("ascii"), min(deadline, now() + 10.0)).raw
            value = parse_reply(
                raw, fields=form.fields, index=form.index, shape=form.shape, overload_at=form.overload_at
            )
            if value.unit is not None and value.unit is not form.unit:
                raise ReplyRefused(f"the meter answers in {value.unit}, not in {form.unit}", raw)
        except ReplyRefused as problem:
            dialogue.link.mark_dirty()
            dialogue.recover(min(deadline, now() + 2.0))
            return [CheckLine("readings", str(problem), False)]
        over += value.answer is Answer.OVERLOAD
        if value.value is not None:
            values.append(value.value)
    took_s = max(now() - started, 1e-9)
    count = len(values) + over
    lines = [
        CheckLine("rate", f"{count} readings in {took_s:.2g} s, {count / took_s:.3g} a second", count > 0)
    ]
    if over:
        lines.append(CheckLine("overload", f"{over} of {count} readings are over the range", False))
    return lines + (_told(values, form) if len(values) >= 2 else [])


def _told(values: list[float], form: ReplyForm) -> list[CheckLine]:
    """Mean and scatter of a row of values in the unit that a reading has in the end."""
    if form.sensor is not None:
        degrees = [celsius(form.sensor, each, form.cold_junction_c) for each in values]
        known = [each for each in degrees if each is not None]
        if len(known) < len(values):
            words = f"{statistics.fmean(values):.6g} {form.unit} is no temperature of a {form.sensor} sensor"
            return [CheckLine("mean reading", f"{words}; check its leads", False)]
        values = known
    in_volts = form.quantity is Unit.VOLT
    scale, unit = (1e3, "mV") if in_volts else (1.0, form.quantity.value)
    fine, fine_unit = (1e6, "\xb5V") if in_volts else (1.0, form.quantity.value)
    return [
        CheckLine("mean reading", f"{statistics.fmean(values) * scale:.6g} {unit}"),
        CheckLine("noise", f"{statistics.stdev(values) * fine:.3g} {fine_unit} (standard deviation)"),
    ]


def _errors(dialogue: Dialogue, dialect: Dialect, deadline: float) -> list[CheckLine]:
    if not dialect.errors:
        return []
    try:
        found = dialogue.drain_errors(dialect.errors.encode("ascii"), dialect.timing.answer_s, deadline)
    except LinkError as problem:
        return [CheckLine("errors", str(problem), False)]
    if found is None:
        return [CheckLine("errors", "the meter keeps no list of them")]
    return [CheckLine("errors", "; ".join(found[:5]) if found else "none", not found)]
