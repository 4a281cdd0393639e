"""The measurement sheet: the bias result alone, on one page."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from app.reports.measured_sections import (
    instruments_section,
    states_section,
    surroundings_section,
    targets_section,
    trace_sections,
)
from app.reports.sections import NOT_NOTED, Section, noted, when
from app.settings import Settings
from procedures.report.facts import ReportFacts, SessionPart

TITLE = "Measurement sheet"


def measurement_sheet(facts: ReportFacts, settings: Settings, *, printed: datetime) -> list[Section]:
    """The sections of the sheet. Of several sessions the newest that was to set or read a target counts."""
    told = _bias_alone(facts)
    part = told.sessions[0] if told.sessions else None
    verdict = NOT_NOTED if part is None else _verdict(part)
    began = None if part is None else part.started_utc
    head = (
        ("Unit", noted(facts.unit_name)),
        ("Job", noted(facts.job)),
        ("Session", when(began)),
        ("Result", verdict),
        ("Sheet made", when(printed)),
    )
    traces = trace_sections(told)
    return [
        Section("Bias", pairs=head),
        states_section(told),
        targets_section(told),
        *traces[:1],
        surroundings_section(told),
        instruments_section(told, settings),
        Section("", signatures=("Technician, date",)),
    ]


def _verdict(part: SessionPart) -> str:
    """The newest word on each channel that has a target; on the whole where none was judged."""
    goals = {one.channel for one in part.targets if one.target is not None}
    newest = {one.about: one for one in part.judged if one.about in goals}
    if newest:
        return "; ".join(f"{about}: {one.outcome.value} ({one.reason})" for about, one in newest.items())
    return part.ended if part.whole is None else f"{part.whole.outcome.value}. {part.whole.reason}"


def _bias_alone(facts: ReportFacts) -> ReportFacts:
    """The facts of one session, of the channels that have a target; without them of all channels."""
    judged = [part for part in facts.sessions if any(one.target is not None for one in part.targets)]
    if not judged:
        return replace(facts, sessions=facts.sessions[-1:])
    with_values = [part for part in judged if any(one.value is not None for one in part.states)]
    part = (with_values or judged)[-1]
    return replace(facts, sessions=(_of_targets(part),), sheet=replace(facts.sheet, states=()))


def _of_targets(part: SessionPart) -> SessionPart:
    goals = {one.channel for one in part.targets if one.target is not None}
    return replace(
        part,
        targets=tuple(one for one in part.targets if one.channel in goals),
        states=tuple(one for one in part.states if one.about in goals),
    )
