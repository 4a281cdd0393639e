"""Finding things in the archive: sessions by what is known of them, earlier visits, what a model does."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sql

from app.records import archive_tables as tables
from app.records.archive import Archive
from app.records.archive_rows import key_of
from app.records.history_facts import MOST, ModelHistory, Spread, Visit, Wanted
from app.records.job_history import numbered
from procedures.analysis.remembered import RememberedWarmUp

_S = tables.sessions.c

_SHOWN = (
    _S.bench,
    _S.session,
    _S.folder,
    _S.started_utc,
    _S.title,
    _S.unit,
    _S.serial,
    _S.job,
    _S.outcome,
    _S.summary,
    _S.practice,
    _S.lasted_s,
    _S.model,
)


def find_visits(archive: Archive, wanted: Wanted) -> tuple[Visit, ...]:
    """The sessions that fit everything that is wanted, newest first. Raises ArchiveAway."""
    with archive.reading() as connection:
        query = sql.select(*_SHOWN).where(*_conditions(wanted, connection))
        query = query.order_by(_S.started_utc.desc(), _S.session).limit(wanted.most)
        return tuple(Visit(*tuple(row)) for row in connection.execute(query))


def _conditions(wanted: Wanted, connection: sql.Connection) -> list[Any]:
    found: list[Any] = []
    for column, words in ((_S.serial_key, wanted.serial), (_S.model_key, wanted.model)):
        if words:
            found.append(column.startswith(key_of(words), autoescape=True))
    if wanted.job:
        # The name that the session was given, or the number that its job has now.
        of_number = _of_jobs(numbered(connection, wanted.job))
        found.append((_S.job_key == key_of(wanted.job)) | of_number)
    if wanted.outcome:
        found.append(_S.outcome == wanted.outcome)
    if wanted.since is not None:
        found.append(_S.started_utc >= wanted.since)
    if wanted.until is not None:
        found.append(_S.started_utc < wanted.until)
    if not wanted.practice:
        found.append(_S.practice.is_(False))
    if wanted.reference:
        found.append(
            _of_jobs(tables.jobs.c.reference_key.startswith(key_of(wanted.reference), autoescape=True))
        )
    for word in key_of(wanted.words).split():
        told = tables.jobs.c.words.contains(word, autoescape=True)
        found.append(_S.words.contains(word, autoescape=True) | _of_jobs(told))
    return found


def _of_jobs(condition: Any) -> Any:
    """Whether a session belongs to a job that fits."""
    filed = tables.job_sessions.c
    jobs = tables.jobs.c
    joined = sql.join(tables.job_sessions, tables.jobs, (filed.bench == jobs.bench) & (filed.job == jobs.job))
    return _S.session.in_(sql.select(filed.session).select_from(joined).where(condition))


def visit_of(archive: Archive, folder: str) -> Visit | None:
    """This bench's session in a folder of that name; None where it was not filed. Raises ArchiveAway."""
    query = sql.select(*_SHOWN).where(_S.bench == archive.bench, _S.folder == folder)
    with archive.reading() as connection:
        row = connection.execute(query).first()
    return Visit(*tuple(row)) if row is not None else None


def earlier_visits(archive: Archive, serial: str, before: datetime | None = None) -> tuple[Visit, ...]:
    """This unit's earlier visits, newest first; none for a unit without a serial number."""
    if not key_of(serial):
        return ()
    found = find_visits(archive, Wanted(serial=serial, until=before))
    return tuple(visit for visit in found if key_of(visit.serial) == key_of(serial))


def model_history(archive: Archive, model: str, *, practice: bool = False) -> ModelHistory:
    """What a model did so far; what was done in practice counts only when asked for. Raises ArchiveAway."""
    of_model = [_S.model_key == key_of(model)]
    if not practice:
        of_model.append(_S.practice.is_(False))
    with archive.reading() as connection:
        count = connection.scalar(sql.select(sql.func.count()).where(*of_model)) or 0
        numbers = sql.select(sql.func.count(sql.distinct(_S.serial_key))).where(
            *of_model, _S.serial_key != ""
        )
        units = connection.scalar(numbers) or 0
        without = sql.select(sql.func.count()).where(*of_model, _S.serial_key == "")
        unnumbered = connection.scalar(without) or 0
        left = tables.recorded
        rows = connection.execute(
            sql.select(left.c.channel, left.c.value)
            .join(tables.sessions, _same(left))
            .where(*of_model, left.c.name == "as left", left.c.value.is_not(None), left.c.unit == "V")
        ).all()
        trace = tables.traces
        shapes = connection.execute(
            sql.select(trace.c.channel, trace.c.drift, trace.c.settled_s)
            .join(tables.sessions, _same(trace))
            .where(*of_model, trace.c.unit == "V")
        ).all()
        fault = tables.faults
        number = sql.func.count(sql.distinct(fault.c.session))
        faults = connection.execute(
            sql.select(fault.c.kind, number)
            .join(tables.sessions, _same(fault))
            .where(*of_model)
            .group_by(fault.c.kind)
            .order_by(number.desc(), fault.c.kind)
            .limit(20)
        ).all()
    return ModelHistory(
        model,
        count,
        _spreads((channel, value) for channel, value in rows),
        _spreads((channel, drift) for channel, drift, _ in shapes),
        _spreads((channel, settled_s) for channel, _, settled_s in shapes),
        tuple((str(kind), int(many)) for kind, many in faults),
        units,
        unnumbered,
    )


def left_before_volts(archive: Archive, model: str) -> tuple[float, ...]:
    """What channels of a model were left at, the newest visits first, practice left out.

    Raises:
        ArchiveAway: with one sentence.
    """
    if not key_of(model):
        return ()
    left = tables.recorded
    query = (
        sql.select(left.c.value)
        .join(tables.sessions, _same(left))
        .where(_S.model_key == key_of(model), _S.practice.is_(False))
        .where(left.c.name == "as left", left.c.value.is_not(None), left.c.unit == "V")
        .order_by(_S.started_utc.desc(), left.c.place)
        .limit(MOST)
    )
    with archive.reading() as connection:
        return tuple(float(value) for value in connection.execute(query).scalars())


def _same(table: sql.Table) -> Any:
    return (table.c.bench == _S.bench) & (table.c.session == _S.session)


def _spreads(pairs: Iterable[tuple[str, float | None]]) -> dict[str, Spread]:
    values: dict[str, list[float]] = {}
    for channel, value in pairs:
        if value is not None:
            values.setdefault(channel, []).append(value)
    return {channel: spread(told) for channel, told in sorted(values.items())}


def spread(values: Sequence[float]) -> Spread:
    """Least, quartiles (linear between neighbours) and most of one or more values."""
    told = sorted(values)

    def at(share: float) -> float:
        place = share * (len(told) - 1)
        low = int(place)
        high = min(low + 1, len(told) - 1)
        return told[low] + (place - low) * (told[high] - told[low])

    return Spread(len(told), told[0], at(0.25), at(0.5), at(0.75), told[-1], tuple(told))


def last_warm_up(
    archive: Archive,
    serial: str,
    *,
    model: str = "",
    practice: bool = False,
    before: datetime | None = None,
) -> tuple[RememberedWarmUp, ...]:
    """How this very unit warmed up when it last settled, by channel, for the forecast of the next time.

    Of closed sessions alone, and of practice alone where `practice` is asked for, else never. A warm-up that
    hands or a lost supply disturbed is none; what an older program worked out, which held those, is passed
    over until it has been filed anew.

    Raises:
        ArchiveAway: with one sentence.
    """
    if not key_of(serial):
        return ()
    trace = tables.traces
    query = (
        sql.select(_S.started_utc, trace.c.channel, trace.c.warm_up)
        .join(tables.sessions, _same(trace))
        .join(tables.derived, _same(tables.derived))
        .where(tables.derived.c.version >= tables.DERIVED_VERSION, tables.derived.c.size == _S.size)
        .where(_S.serial_key == key_of(serial), _S.practice.is_(practice), _S.closed.is_(True))
        .where(trace.c.settled_s.is_not(None), trace.c.unit == "V")
        .order_by(_S.started_utc.desc(), _S.session)
        .limit(64)
    )
    if model:
        query = query.where(_S.model_key == key_of(model))
    if before is not None:
        query = query.where(_S.started_utc < before)
    with archive.reading() as connection:
        rows = connection.execute(query).all()
    found: dict[str, RememberedWarmUp] = {}
    for started, channel, points in rows:
        told = json.loads(points)
        if channel not in found and len(told) >= 2:
            times, levels = zip(*told, strict=True)
            day = started.replace(tzinfo=UTC).astimezone().strftime("%Y-%m-%d")
            found[channel] = RememberedWarmUp(channel, times, levels, recorded=day)
    return tuple(found[channel] for channel in sorted(found))
