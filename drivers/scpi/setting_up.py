"""Setting a SCPI meter up: every setting is made, then read back, and what was not confirmed is said.

Refuses rather than guesses: a range far above the wanted one, a sample count left over from another
program, an integration time nobody knows would each spoil a measurement without any error.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

from drivers.clock import host_seconds
from drivers.errors import LinkGarbled, LinkTimedOut, MeterRefused, ReplyRefused
from drivers.links import Link
from drivers.links.line import LineLink
from drivers.meter import MeterSetup
from drivers.scpi.dialect import Dialect, LineWays, Setting, filled
from drivers.scpi.dialogue import Dialogue
from drivers.scpi.reply import parse_reply

_A = TypeVar("_A")

_WIDEST_RANGE = 5.0  # a meter without a listed range may take one up to so many times the wanted one


@dataclass(slots=True)
class FoundSettings:
    """What setting up has found out."""

    range_volts: float
    integration_s: float
    reading_s: float
    read_line: str
    unconfirmed: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def choose_dialect(dialogue: Dialogue, dialects: tuple[Dialect, ...], deadline: float) -> Dialect:
    """The first dialect whose identity matches and whose probes are all answered with numbers.

    Raises:
        MeterRefused: when none fits.
        LinkError: when the link fails on the way.
    """
    answers: dict[str, float | None] = {}
    for dialect in dialects:
        if dialect.choose.by_name_only:
            continue
        if dialect.choose.identity and not re.search(dialect.choose.identity, dialogue.identity):
            continue
        for probe in dialect.choose.probe:
            if probe not in answers:
                question, answer_s = probe.encode("ascii"), dialect.timing.answer_s
                answers[probe] = dialogue.ask_number(question, answer_s, deadline)
                if answers[probe] is None:  # once more, because everything later hangs on it
                    answers[probe] = dialogue.ask_number(question, answer_s, deadline)
            if answers[probe] is None:
                break
        else:
            return dialect
    raise MeterRefused(
        f"{dialogue.link.address}: no dialect fits {dialogue.identity!r}; "
        "add a file that describes this meter"
    )


def mind_manners(link: Link, dialect: Dialect) -> None:
    """Echo, prompts and the like, where the dialect knows of them and the link carries lines."""
    if isinstance(link, LineLink) and dialect.line != LineWays():
        link.take_manners(dialect.line.manners())


class SettingUp:
    """One meter being set up by one dialect.

    `silent` holds the questions that this meter does not answer; they are asked once and not again, because
    each costs its whole time limit.
    """

    def __init__(
        self,
        dialogue: Dialogue,
        dialect: Dialect,
        setup: MeterSetup,
        deadline: float,
        silent: set[str] | None = None,
    ) -> None:
        self._silent = set() if silent is None else silent
        self._dialogue = dialogue
        self._dialect = dialect
        self._setup = setup
        self._deadline = deadline
        self._unconfirmed: list[str] = []
        self._notes: list[str] = []
        self._wanted_volts = rung(dialect, setup.range_volts, dialogue.link.address)

    def carry_out(self) -> FoundSettings:
        """Make every setting, read each back, take one reading. Raises MeterRefused, LinkError."""
        if self._dialogue.link.address.upper().startswith("ASRL"):
            for line in self._dialect.remote:
                self._tell(line)
        for line in self._dialect.start:
            self._tell(line, range_volts=self._wanted_volts)
        range_volts = self._set_range()
        integration_s = self._set_integration()
        autozero = [self._make(each) and each.doubles_reading for each in self._dialect.setting]
        self._note_errors()
        self._set_scan_list()
        reading_s = self._reading_s(integration_s, doubled=any(autozero))
        read_line = self._find_read_line(reading_s)
        return FoundSettings(
            range_volts, integration_s, reading_s, read_line, list(self._unconfirmed), list(self._notes)
        )

    def _note_errors(self) -> None:
        question = self._dialect.errors
        if not question or question in self._silent:
            return
        errors = self._dialogue.drain_errors(
            question.encode("ascii"), self._dialect.timing.answer_s, self._deadline
        )
        if errors is None:
            self._silent.add(question)
            return
        self._notes.extend(f"the meter complained while being set up: {each}" for each in errors[:3])

    def set_range(self) -> float:
        """Change the range alone. Raises as `carry_out`."""
        return self._set_range()

    # --- range ---------------------------------------------------------------------------------------

    def _set_range(self) -> float:
        ways = self._dialect.range
        index = ways.first_index
        if ways.ranges_volts:
            index += ways.ranges_volts.index(self._wanted_volts)
        for line in ways.write:
            self._tell(line, range_volts=self._wanted_volts, range_index=str(index))
        found = self._ask_number(ways.read_back, needed=ways.needed) if ways.read_back else None
        if found is None:
            if ways.needed:
                raise self._refused("the meter does not say which range it is on")
            self._unconfirmed.append("range")
            return self._wanted_volts
        if "{range_index}" in "".join(ways.write) and ways.ranges_volts:
            found = self._range_of_index(found)
        self._check_range(found)
        return found

    def _range_of_index(self, found: float) -> float:
        ranges, first = self._dialect.range.ranges_volts, self._dialect.range.first_index
        position = round(found) - first
        if not 0 <= position < len(ranges):
            raise self._refused(
                f"the meter says it is on range number {found:g}, which its description lacks"
            )
        return ranges[position]

    def _check_range(self, found: float) -> None:
        wanted = self._wanted_volts
        listed = bool(self._dialect.range.ranges_volts)
        widest = wanted * (1.02 if listed else _WIDEST_RANGE * 1.001)
        if not wanted * 0.98 <= found <= widest:
            raise self._refused(
                f"a range of {_millivolts(wanted)} was asked for and the meter is on {_millivolts(found)}; "
                "check that it can be set by remote control, or choose another range"
            )

    # --- integration ---------------------------------------------------------------------------------

    def _set_integration(self) -> float:
        ways = self._dialect.integration
        if not ways.write and not ways.read_back:
            return self._setup.integration_s
        if ways.kind == "words":
            return self._set_speed()
        per_second = self._mains_hz() if ways.kind == "nplc" else 1.0
        wanted = self._setup.integration_s * per_second
        chosen = _at_least(wanted, ways.steps)
        for line in ways.write:
            self._tell(line, nplc=chosen, integration_s=chosen)
        found = self._ask_number(ways.read_back, needed=ways.needed) if ways.read_back else None
        if found is None or found <= 0.0:
            if ways.needed:
                raise self._refused("the meter does not say how long it integrates")
            self._unconfirmed.append("integration time")
            return chosen / per_second
        if not math.isclose(found, chosen, rel_tol=0.05):
            if ways.steps or not math.isclose(found, chosen, rel_tol=0.5):
                raise self._refused(
                    f"{chosen / per_second:g} s of integration were asked for and the meter says "
                    f"{found / per_second:g} s; check that it can be set by remote control"
                )
            self._notes.append(f"the meter integrates for {found / per_second:g} s")
        return found / per_second

    def _set_speed(self) -> float:
        ways = self._dialect.integration
        speeds = sorted(ways.speeds, key=lambda speed: speed.integration_s)
        chosen = next(
            (speed for speed in speeds if speed.integration_s >= 0.98 * self._setup.integration_s), speeds[-1]
        )
        for line in ways.write:
            self._tell(line, speed=chosen.word)
        found = self._ask_word(ways.read_back, needed=ways.needed) if ways.read_back else None
        if found is None:
            if ways.needed:
                raise self._refused("the meter does not say how fast it measures")
            self._unconfirmed.append("integration time")
        elif found.upper() != chosen.word.upper():
            raise self._refused(f"speed {chosen.word} was asked for and the meter says {found}")
        return chosen.integration_s

    def _mains_hz(self) -> float:
        """The mains frequency behind the meter's power-line cycles: its own word for it, where it has one."""
        question = self._dialect.integration.line_frequency
        found = self._ask_number(question) if question else None
        if found is None or found <= 0.0:
            return self._setup.mains_hz
        if abs(found - self._setup.mains_hz) > 1.0:
            self._notes.append(
                f"the meter is set for mains of {found:g} Hz and the bench for {self._setup.mains_hz:g} Hz: "
                "hum will not cancel; set the meter's line frequency"
            )
        return found

    def _reading_s(self, integration_s: float, *, doubled: bool) -> float:
        timing = self._dialect.timing
        if "integration time" in self._unconfirmed:
            integration_s = max(integration_s, timing.unknown_reading_s)
        shortest = integration_s * (timing.autozero_factor if doubled else 1.0) + timing.transfer_s
        one_s = max(shortest, self._dialect.read.display_period_s)
        scanner = self._dialect.scanner
        settle_s = scanner.settle_s if scanner else 0.0
        return (one_s + settle_s) * len(self._setup.inputs)

    # --- other settings ------------------------------------------------------------------------------

    def _make(self, setting: Setting) -> bool:
        """Make one setting, by the first of its ways that the meter confirms; whether one was."""
        said = None
        for way in setting.way:
            for line in way.write:
                self._tell(line)
            said = self._ask_word(way.read_back, needed=setting.needed) or said
            if said is not None and _confirms(said, way.accept):
                return True
        if said is not None:
            raise self._refused(f"{setting.name} was asked for and the meter says {said!r}")
        if setting.needed:
            raise self._refused(f"the meter does not confirm {setting.name}")
        self._unconfirmed.append(setting.name)
        return False

    def _set_scan_list(self) -> None:
        """After everything else: setting a channel up erases the list on some meters."""
        scanner = self._dialect.scanner
        if scanner is None or not scanner.scan:
            return
        wanted = self._setup.inputs
        for line in scanner.scan:
            self._tell(line, channels=",".join(wanted), count=len(wanted))
        if not scanner.scan_read_back:
            self._unconfirmed.append("scan list")
            return
        said = self._ask_word(scanner.scan_read_back, needed=True)
        if said is None or channels_in(said) != wanted:
            raise self._refused(f"channels {', '.join(wanted)} were asked for and the meter says {said!r}")

    def _find_read_line(self, reading_s: float) -> str:
        """The first question that is answered with a reading."""
        form = self._dialect.reply
        fields = (
            len(self._setup.inputs) if self._dialect.scanner and self._dialect.scanner.scan else form.fields
        )
        lines = self._dialect.read.lines
        own = [each.line for each in self._dialect.input if each.line]
        if own:
            lines = (own[0],)
        limit_s = read_limit_s(self._dialect, reading_s)
        why = ""
        for line in [each for each in lines if each not in self._silent] or lines:
            question = filled(line, range_volts=self._wanted_volts)
            try:
                reply = self._dialogue.ask(question, min(self._deadline, host_seconds() + limit_s))
                parse_reply(
                    reply.raw, fields=fields, index=form.index, shape=form.shape, overload_at=form.overload_at
                )
                return line
            except (LinkTimedOut, LinkGarbled) as problem:
                why = problem.sentence
            except ReplyRefused as problem:
                why = str(problem)
                self._dialogue.link.mark_dirty()
            self._silent.add(line)
            self._dialogue.recover(min(self._deadline, host_seconds() + 2.0 * self._dialect.timing.answer_s))
        raise self._refused(f"the meter gives no reading ({why})")

    # --- talk ----------------------------------------------------------------------------------------

    def _tell(self, line: str, **values: float | str) -> None:
        self._dialogue.tell(
            filled(line, **values), min(self._deadline, host_seconds() + self._dialect.timing.answer_s)
        )

    def _ask_number(self, line: str, *, needed: bool = False) -> float | None:
        return self._asked(self._dialogue.ask_number, line, needed)

    def _ask_word(self, line: str, *, needed: bool = False) -> str | None:
        return self._asked(self._dialogue.ask_word, line, needed)

    def _asked(self, ask: Callable[[bytes, float, float], _A | None], line: str, needed: bool) -> _A | None:
        """What the meter answers; where it must answer, an answer that got lost is asked for again."""
        if line in self._silent and not needed:
            return None
        question, answer_s = line.encode("ascii"), self._dialect.timing.answer_s
        said = ask(question, answer_s, self._deadline)
        if said is None and needed:
            said = ask(question, answer_s, self._deadline)
        if said is None:
            self._silent.add(line)
        return said

    def _refused(self, sentence: str) -> MeterRefused:
        return MeterRefused(f"{self._dialogue.link.address}: {sentence}")


def read_limit_s(dialect: Dialect, reading_s: float) -> float:
    """How long to wait for a reading: three times what it takes in health, and an allowance for the rest."""
    return 3.0 * reading_s + dialect.timing.allowance_s


def rung(dialect: Dialect, range_volts: float, address: str) -> float:
    """The smallest of the meter's ranges that holds `range_volts`. Raises MeterRefused if none does."""
    ranges = dialect.range.ranges_volts
    if not ranges:
        return range_volts
    for each in ranges:
        if each >= 0.999 * range_volts:
            return each
    raise MeterRefused(
        f"{address}: a range of {_millivolts(range_volts)} was asked for; the largest this meter has is "
        f"{_millivolts(ranges[-1])}"
    )


def channels_in(said: str) -> tuple[str, ...]:
    """The channels of a list such as `(@101:103,105)`, also behind a block's header: `#213(@101:103)`."""
    inner = re.search(r"\(@([^)]*)\)", said)
    found: list[str] = []
    for part in inner[1].split(",") if inner else []:
        first, _, last = (each.strip() for each in part.partition(":"))
        if last and first.isdecimal() and last.isdecimal() and int(last) - int(first) < 1000:
            found.extend(str(number) for number in range(int(first), int(last) + 1))
        elif first:
            found.append(first)
    return tuple(found)


def _at_least(wanted: float, steps: tuple[float, ...]) -> float:
    """The smallest step that is not below the wanted value; the largest if all are."""
    if not steps:
        return wanted
    return next((step for step in steps if step >= 0.98 * wanted), steps[-1])


def _confirms(said: str, accept: tuple[str, ...]) -> bool:
    """Whether an answer is one of the accepted ones; +1 and 1.0 are as good as 1."""
    for each in accept:
        if said.upper() == each.upper():
            return True
        try:
            if float(said) == float(each):
                return True
        except ValueError:
            continue
    return False


def _millivolts(volts: float) -> str:
    return f"{volts * 1e3:g} mV" if volts < 1.0 else f"{volts:g} V"
