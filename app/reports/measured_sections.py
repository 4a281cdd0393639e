"""The measured part of a report: states, verdicts, trace, conditions, targets, instruments.

Every number is one of `ReportFacts`, put into words. Which report has which of them is decided elsewhere.
"""

from __future__ import annotations

from collections.abc import Mapping

from app.reports.sections import (
    NOT_MEASURED,
    NOT_NOTED,
    TYPED,
    Section,
    conditions_words,
    joined,
    limits_words,
    measured_words,
    noted,
    uncertainty_words,
    value_words,
    when,
    window_words,
)
from app.settings import Settings
from drivers.reading import Unit
from procedures.amplifier import Condition, ConditionKind
from procedures.analysis.figures import duration
from procedures.events import Outcome
from procedures.job import State
from procedures.report.facts import Instrument, Judged, Measured, ReportFacts, Target
from procedures.report.folding import states_of


def states_section(facts: ReportFacts) -> Section:
    """As received, as found, as left: what was read, its window, what it may be wrong by, and when."""
    rows: list[tuple[str, ...]] = []
    for state in State:
        measured = states_of(facts, state)
        rows += [_state_row(one) for one in measured]
        if not measured:
            rows.append((state.value, "bias", NOT_MEASURED, "no limits given", "not known", NOT_NOTED))
    return Section(
        "As received, as found, as left",
        head=("State", "What", "Read", "Window", "Uncertainty", "Conditions"),
        shares=(11, 12, 19, 22, 15, 21),
        rows=tuple(rows),
    )


def _state_row(one: Measured) -> tuple[str, ...]:
    known = one.value is not None
    return (
        one.name,
        one.about,
        measured_words(one),
        limits_words(one.limits, one.unit) if known else "–",
        uncertainty_words(one.limits, one.unit) if known else "–",
        conditions_words(one) if known else "–",
    )


def verification_section(facts: ReportFacts) -> Section:
    """Every verdict on what was left, with its value, limits, reason and uncertainty.

    What the unit came in with is among the findings; here it would read as if the work had failed.
    """
    came_with = (State.AS_RECEIVED.value, State.AS_FOUND.value)
    rows: list[tuple[str, ...]] = []
    for part in facts.sessions:
        rows += [_judged_row(one) for one in part.judged if not one.state.startswith(came_with)]
    if not rows:
        return Section("Verification", lines=(f"Verification: {NOT_MEASURED}",))
    return Section(
        "Verification",
        head=("What", "Read", "Verdict", "Limits, and the reason", "Uncertainty"),
        shares=(26, 14, 12, 34, 14),
        rows=tuple(rows),
    )


def _judged_row(one: Judged) -> tuple[str, ...]:
    read = "–" if one.value is None else value_words(one.value, one.unit)
    if one.outcome is Outcome.NOT_MEASURED:
        read = NOT_MEASURED
    reason = one.reason.removeprefix(f"{one.about}: ")
    has_window = one.limits.low is not None or one.limits.high is not None
    limits = limits_words(one.limits, one.unit) if has_window else ""
    if limits:
        # The reason names the window too.
        limits = limits.removeprefix(window_words(one.limits.low, one.limits.high, one.unit)).strip("; ")
        limits = limits[:1].upper() + limits[1:]
    return (
        joined([one.about or one.step, f"({one.step})" if one.about and one.step != one.about else ""], " "),
        read + (f" ({TYPED})" if one.typed else ""),
        one.outcome.value,
        joined([reason, limits], ". "),
        uncertainty_words(one.limits, one.unit) if one.value is not None else "–",
    )


def trace_sections(facts: ReportFacts) -> list[Section]:
    """One trace with its window for each session that has readings."""
    return [
        Section(
            f"Trace: {part.title}, {when(part.started_utc)}",
            picture=part.session,
            lines=(
                f"{part.readings} readings, {part.gaps} gaps, in {duration(part.lasted_s)}; the unit was "
                f"declared on for {duration(part.on_s)}. The dashed band is the window.",
            ),
        )
        for part in facts.sessions
        if part.readings
    ] or [Section("Trace", lines=(f"Trace of the warm-up: {NOT_MEASURED}",))]


def surroundings_section(facts: ReportFacts) -> Section:
    """Mains, ambient, lid, load, time from power-on at the last word."""
    measured = [one for part in facts.sessions for one in part.surroundings]
    left = [one for one in states_of(facts, State.AS_LEFT) if one.value is not None]
    on_sheet = [one for state in State for one in states_of(facts, state)]
    loads = dict.fromkeys(part.load for part in facts.sessions if part.load.strip())
    pairs = []
    for title, words in (("Mains", ("mains",)), ("Ambient", ("room", "ambient"))):
        found = [f"{one.name}: {measured_words(one)}" for one in measured if one.name.startswith(words)]
        found += [f"{one.name}: {measured_words(one)}" for one in on_sheet if one.about.startswith(words)]
        pairs.append((title, "; ".join(found) or NOT_MEASURED))
    pairs += [(one.name.capitalize(), measured_words(one)) for one in measured if "sink" in one.name]
    lids = dict.fromkeys(f"{one.about}: lid {one.conditions.get('lid', NOT_NOTED)}" for one in left)
    pairs.append(("Lid, as left", "; ".join(lids) or NOT_MEASURED))
    pairs.append(("Load at the output", ", ".join(loads) or NOT_NOTED))
    pairs.append(("As left, read", "; ".join(dict.fromkeys(map(conditions_words, left))) or NOT_MEASURED))
    return Section("Conditions", pairs=tuple(pairs))


def targets_section(facts: ReportFacts) -> Section:
    """What each channel was to read, under which condition, on whose word."""
    targets = dict.fromkeys(target for part in facts.sessions for target in part.targets)
    if not targets:
        return Section("Target", lines=("Target and its source: not noted",))
    return Section(
        "Target",
        head=("Channel", "Target and window", "Condition", "Between which points", "Source, chosen by"),
        shares=(12, 24, 20, 20, 24),
        rows=tuple(_target_row(target) for target in targets),
    )


def _target_row(one: Target) -> tuple[str, ...]:
    window = window_words(one.low, one.high, one.unit)
    goal = "limits only" if one.target is None else value_words(one.target, one.unit)
    points = [one.test_point]
    if one.resistance_ohm is not None:
        points.append(f"{one.resistance_ohm:g} Ω between the probes")
    if one.pairs > 1:
        points.append(f"{one.pairs} pairs")
    chosen = f"chosen by {one.chosen_by}" if one.chosen_by.strip() else "who chose it: not noted"
    condition = _condition(one.condition) if one.target is not None else "always"
    return (
        one.channel,
        f"{goal}; {window}; rule: {one.rule.value}",
        condition,
        noted(joined(points)),
        joined([noted(one.source), chosen, one.reason], "; "),
    )


def _condition(condition: Condition) -> str:
    match condition.kind:
        case ConditionKind.AT_TIME if condition.time_s is not None:
            return f"{duration(condition.time_s)} after power-on"
        case ConditionKind.BELOW_SINK if condition.sink_degrees_c is not None:
            return f"heatsink below {condition.sink_degrees_c:g} °C"
        case ConditionKind.AT_REST:
            return f"at rest, after {duration(condition.warm_up_s)} at the least"
        case kind:
            return kind.value


def instruments_section(facts: ReportFacts, settings: Settings) -> Section:
    """The instruments, with identity, figures, and calibration due as the workshop's settings have it."""
    instruments = dict.fromkeys(_Hashed(one) for part in facts.sessions for one in part.instruments)
    if not instruments:
        return Section("Instruments", lines=(f"Instruments: {NOT_NOTED}",))
    units = {target.channel: target.unit for part in facts.sessions for target in part.targets}
    return Section(
        "Instruments",
        head=("Instrument", "Identity", "Read", "Figures", "Calibration due"),
        shares=(16, 24, 16, 24, 20),
        rows=tuple(_instrument_row(one.instrument, settings, units) for one in instruments),
    )


class _Hashed:
    """An instrument by what it is, so that one that served in several sessions is listed once."""

    def __init__(self, instrument: Instrument) -> None:
        self.instrument = instrument

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Hashed) and self.instrument == other.instrument

    def __hash__(self) -> int:
        return hash((self.instrument.name, self.instrument.identity))


def _instrument_row(one: Instrument, settings: Settings, units: Mapping[str, Unit]) -> tuple[str, ...]:
    due = settings.calibration_of(one.identity) if one.identity else None
    figures = NOT_NOTED
    if one.accuracy is not None:
        a = one.accuracy
        figures = f"{a.of_reading * 100:g} % of reading"
        unit = next((f" {known}" for known in map(units.get, one.channels) if known is not None), "")
        figures += f", {a.of_range * 100:g} % of the range of {a.range_value:g}{unit}" if a.of_range else ""
        figures += f", {a.counts:g} counts" if a.counts else ""
        figures += f"; {a.declared_by}" if a.declared_by.strip() else ""
    words = NOT_NOTED if due is None else joined([due.due.isoformat(), due.certificate])
    name = f"{one.name} (values {TYPED})" if one.by_hand else one.name
    # `*IDN?` is answered with commas alone, which no line can be broken at.
    identity = one.identity.replace(",", ", ")
    return name, noted(identity), ", ".join(one.channels) or NOT_NOTED, figures, words
