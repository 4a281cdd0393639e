"""Whose job a session's report speaks of: its own or none, never one that merely begins alike."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from small_session import keep_session

from app.records.job_folder import Job, file_session, jobs_root, open_new_job
from app.reports.gathering import find_visit
from procedures.job import Filled, Naming, SheetField

NOW = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)


@pytest.fixture
def job(session_root: Path) -> Job:
    return open_new_job(jobs_root(session_root), [Filled(NOW, SheetField.NUMBER, "117")], NOW)


@pytest.mark.parametrize("named", ["2", "2026", "11", "../jobs", "/"])
def test_the_beginning_of_another_jobs_name_is_not_that_job(session_root: Path, job: Job, named: str) -> None:
    """Else a stranger's name and complaint stood on the paper."""
    folder = keep_session(session_root, naming=Naming(job=named))
    assert find_visit(session_root, str(folder)).job is None


def test_a_session_brings_the_job_that_it_is_called_after(session_root: Path, job: Job) -> None:
    folder = keep_session(session_root, naming=Naming(job="117"))
    found = find_visit(session_root, str(folder)).job
    assert found is not None
    assert found.id == job.id


def test_a_session_brings_the_job_that_it_is_filed_under(session_root: Path, job: Job) -> None:
    """Whatever it is called."""
    folder = keep_session(session_root, naming=Naming(job="2026"))
    file_session(job.folder, session_root, folder.name)
    found = find_visit(session_root, str(folder)).job
    assert found is not None
    assert found.id == job.id
