"""From a session's or a job's folder to a written report: the one way in for commands and the window."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from app.records.job_folder import Job, JobUnreadable, customer_of, find_job, job_of, jobs_root, open_job
from app.records.session_folder import Session, SessionUnreadable, find_by_header, find_session, open_session
from app.records.whole_file import write_whole
from app.reports import measurement_sheet, service_report
from app.reports.page import Document, PictureUnusable, read_picture, screen_html
from app.reports.paper import write_pdf
from app.reports.photographs import Printed, photographs
from app.reports.session_picture import picture_of
from app.reports.trace_picture import png_bytes
from app.settings import Settings
from procedures.job import Customer
from procedures.records.codec import LineRefused
from procedures.report.facts import ReportFacts
from procedures.report.folding import fold_report

WATERMARK = "Practice on a simulated amplifier"
MISSING = "Missing in the report"


@dataclass(frozen=True, slots=True)
class Visit:
    """What a report is made from: the sessions as read, the job where there is one, and what is missing."""

    sessions: tuple[Session, ...] = ()
    job: Job | None = None
    customer: Customer | None = None
    troubles: tuple[str, ...] = ()

    @property
    def folder_name(self) -> str:
        """What its folder is called: the job's where several sessions belong to it, else the session's."""
        if self.job is not None and len(self.sessions) != 1:
            return self.job.folder.name
        return self.sessions[0].folder.name if self.sessions else ""

    @property
    def facts(self) -> ReportFacts:
        """Everything that is to be said. Raises LineRefused."""
        journals = [session.journal for session in self.sessions]
        if self.job is None:
            return fold_report(journals, troubles=self.troubles)
        return fold_report(
            journals,
            self.job.sheet,
            job=self.job.name,
            opened_utc=self.job.journal.header.opened_utc,
            customer=self.customer,
            troubles=(*self.job.journal.problems, *self.troubles),
        )


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which paper: the whole report or the one sheet, for the customer or for the bench."""

    sheet: bool = False
    bench: bool = False


def find_visit(sessions_root: Path, key: str) -> Visit:
    """A job with its sessions, or a session with the job that it names.

    Raises:
        JobUnreadable, SessionUnreadable: neither is there; one sentence.
    """
    jobs = jobs_root(sessions_root)
    try:
        session = find_session(sessions_root, key)
    except SessionUnreadable as no_session:
        try:
            return _of_job(open_job(find_job(jobs, key)), sessions_root)
        except JobUnreadable as no_job:
            raise JobUnreadable(f"{no_session}; and {no_job}") from None
    return _of_session(open_session(session), jobs)


def _of_job(job: Job, sessions_root: Path) -> Visit:
    sessions: list[Session] = []
    troubles: list[str] = []
    for one in job.sheet.sessions:
        try:
            sessions.append(open_session(find_by_header(sessions_root, one)))
        except SessionUnreadable as refused:
            troubles.append(str(refused))
    return _with_customer(Visit(tuple(sessions), job, troubles=tuple(troubles)))


def _of_session(session: Session, jobs: Path) -> Visit:
    """A session alone; its job comes along where it is in the folder of jobs, else its number alone."""
    alone = Visit((session,))
    named = session.journal.naming.job if session.journal.naming is not None else ""
    job = job_of(jobs, session.journal.header.session, named)
    return alone if job is None else _with_customer(replace(alone, job=job))


def _with_customer(visit: Visit) -> Visit:
    assert visit.job is not None
    try:
        return replace(visit, customer=customer_of(visit.job.folder))
    except JobUnreadable as refused:
        return replace(visit, troubles=(*visit.troubles, str(refused)))


def document_of(
    visit: Visit, settings: Settings, wanted: Wanted, printed: datetime
) -> tuple[Document, tuple[str, ...]]:
    """What is to be drawn, and a sentence for each thing that is missing in it. Raises LineRefused."""
    facts = visit.facts
    troubles = list(facts.troubles)
    if wanted.sheet:
        title = measurement_sheet.TITLE
        sections = measurement_sheet.measurement_sheet(facts, settings, printed=printed)
    else:
        title = service_report.TITLE
        sections = service_report.service_report(facts, settings, bench=wanted.bench, printed=printed)
        title += ", bench version" if wanted.bench else ""
    printed_pictures = photographs(facts, visit.sessions, visit.job) if not wanted.sheet else Printed()
    troubles += printed_pictures.troubles
    ends = next((n for n, one in enumerate(sections) if one.signatures), len(sections))
    sections = [*sections[:ends], *printed_pictures.sections, *sections[ends:]]
    picture = b""
    if settings.letterhead.picture:
        try:
            picture = read_picture(settings.letterhead.picture)
        except PictureUnusable as refused:
            troubles.append(str(refused))
    shown = {section.picture for section in sections if section.picture}
    job = f"job {facts.job}" if facts.job else ""
    document = Document(
        title=title,
        subject=", ".join(filter(None, (facts.unit_name or "unit not named", job))),
        sections=tuple(sections),
        letterhead=settings.letterhead,
        picture=picture,
        traces=_traces([one for one in visit.sessions if one.journal.header.session in shown])
        | dict(printed_pictures.pictures),
        watermark=WATERMARK if facts.practice else "",
    )
    return document, tuple(troubles)


def _traces(sessions: Sequence[Session]) -> dict[str, bytes]:
    """The pictures, without the mark of practice, which goes over the whole page."""
    pictures = {one.journal.header.session: replace(picture_of(one), watermark="") for one in sessions}
    return {session: png_bytes(picture) for session, picture in pictures.items()}


def write_report(
    visit: Visit,
    settings: Settings,
    wanted: Wanted,
    *,
    pdf: Path | None = None,
    html: Path | None = None,
    printed: datetime | None = None,
) -> tuple[str, ...]:
    """Write what is asked for; a sentence for each file and for whatever is missing in it.

    Raises:
        LineRefused: a session's header cannot be understood.
        OSError: a file cannot be written.
    """
    document, troubles = document_of(visit, settings, wanted, printed or datetime.now(UTC))
    said = [f"{MISSING}: {trouble}" for trouble in troubles]
    if pdf is not None:
        pages = write_pdf(pdf, document, one_page=wanted.sheet)
        said.append(f"{document.title}, {pages} {'page' if pages == 1 else 'pages'}: {pdf}")
    if html is not None:
        write_whole(html, screen_html(document).encode("utf-8"))
        said.append(f"{document.title}: {html}")
    return tuple(said)


def save_report(sessions_root: Path, key: str, path: Path, settings: Settings, wanted: Wanted) -> str:
    """Write the report of a session or job, as HTML where the file is named so, else as PDF.

    Returns what was written, in words.

    Raises:
        ValueError, OSError: with one sentence.
    """
    visit = find_visit(sessions_root, key)
    as_html = path.suffix.lower() in (".html", ".htm")
    try:
        said = write_report(
            visit, settings, wanted, pdf=None if as_html else path, html=path if as_html else None
        )
    except LineRefused as refused:
        raise ValueError(str(refused)) from refused
    return " ".join(said)
