"""What of a session or a job goes into the archive: rows, without any database."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from app.records.archive_tables import DERIVED_VERSION
from app.records.job_folder import JOB_JOURNAL, Job
from app.records.session_folder import JOURNAL, OTHER, Session
from app.records.warm_ups import WarmUps
from procedures.events import (
    Alarm,
    ChannelReading,
    Disturbance,
    Outcome,
)
from procedures.job import SheetField, UnitName
from procedures.records.codec import Fact, writable
from procedures.records.job_sheet import JobSheet
from procedures.records.summary import SessionSummary, summarise

Row = dict[str, Any]


def key_of(words: str) -> str:
    """Words as they are compared: small letters, single spaces."""
    return writable(" ".join(words.casefold().split()))[:200]


def session_rows(session: Session, bench: str) -> dict[str, list[Row]]:
    """The rows of a session by table."""
    journal = session.journal
    header = journal.header
    facts = journal.facts
    summary = summarise(facts)
    unit = unit_of(session)
    named = journal.naming
    ended = summary.ended.reason if summary.ended else "not finished"
    outcome = summary.outcome.outcome.value if summary.outcome else ""
    said = summary.outcome.reason if summary.outcome else ended
    _, other, mark = session.folder.name.rpartition("-")[2].partition(OTHER)
    base = {"bench": bench, "session": f"{header.session}{other}{mark}"}
    spoken = [str(unit), header.unit, header.title, named.job if named else "", named.words if named else ""]
    spoken += [said, ended, *(note.text for note in summary.notes), *(word.text for word in summary.words)]
    spoken += [alarm.text for alarm in summary.alarms]
    row = base | {
        "folder": session.folder.name,
        "size": (session.folder / JOURNAL).stat().st_size,
        "started_utc": _plain(header.started_utc),
        "title": header.title,
        "maker": unit.maker,
        "model": unit.model,
        "model_key": key_of(unit.model),
        "serial": unit.serial,
        "serial_key": key_of(unit.serial),
        "unit": str(unit) or header.unit,
        "job": named.job if named else "",
        "job_key": key_of(named.job if named else ""),
        "outcome": outcome,
        "practice": header.practice,
        "closed": journal.closed,
        "rules": header.rules,
        "lasted_s": summary.lasted_s,
        "readings": summary.readings,
        "summary": said,
        "words": key_of_all(spoken),
    }
    return {
        "session": [row],
        "derived": [base | {"version": DERIVED_VERSION, "size": row["size"]}],
        "recorded": [base | one for one in _values(summary)],
        "result": [base | one for one in _results(summary)],
        "trace": [base | one for one in _traces(facts, header.setup)],
        "fault": [base | {"place": n, **one} for n, one in enumerate(_faults(facts, summary.verdicts))],
    }


def _values(summary: SessionSummary) -> list[Row]:
    return [
        {
            "place": place,
            "name": one.name,
            "channel": one.channel or "",
            "value": one.value,
            "unit": one.unit.value,
            "conditions": json.dumps(dict(one.conditions), ensure_ascii=False),
            "reason": one.reason,
        }
        for place, one in enumerate(summary.recorded)
    ]


def _results(summary: SessionSummary) -> list[Row]:
    return [
        {
            "place": place,
            "step": one.step,
            "channel": one.channel or "",
            "subject": one.subject,
            "outcome": one.outcome.value,
            "reason": one.reason,
            "value": one.value,
        }
        for place, one in enumerate(summary.verdicts)
    ]


def unit_of(session: Session) -> UnitName:
    """Maker, model and serial, from the newest name, else from what stands in the header."""
    header = session.journal.header
    named = session.journal.naming.unit if session.journal.naming else UnitName()
    amplifier = header.setup.get("amplifier")
    known = amplifier if isinstance(amplifier, Mapping) else {}
    maker, model = str(known.get("maker", "")), str(known.get("model", ""))
    stated = _serial_in(header.unit)
    if named.model and maker and named.model.startswith(f"{maker} "):
        # A name given as one line: maker and model stay what the amplifier's data say.
        rest = named.model.removeprefix(f"{maker} {model}") if model else ""
        return UnitName(maker, model, named.serial or _serial_in(named.model) or _bare(rest) or stated)
    return UnitName(
        named.maker or maker,
        named.model or model or header.unit,
        named.serial or stated,
    )


def _serial_in(words: str) -> str:
    """The serial number in a line such as "Kestrow K-40, serial 12 0417 (simulated)"; it may have spaces."""
    found = re.search(r"\bserial\s+([^,;(]+)", words)
    return " ".join(found[1].split()) if found else ""


def _bare(rest: str) -> str:
    """What stands behind maker and model, where it looks like a number and not like words."""
    told = " ".join(rest.strip(" ,").split())
    return told if any(letter.isdigit() for letter in told) else ""


def key_of_all(words: Iterable[str]) -> str:
    """Everything that free text is looked for in."""
    return writable(" ".join(" ".join(words).casefold().split()))[:20_000]


def _plain(when: datetime) -> datetime:
    """UTC without its zone: databases differ in what they do to zones."""
    return when.astimezone(UTC).replace(tzinfo=None)


def _traces(facts: Sequence[Fact], setup: Mapping[str, Any]) -> list[Row]:
    """Each channel summarised, with the way in which it warmed up."""
    readings: dict[str, list[ChannelReading]] = {}
    for fact in facts:
        if isinstance(fact, ChannelReading) and math.isfinite(fact.value):
            readings.setdefault(fact.channel, []).append(fact)
    warm_ups = WarmUps(facts, setup)
    rows = []
    for channel, told in readings.items():
        values = [one.value for one in told]
        warm_up = warm_ups.of(channel, told)
        rows.append(
            {
                "channel": channel,
                "unit": told[0].unit.value,
                "readings": len(told),
                "least": min(values),
                "most": max(values),
                "first": values[0],
                "last": values[-1],
                "settled_s": warm_up.settled_s if warm_up is not None else None,
                "drift": warm_up.drift if warm_up is not None else None,
                "warm_up": json.dumps(warm_up.points if warm_up is not None else ()),
            }
        )
    return rows


def _faults(facts: Iterable[Fact], verdicts: Iterable[Any]) -> list[Row]:
    """What went wrong, each kind of a channel once."""
    found: dict[tuple[str, str], str] = {}
    for fact in facts:
        if isinstance(fact, Alarm):
            found.setdefault((f"alarm: {fact.tier.value}", fact.channel or ""), fact.text)
        elif isinstance(fact, Disturbance):
            found.setdefault((fact.kind, fact.channel or ""), fact.text)
    for verdict in verdicts:
        if verdict.outcome is Outcome.FAILED and (verdict.channel or verdict.subject):
            about = verdict.channel or verdict.subject
            found[(f"failed: {verdict.step}", about)] = verdict.reason
    return [{"kind": kind[:120], "words": words} for (kind, _), words in found.items()]


def job_rows(job: Job, bench: str) -> dict[str, list[Row]]:
    """The rows of a job by table. Nothing of the customer's identity is among them."""
    sheet = job.sheet
    base = {"bench": bench, "job": job.id}
    reference = sheet.text(SheetField.CUSTOMER_REFERENCE)
    outcome = sheet.outcome
    row = base | {
        "folder": job.folder.name,
        "size": (job.folder / JOB_JOURNAL).stat().st_size,
        "opened_utc": _plain(job.journal.header.opened_utc),
        "number": sheet.number,
        "reference": reference,
        "reference_key": key_of(reference),
        "unit": str(sheet.unit),
        "outcome": outcome.outcome.value if outcome else "",
        "complaint": sheet.text(SheetField.COMPLAINT),
        "words": key_of_all(_said_of(sheet)),
    }
    names = ("part", "reference", "rating_asked", "rating_fitted", "quantity", "maker", "source", "batch")
    marks = ("safety_critical", "customer_supplied")
    fitted = [base | {name: getattr(part, name) for name in (*names, *marks)} for part in sheet.parts]
    return {
        "job": [row],
        "job_session": [base | {"session": one} for one in sheet.sessions],
        "part": fitted,
    }


def _said_of(sheet: JobSheet) -> list[str]:
    """All the words of a job's sheet."""
    said = list(sheet.words.values())
    if sheet.outcome is not None:
        said += [sheet.outcome.outcome.value, sheet.outcome.words]
    if sheet.complaint_tried is not None:
        said += [sheet.complaint_words, sheet.complaint_tried.words]
    for work in sheet.work:
        said += [work.step, work.reference, work.fault, work.action]
    for part in sheet.parts:
        said += [part.reference, part.rating_asked, part.rating_fitted, part.maker, part.source]
        said += [part.batch, part.matched, part.words]
    for noted in sheet.states:
        said += [noted.name, noted.channel, noted.words, noted.reason]
    for test in sheet.left_out:
        said += [test.test, test.reason]
    return [*said, *(picture.words for picture in sheet.photographs)]
