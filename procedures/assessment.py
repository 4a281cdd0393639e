"""How a practice session went, folded from its journal: what was done, against what would have done.

Facts in plain words, for the person who practised: no marks and no praise. It needs what a journal of
practice holds beside the facts (`records.practised`); where that is missing, it says so. Not here: judging a
real job, whose truth nobody knows.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from procedures.analysis.channel import ChannelSetup
from procedures.analysis.figures import side
from procedures.defects import DEFECT_WORDS, MOVES_BY_ITSELF, NO_TRIMMER_MENDS, SHOWN_BY
from procedures.events import (
    Advice,
    Alarm,
    AlarmCleared,
    Answer,
    ChannelReading,
    Disturbance,
    RecordedValue,
    RunEnded,
    StepChanged,
    StepState,
    Supply,
    SupplyChanged,
    Tier,
)
from procedures.records.codec import Fact
from procedures.records.journal import Journal
from procedures.records.practised import Diagnosis, HandMoved, UnitDefect, UnitTruth
from procedures.setup import RunSetup

SAME_VISIT_S = 60.0
FOLLOWS_S = 5.0  # how long after the last turn a reading still belongs to it
FELL_TO = 0.9  # of the reading at the alarm
_BIAS_TIERS = (Tier.LOOK, Tier.ACT, Tier.OFF)
_CUTS_SHORT = frozenset({"go on", "take"})
_SWAPS = frozenset({"trimmers change places", "test points change places"})


@dataclass(frozen=True, slots=True)
class Visit:
    """One visit to a trimmer: turns with no more than a minute between them, and no other trimmer between.

    `past_volts` is how far beyond the window the reading went that was to be set; zero when it did not.
    """

    from_s: float
    until_s: float
    channel: str
    past_volts: float = 0.0


@dataclass(frozen=True, slots=True)
class Heeded:
    """An alarm, and how long it stood before the current fell or the mains went off; None: neither."""

    alarm: Alarm
    stood_s: float | None


@dataclass(frozen=True, slots=True)
class Cut:
    """A wait that a person did not wait out. `left_s` is what was left of it; None: it had no stated end."""

    step: str
    left_s: float | None


@dataclass(frozen=True, slots=True)
class Seen:
    """A peculiarity of the unit: whether the screen told of it, and when, and whether the person named it."""

    defect: UnitDefect
    told_s: float | None
    named: bool


@dataclass(frozen=True, slots=True)
class Left:
    """A channel as it was left: what it read last, and where it would rest by the simulated truth, in volts.

    `stays` is None without a window or without a truth.
    """

    channel: str
    read_volts: float | None
    rests_volts: float | None
    stays: bool | None
    moved_by: str = ""


@dataclass(frozen=True, slots=True)
class Assessment:
    """See the module. `fewest` is None where the journal holds no truth; `done_s` counts from power-on."""

    visits: tuple[Visit, ...] = ()
    fewest: int | None = None
    done_s: float | None = None
    finished: bool = False
    cuts: tuple[Cut, ...] = ()
    alarms: tuple[Heeded, ...] = ()
    seen: tuple[Seen, ...] = ()
    wrongly_named: tuple[str, ...] = ()
    anything_named: bool = False
    left: tuple[Left, ...] = ()
    fastest: float = 1.0
    hands_kept: bool = True

    @property
    def overshoots(self) -> tuple[Visit, ...]:
        """The visits in which the reading went beyond the window."""
        return tuple(visit for visit in self.visits if visit.past_volts > 0.0)


def assess(setup: RunSetup, journal: Journal, truth: UnitTruth | None = None) -> Assessment:
    """Fold a session. `truth` replaces the one of the journal, while the session has not been closed.

    Raises:
        ValueError: the session was not practice, so that there is no truth to compare it with.
    """
    if not journal.header.practice:
        raise ValueError("this session was not practice: nobody knows the truth about a real amplifier")
    facts = journal.facts
    moves = sorted((m for m in journal.practised if isinstance(m, HandMoved)), key=lambda m: m.at_s)
    if truth is None:
        truth = next((t for t in reversed(journal.practised) if isinstance(t, UnitTruth)), None)
    named = next((d for d in reversed(journal.practised) if isinstance(d, Diagnosis)), None)
    readings = _readings(facts)
    ended = next((fact for fact in reversed(facts) if isinstance(fact, RunEnded)), None)
    defects = truth.defects if truth is not None else ()
    return Assessment(
        visits=_with_overshoot(_visits(moves), setup, facts, readings, defects),
        fewest=_fewest(setup, truth),
        done_s=_done_s(facts, ended),
        finished=ended is not None and ended.finished,
        cuts=_cuts(setup, facts),
        alarms=_heeded(facts, readings),
        seen=tuple(_seen(defect, facts, named) for defect in defects),
        wrongly_named=_wrongly_named(defects, named),
        anything_named=named is not None,
        left=tuple(_left(one, facts, readings, truth) for one in setup.channels if one.target_volts),
        fastest=max((m.amount for m in moves if m.deed == "speed"), default=1.0),
        hands_kept=bool(moves),
    )


# --- turning ------------------------------------------------------------------------------------------


def _visits(moves: Sequence[HandMoved]) -> tuple[Visit, ...]:
    visits: list[Visit] = []
    for move in moves:
        if move.deed != "turn" or move.amount == 0.0:
            continue
        last = visits[-1] if visits else None
        if last is not None and last.channel == move.subject and move.at_s - last.until_s <= SAME_VISIT_S:
            visits[-1] = Visit(last.from_s, move.at_s, last.channel)
        else:
            visits.append(Visit(move.at_s, move.at_s, move.subject))
    return tuple(visits)


def _with_overshoot(
    visits: Sequence[Visit],
    setup: RunSetup,
    facts: Sequence[Fact],
    readings: Mapping[str, list[tuple[float, float]]],
    defects: Sequence[UnitDefect],
) -> tuple[Visit, ...]:
    channels = {one.channel: one for one in setup.channels}
    swapped = any(defect.kind in _SWAPS for defect in defects)
    found: list[Visit] = []
    for number, visit in enumerate(visits):
        name = _other_side(visit.channel, channels) if swapped else visit.channel
        limits = _limits(channels.get(name), name, visit, facts)
        if limits is None or _kind_at(setup, facts, visit.from_s) == "turn-down":
            found.append(visit)
            continue
        until_s = visit.until_s + FOLLOWS_S
        if number + 1 < len(visits):
            until_s = min(until_s, visits[number + 1].from_s)
        past = _past(readings.get(name, []), visit.from_s, until_s, limits)
        found.append(Visit(visit.from_s, visit.until_s, visit.channel, past))
    return tuple(found)


def _other_side(channel: str, channels: Mapping[str, ChannelSetup]) -> str:
    kind = channel.rpartition(" ")[2]
    return next((name for name in channels if name != channel and name.endswith(kind)), channel)


def _limits(
    setup: ChannelSetup | None, name: str, visit: Visit, facts: Sequence[Fact]
) -> tuple[float, float] | None:
    """The window around what the meter was to show: the advice moves it where the reading still drifts."""
    if setup is None or None in (setup.target_volts, setup.low_volts, setup.high_volts):
        return None
    assert setup.target_volts is not None
    assert setup.low_volts is not None
    assert setup.high_volts is not None
    shown = [
        fact.show_volts
        for fact in facts
        if isinstance(fact, Advice)
        and fact.channel == name
        and fact.show_volts is not None
        and visit.from_s - SAME_VISIT_S <= fact.at_s <= visit.until_s
    ]
    moved = shown[-1] - setup.target_volts if shown else 0.0
    return setup.low_volts + moved, setup.high_volts + moved


def _past(
    course: Sequence[tuple[float, float]], from_s: float, until_s: float, limits: tuple[float, float]
) -> float:
    """How far the reading went beyond the far side of the window, on two readings in a row."""
    first = bisect_left(course, (from_s, -math.inf))
    if first == 0:
        return 0.0
    start = course[first - 1][1]
    values = [value for at_s, value in course[first:] if at_s <= until_s]
    pairs = list(pairwise(values))
    low, high = limits
    above = max((min(pair) for pair in pairs), default=-math.inf) - high
    below = low - min((max(pair) for pair in pairs), default=math.inf)
    if start < low:
        return max(0.0, above)
    return max(0.0, below) if start > high else max(0.0, above, below)


def _kind_at(setup: RunSetup, facts: Sequence[Fact], at_s: float) -> str:
    step = next(
        (
            fact.step
            for fact in reversed(facts)
            if isinstance(fact, StepChanged) and fact.state is StepState.ACTIVE and fact.at_s <= at_s
        ),
        "",
    )
    return _kind(setup, step)


def _kind(setup: RunSetup, step: str) -> str:
    line = setup.procedure.step_named(step)
    return line.kind if line is not None else ""


def _fewest(setup: RunSetup, truth: UnitTruth | None) -> int | None:
    """One visit for each channel that would have rested outside its window and can be set."""
    if truth is None:
        return None
    mended = 0
    for one in setup.channels:
        found = truth.found.get(one.channel)
        hopeless = any(
            defect.kind in NO_TRIMMER_MENDS and defect.channel in ("", side(one.channel))
            for defect in truth.defects
        )
        if found is not None and not hopeless and _inside(one, found) is False:
            mended += 1
    return mended


def _inside(setup: ChannelSetup, volts: float) -> bool | None:
    if setup.low_volts is None or setup.high_volts is None:
        return None
    return setup.low_volts <= volts <= setup.high_volts


# --- time and alarms ----------------------------------------------------------------------------------


def _readings(facts: Sequence[Fact]) -> dict[str, list[tuple[float, float]]]:
    readings: dict[str, list[tuple[float, float]]] = {}
    for fact in facts:
        if isinstance(fact, ChannelReading):
            readings.setdefault(fact.channel, []).append((fact.at_s, fact.value))
    for course in readings.values():
        course.sort()
    return readings


def _done_s(facts: Sequence[Fact], ended: RunEnded | None) -> float | None:
    on = (f.at_s for f in facts if isinstance(f, SupplyChanged) and f.supply is not Supply.OFF)
    on_s = next(on, None)
    return None if ended is None or on_s is None else ended.at_s - on_s


def _cuts(setup: RunSetup, facts: Sequence[Fact]) -> tuple[Cut, ...]:
    begun: dict[str, float] = {}
    cuts: list[Cut] = []
    for fact in facts:
        if isinstance(fact, StepChanged) and fact.state is StepState.ACTIVE:
            begun[fact.step] = fact.at_s
        elif isinstance(fact, Answer) and fact.choice in _CUTS_SHORT:
            step = fact.question.partition("/")[0]
            line = setup.procedure.step_named(step)
            if line is None:
                continue
            minutes = getattr(line, "minutes", None)
            left_s = None if minutes is None else begun.get(step, fact.at_s) + minutes * 60.0 - fact.at_s
            cuts.append(Cut(line.title, left_s))
    return tuple(cuts)


def _heeded(facts: Sequence[Fact], readings: Mapping[str, list[tuple[float, float]]]) -> tuple[Heeded, ...]:
    raised: dict[str, list[Alarm]] = {}
    for fact in facts:
        if isinstance(fact, Alarm) and fact.tier in _BIAS_TIERS:
            raised.setdefault(fact.id, []).append(fact)
    return tuple(Heeded(alarms[-1], _stood_s(alarms[0], facts, readings)) for alarms in raised.values())


def _stood_s(
    alarm: Alarm, facts: Sequence[Fact], readings: Mapping[str, list[tuple[float, float]]]
) -> float | None:
    """From the first word of an alarm until the current fell, it cleared, or the mains was said to be off."""
    ends = [
        fact.at_s
        for fact in facts
        if fact.at_s >= alarm.at_s
        and (
            (isinstance(fact, SupplyChanged) and fact.supply is Supply.OFF)
            or (isinstance(fact, AlarmCleared) and fact.id == alarm.id)
        )
    ]
    course = readings.get(alarm.channel or "", [])
    first = bisect_left(course, (alarm.at_s, -math.inf))
    if 0 < first <= len(course):
        fell = FELL_TO * course[first - 1][1]
        ends += [at_s for at_s, value in course[first:] if value < fell][:1]
    return min(ends) - alarm.at_s if ends else None


# --- what was the matter, and what was left -----------------------------------------------------------


def _seen(defect: UnitDefect, facts: Sequence[Fact], named: Diagnosis | None) -> Seen:
    shown = SHOWN_BY.get(defect.kind, frozenset())
    times = [fact.at_s for fact in facts if _names(fact) & shown]
    by_person = named is not None and any(_alike(kind, defect.kind) for kind in named.kinds)
    return Seen(defect, min(times, default=None), by_person)


def _names(fact: Fact) -> frozenset[str]:
    """The words under which the screen tells of something peculiar."""
    match fact:
        case Disturbance() | Advice():
            return frozenset({fact.kind})
        case Alarm():
            return frozenset({f"alarm {fact.tier.value}"})
        case _:
            return frozenset()


def _alike(one: str, other: str) -> bool:
    """From outside nobody can tell changed trimmers from changed test points."""
    return one == other or {one, other} <= _SWAPS


def _wrongly_named(defects: Sequence[UnitDefect], named: Diagnosis | None) -> tuple[str, ...]:
    kinds = named.kinds if named is not None else ()
    return tuple(
        kind for kind in kinds if kind in DEFECT_WORDS and not any(_alike(kind, d.kind) for d in defects)
    )


def _left(
    setup: ChannelSetup,
    facts: Sequence[Fact],
    readings: Mapping[str, list[tuple[float, float]]],
    truth: UnitTruth | None,
) -> Left:
    channel = setup.channel
    rests = truth.left.get(channel) if truth is not None else None
    moved_by = next(
        (
            defect.kind
            for defect in (truth.defects if truth is not None else ())
            if defect.kind in MOVES_BY_ITSELF and defect.channel in ("", side(channel))
        ),
        "",
    )
    known = truth is not None and channel in truth.left
    stays = (rests is not None and _inside(setup, rests)) if known else None
    return Left(channel, _read_last(channel, facts, readings), rests, stays, moved_by)


def _read_last(
    channel: str, facts: Sequence[Fact], readings: Mapping[str, list[tuple[float, float]]]
) -> float | None:
    """As recorded under `as left`, else the last reading under power."""
    for fact in reversed(facts):
        if isinstance(fact, RecordedValue) and (fact.name, fact.channel) == ("as left", channel):
            return fact.value
    changes = [fact for fact in facts if isinstance(fact, SupplyChanged)]
    off_s = changes[-1].at_s if changes and changes[-1].supply is Supply.OFF else math.inf
    powered = [value for at_s, value in readings.get(channel, []) if at_s < off_s]
    return powered[-1] if powered else None
