"""From journals and a job sheet to the facts of a report.

Nothing is reckoned here but the uncertainty of a reading and its guard band, which follow from the meter's
recorded figures; everything else stands in the record.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from procedures.analysis.channel import ChannelSetup
from procedures.analysis.uncertainty import reading_budget
from procedures.analysis.window import window_of
from procedures.events import (
    ChannelReading,
    Disturbance,
    MeterChanged,
    Outcome,
    RecordedValue,
    RunEnded,
    StepChanged,
    StepState,
    Verdict,
)
from procedures.job import Customer, State, StateNoted, UnitName
from procedures.records.codec import Fact
from procedures.records.job_sheet import JobSheet, step_times
from procedures.records.journal import Journal
from procedures.records.summary import SessionSummary, summarise
from procedures.replay import setup_of
from procedures.report.facts import (
    Deed,
    Instrument,
    Judged,
    Limits,
    Looked,
    Measured,
    NotDone,
    ReportFacts,
    SessionPart,
    Target,
)
from procedures.setup import RunSetup

STATES = tuple(state.value for state in State)
_SURROUNDINGS = ("room", "ambient", "mains", "heatsink", "sink")
_BY_HAND_KINDS = frozenset({"trim", "turn-down"})


def fold_report(
    journals: Sequence[Journal],
    sheet: JobSheet | None = None,
    *,
    job: str = "",
    opened_utc: datetime | None = None,
    customer: Customer | None = None,
    troubles: Sequence[str] = (),
) -> ReportFacts:
    """Fold one visit.

    Args:
        journals: Its sessions as read, in the order in which they are to be told.
        sheet: The job as it stands; without one every line of it is blank.
        job: What the job is called.
        opened_utc: When it was opened.
        customer: Who the customer is, where that is to be printed.
        troubles: What could not be read, one sentence each.

    Raises:
        LineRefused: a session's header holds no setup that can be understood.
    """
    known = sheet or JobSheet()
    parts = tuple(_session(journal) for journal in sorted(journals, key=lambda one: one.header.started_utc))
    unit = known.unit
    if unit == UnitName():
        named = (journal.naming.unit for journal in journals if journal.naming is not None)
        unit = next((one for one in named if one != UnitName()), unit)
    job = job or known.number or next((part.job for part in parts if part.job), "")
    return ReportFacts(unit, known, job, opened_utc, customer, parts, tuple(troubles))


def states_of(facts: ReportFacts, state: State) -> tuple[Measured, ...]:
    """What was measured or seen in one of the three states: in the sessions, then as the sheet has it."""
    measured = [one for part in facts.sessions for one in part.states if one.name.startswith(state.value)]
    measured += [_noted(one) for one in facts.sheet.state(state)]
    return tuple(measured)


def _noted(noted: StateNoted) -> Measured:
    about = " ".join(filter(None, (noted.channel, noted.name)))
    return Measured(
        noted.state.value,
        about,
        noted.value,
        noted.unit,
        conditions={"typed": "yes"} if noted.value is not None else {},
        reason=noted.reason,
        words=noted.words,
    )


def _session(journal: Journal) -> SessionPart:
    setup = setup_of(journal.header)
    summary = summarise(journal.facts)
    channels = {one.channel: one for one in setup.channels}
    titles = {step.id: step.title for step in setup.procedure.step}
    naming = journal.naming
    values = [_measured(one, channels, setup) for one in _newest(summary.recorded)]
    states = tuple(one for one in values if one.name.startswith(STATES))
    around = tuple(one for one in values if _is_around(one.name) and one not in states)
    taken = {back.noted_s for back in journal.taken_back}
    ended = summary.ended
    return SessionPart(
        session=journal.header.session,
        title=journal.header.title or setup.procedure.title,
        unit=str(naming.unit) if naming is not None and str(naming.unit) else journal.header.unit,
        job=naming.job if naming is not None else "",
        started_utc=journal.header.started_utc,
        practice=journal.header.practice or setup.practice,
        program=journal.header.program,
        rules=journal.header.rules,
        finished=ended is not None and ended.finished,
        ended=ended.reason if ended is not None else "The end of the run is not in the record.",
        readings=summary.readings,
        gaps=summary.gaps,
        lasted_s=summary.lasted_s,
        on_s=summary.on_s,
        load=setup.amplifier.load if setup.amplifier is not None else "",
        remembered=setup.remembered_from,
        states=(*states, *_missing_states(states, setup)),
        others=tuple(one for one in values if one not in states and one not in around),
        judged=_judged(summary, channels, setup, titles),
        whole=_whole(summary, titles),
        looked=tuple(Looked(titles.get(one.step, one.step), one) for one in summary.inspected),
        targets=_targets(setup),
        instruments=_instruments(journal, setup),
        surroundings=(*around, *_last_around(journal.facts, channels)),
        deeds=_deeds(journal.facts, setup, titles),
        not_done=_not_done(journal.facts, summary, setup, titles),
        alarms=summary.alarms,
        disturbances=tuple(fact for fact in journal.facts if isinstance(fact, Disturbance)),
        notes=tuple(note for note in summary.notes if note.text.strip() and note.at_s not in taken),
        words=summary.words,
        times=step_times(journal.facts),
        titles=titles,
        closed=journal.closed,
        problems=tuple(journal.problems),
    )


# --- values -------------------------------------------------------------------------------------------


def _newest(recorded: Iterable[RecordedValue]) -> list[RecordedValue]:
    """The newest word under each name, in the order in which the names came up."""
    newest: dict[tuple[str, str | None], RecordedValue] = {}
    for one in recorded:
        newest[(one.name, one.channel)] = one
    return list(newest.values())


def _measured(one: RecordedValue, channels: Mapping[str, ChannelSetup], setup: RunSetup) -> Measured:
    channel = channels.get(one.channel) if one.channel is not None else None
    limits = limits_at(channel, setup, one.value) if channel is not None else Limits()
    about = one.channel or one.name
    return Measured(one.name, about, one.value, one.unit, limits, dict(one.conditions), one.reason)


def limits_at(channel: ChannelSetup, setup: RunSetup, value: float | None) -> Limits:
    """The window of a channel with its guard band, and U of a reading of this value."""
    window = window_of(channel, setup.settings.rule)
    guarded = window is not None and window.guard > 0.0
    expanded = k = None
    if channel.accuracy is not None and value is not None:
        budget = reading_budget(value, channel.accuracy, unit=channel.unit)
        if budget.expanded > 0.0:
            expanded, k = budget.expanded, budget.k
    return Limits(
        channel.low_volts,
        channel.high_volts,
        window.accept_low if window is not None and guarded else None,
        window.accept_high if window is not None and guarded else None,
        expanded,
        k,
    )


def _missing_states(states: Sequence[Measured], setup: RunSetup) -> tuple[Measured, ...]:
    """A row without a value for each channel with a target and each state in which nobody measured it."""
    goals = [one for one in setup.channels if one.target_volts is not None]
    return tuple(
        Measured(state, one.channel, None, one.unit, limits_at(one, setup, None))
        for state in STATES
        for one in goals
        if not any((had.name, had.about) == (state, one.channel) for had in states)
    )


def _is_around(name: str) -> bool:
    return name.split()[:1] in [[word] for word in _SURROUNDINGS]


def _last_around(facts: Sequence[Fact], channels: Mapping[str, ChannelSetup]) -> tuple[Measured, ...]:
    """The last reading of each channel that watches the surroundings of the work."""
    last: dict[str, ChannelReading] = {}
    for fact in facts:
        if isinstance(fact, ChannelReading) and _is_around(fact.channel):
            last[fact.channel] = fact
    typed = {name: "yes" for name, one in channels.items() if one.typed}
    return tuple(
        Measured(
            f"{name}, last reading",
            name,
            one.value,
            one.unit,
            conditions={"typed": "yes"} if name in typed else {},
        )
        for name, one in last.items()
    )


# --- verdicts -----------------------------------------------------------------------------------------


def _judged(
    summary: SessionSummary,
    channels: Mapping[str, ChannelSetup],
    setup: RunSetup,
    titles: Mapping[str, str],
) -> tuple[Judged, ...]:
    newest: dict[tuple[str, str | None, str], Verdict] = {}
    for verdict in summary.verdicts:
        if verdict.channel is not None or verdict.subject:
            newest[(verdict.step, verdict.channel, verdict.subject)] = verdict
    return tuple(_one_judged(verdict, summary, channels, setup, titles) for verdict in newest.values())


def _one_judged(
    verdict: Verdict,
    summary: SessionSummary,
    channels: Mapping[str, ChannelSetup],
    setup: RunSetup,
    titles: Mapping[str, str],
) -> Judged:
    channel = channels.get(verdict.channel) if verdict.channel is not None else None
    kept = next(
        (
            one
            for one in reversed(summary.recorded)
            if one.at_s == verdict.at_s
            and one.value == verdict.value
            and (one.channel == verdict.channel if verdict.channel else one.name == verdict.subject)
        ),
        None,
    )
    unit = kept.unit if kept is not None else (channel.unit if channel is not None else None)
    own = channel is not None and (kept is None or kept.unit is channel.unit)
    if channel is not None and own:
        limits = limits_at(channel, setup, verdict.value)
    else:
        limits = Limits(expanded=_stated(kept.conditions) if kept is not None else None)
    return Judged(
        part=titles.get(verdict.step.partition("--")[0], "") if "--" in verdict.step else "",
        step=titles.get(verdict.step, verdict.step),
        about=", ".join(filter(None, (verdict.channel, verdict.subject))),
        outcome=verdict.outcome,
        reason=verdict.reason,
        value=verdict.value,
        unit=unit,
        limits=limits,
        typed=kept is not None and kept.conditions.get("typed") == "yes",
        state=kept.name if kept is not None else "",
    )


def _stated(conditions: Mapping[str, str]) -> float | None:
    """The uncertainty that a measurement stated with its figure, in its unit; None where it stated none."""
    try:
        return float(conditions["uncertainty"]) or None
    except (KeyError, ValueError):
        return None


def _whole(summary: SessionSummary, titles: Mapping[str, str]) -> Judged | None:
    verdict = summary.outcome
    if verdict is None:
        return None
    return Judged("", titles.get(verdict.step, verdict.step), "", verdict.outcome, verdict.reason)


# --- around the values --------------------------------------------------------------------------------


def _targets(setup: RunSetup) -> tuple[Target, ...]:
    targets = []
    for one in setup.channels:
        if one.target_volts is None and one.low_volts is None and one.high_volts is None:
            continue
        said = setup.amplifier.channel_named(one.channel) if setup.amplifier is not None else None
        targets.append(
            Target(
                channel=one.channel,
                unit=one.unit,
                target=one.target_volts,
                low=one.low_volts,
                high=one.high_volts,
                condition=one.condition,
                test_point=said.test_point.value if said is not None and said.test_point else "",
                resistance_ohm=one.resistance_ohm,
                pairs=one.pairs,
                source=said.source if said is not None else "",
                chosen_by=said.chosen_by if said is not None else "",
                reason=said.reason if said is not None else "",
                rule=setup.settings.rule,
            )
        )
    return tuple(targets)


def _instruments(journal: Journal, setup: RunSetup) -> tuple[Instrument, ...]:
    identities: dict[str, str] = {}
    for fact in journal.facts:
        if isinstance(fact, MeterChanged):
            identities[fact.meter] = fact.identity or identities.get(fact.meter, "")
    for lead in setup.leads:
        identities.setdefault(lead.meter, "")
    channels = {one.channel: one for one in setup.channels}
    found = []
    for meter, identity in identities.items():
        reads = tuple(
            lead.channel for lead in setup.leads if lead.meter == meter and lead.channel is not None
        )
        figures = (channels[name].accuracy for name in reads if name in channels)
        accuracy = next((one for one in figures if one is not None), None)
        found.append(Instrument(meter, identity, reads, accuracy, journal.header.meters.get(meter, "")))
    typed = tuple(one for one in setup.channels if one.typed)
    if typed:
        accuracy = next((one.accuracy for one in typed if one.accuracy is not None), None)
        names = tuple(one.channel for one in typed)
        found.append(Instrument("display read by a person", "", names, accuracy, by_hand=True))
    return tuple(found)


def _ends(facts: Iterable[Fact]) -> dict[str, StepChanged]:
    """How each step ended last."""
    ended = (StepState.DONE, StepState.SKIPPED, StepState.STOPPED)
    return {fact.step: fact for fact in facts if isinstance(fact, StepChanged) and fact.state in ended}


def _deeds(facts: Sequence[Fact], setup: RunSetup, titles: Mapping[str, str]) -> tuple[Deed, ...]:
    done = []
    for fact in facts:
        if isinstance(fact, StepChanged) and fact.state is StepState.DONE:
            line = setup.procedure.step_named(fact.step)
            if line is not None and line.kind in _BY_HAND_KINDS:
                done.append(Deed(titles.get(fact.step, fact.step), fact.reason))
    return tuple(done)


def _not_done(
    facts: Sequence[Fact], summary: SessionSummary, setup: RunSetup, titles: Mapping[str, str]
) -> tuple[NotDone, ...]:
    """Verdicts and values that nobody measured, parts passed over, and what a stopped run never came to."""
    left: dict[str, str] = {}
    for verdict in summary.verdicts:
        if verdict.outcome is Outcome.NOT_MEASURED and (verdict.channel or verdict.subject):
            left[f"{titles.get(verdict.step, verdict.step)}: {verdict.channel or verdict.subject}"] = (
                verdict.reason
            )
    for one in _newest(summary.recorded):
        if one.value is None:
            left.setdefault(": ".join(filter(None, (one.channel, one.name))), one.reason)
    ends = _ends(facts)
    for step, end in ends.items():
        if step.endswith("--passed-over") and end.state is StepState.DONE:
            part = step.partition("--")[0]
            left[titles.get(part, part)] = "passed over"
    ended = next((fact for fact in reversed(facts) if isinstance(fact, RunEnded)), None)
    if ended is None or not ended.finished:
        for line in setup.procedure.step:
            reached = ends.get(line.id)
            if reached is None or reached.state is StepState.STOPPED:
                left.setdefault(line.title, "the run ended before it was carried out")
    return tuple(NotDone(what, reason) for what, reason in left.items())
