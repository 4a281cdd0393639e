"""An invented repair visit for the pictures: unit, customer, parts and findings are nobody's."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from app.records.job_folder import change_customer, file_session, jobs_root, list_jobs, open_new_job
from app.records.session_folder import list_sessions
from drivers.reading import Unit
from procedures.job import (
    ComplaintTried,
    Concluded,
    Filled,
    JobFact,
    JobOutcome,
    PartFitted,
    Reproduced,
    SheetField,
    State,
    StateNoted,
    Worked,
)

_DAY = datetime(2026, 1, 7, 9, 0, tzinfo=UTC)
_LINES = {
    SheetField.NUMBER: "117",
    SheetField.CUSTOMER_REFERENCE: "R-22",
    SheetField.DATE_IN: "2026-01-05",
    SheetField.MAKER: "Kestrow",
    SheetField.MODEL: "K-40",
    SheetField.SERIAL: "K40-01127",
    SheetField.COMPLAINT: "The left channel drops out when it is quiet, and comes back when I turn it up.",
    SheetField.COMPLAINT_WHEN: "cold, at low volume",
    SheetField.DIAGNOSIS: "Contact of the protection relay, left: 180 mV at 1 A, unsteady.",
}


def sample_job(sessions_root: Path) -> str:
    """Make the visit and a second one beside it, once; the key of the first."""
    root = jobs_root(sessions_root)
    known, _ = list_jobs(root)
    if known:
        return next(job.folder.name for job in known if job.name == "117")
    facts: list[JobFact] = [Filled(_DAY, line, words) for line, words in _LINES.items()]
    facts += [
        ComplaintTried(_DAY, Reproduced.YES, 0.5, "music at low level, cold"),
        StateNoted(_DAY, State.AS_RECEIVED, "mains", 231.0, Unit.VOLT),
        StateNoted(_DAY, State.AS_FOUND, "relay drop", 0.18, Unit.VOLT, "left", words="at 1 A, unsteady"),
        Worked(_DAY, "relay replaced", "", "RL1", "worn contact", 25.0, "relay"),
        PartFitted(_DAY, "relay", "RL1", "24 V 2 c/o 10 A", "24 V 2 c/o 10 A", source="the shelf"),
    ]
    job = open_new_job(root, facts, _DAY)
    customer = {"name": "Customer Example", "contact": "no telephone", "words": "calls after six"}
    change_customer(job.folder, customer)
    for past in list_sessions(sessions_root)[:1]:
        file_session(job.folder, sessions_root, past.key)
    other = {SheetField.NUMBER: "116", SheetField.MODEL: "PA-600", SheetField.COMPLAINT: "Smells hot."}
    told: list[JobFact] = [Filled(_DAY, line, words) for line, words in other.items()]
    open_new_job(root, [*told, Concluded(_DAY, JobOutcome.DECLINED)], _DAY)
    return job.folder.name
