"""Finding jobs in the archive: by the customer's reference, their number, their unit, and all their words.

A job may have no session at all (declined, beyond economic repair), so it is looked for by itself too. Who
the customer is never comes here: only the reference that the workshop gave them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sql

from app.records import archive_tables as tables
from app.records.archive import Archive
from app.records.archive_rows import key_of
from app.records.history_facts import Wanted

_J = tables.jobs.c


@dataclass(frozen=True, slots=True)
class JobVisit:
    """One job as the archive knows it; `folder` is the name of its folder at its bench."""

    bench: str
    job: str
    folder: str
    opened_utc: datetime
    number: str
    reference: str
    unit: str
    outcome: str
    complaint: str

    @property
    def name(self) -> str:
        """What it is called: its number, else its identifier."""
        return self.number or self.job


def find_jobs(archive: Archive, wanted: Wanted) -> tuple[JobVisit, ...]:
    """The jobs that fit everything that is wanted, newest first; none for the result of a session.

    Raises:
        ArchiveAway: with one sentence.
    """
    if wanted.outcome:
        return ()
    shown = [_J[name] for name in JobVisit.__dataclass_fields__]
    with archive.reading() as connection:
        query = sql.select(*shown).where(*_conditions(wanted, connection))
        query = query.order_by(_J.opened_utc.desc(), _J.job).limit(wanted.most)
        return tuple(JobVisit(*tuple(row)) for row in connection.execute(query))


def numbered(connection: sql.Connection, number: str) -> Any:
    """Whether a job has this number, whatever letters it was written in.

    Compared here: databases fold ASCII alone, or as their locale says.
    """
    key = key_of(number)
    written = connection.scalars(sql.select(_J.number).distinct().where(_J.number != ""))
    return _J.number.in_([one for one in written if key_of(one) == key])


def _conditions(wanted: Wanted, connection: sql.Connection) -> list[Any]:
    found: list[Any] = []
    if wanted.reference:
        found.append(_J.reference_key == key_of(wanted.reference))
    if wanted.job:
        found.append(numbered(connection, wanted.job))
    if wanted.since is not None:
        found.append(_J.opened_utc >= wanted.since)
    if wanted.until is not None:
        found.append(_J.opened_utc < wanted.until)
    for word in key_of(f"{wanted.serial} {wanted.model} {wanted.words}").split():
        found.append(_J.words.contains(word, autoescape=True))
    return found
