"""What only a bench can use of a record: its other values, times, notes, disturbances, photographs."""

from __future__ import annotations

from app.reports.sections import Section, conditions_words, joined, measured_words, when
from procedures.analysis.figures import duration
from procedures.report.facts import ReportFacts, SessionPart


def bench_sections(facts: ReportFacts) -> list[Section]:
    """The sections of every session in their order, then the list of photographs."""
    return [section for part in facts.sessions for section in _bench_part(part)] + _photographs(facts)


def _bench_part(part: SessionPart) -> list[Section]:
    others = tuple((one.about, one.name, measured_words(one), conditions_words(one)) for one in part.others)
    times = tuple(
        (part.titles.get(one.step, one.step), duration(one.seconds), f"{one.turns}") for one in part.times
    )
    notes = [f"{duration(note.at_s)}: {joined([note.channel or '', note.text], ': ')}" for note in part.notes]
    # A typed value stands among the values.
    told = (one for one in part.words if not one.question.endswith("/typed"))
    notes += [f"{duration(one.at_s)}: {one.text.strip()} (answer to {one.question})" for one in told]
    seen = tuple(
        f"{duration(one.at_s)}: {joined([one.channel or '', one.text], ': ')}" for one in part.disturbances
    )
    named = f"{part.title}, {when(part.started_utc)}"
    record = (
        ("Session", part.session),
        ("Recorded by", joined([part.program, f"rules version {part.rules}"])),
        ("Record", "closed, with count and digest" if part.closed else "not closed"),
        ("Damaged lines", " ".join(part.problems[:5]) or "none"),
        (
            "The forecast leaned on",
            joined(f"the visit of {day}" for day in part.remembered) or "no earlier visit",
        ),
    )
    sections = [Section(f"Bench: {named}", pairs=record)]
    if others:
        head = ("What", "Name", "Read", "Conditions")
        sections.append(Section("Bench: other values", head=head, shares=(26, 24, 20, 30), rows=others))
    if times:
        turns = ("Step", "Time", "Turns")
        sections.append(Section("Bench: time of the steps", head=turns, shares=(60, 25, 15), rows=times))
    if notes:
        sections.append(Section("Bench: notes and answers", lines=tuple(notes)))
    if seen:
        sections.append(Section("Bench: disturbances", lines=seen))
    return sections


def _photographs(facts: ReportFacts) -> list[Section]:
    pictures = facts.sheet.photographs
    if not pictures:
        return []
    lines = tuple(joined([one.state.value if one.state else "", one.file, one.words]) for one in pictures)
    return [Section("Bench: photographs", lines=lines)]
