"""Photographs on the report: those of checklists and those of the job sheet, small, each with its words.

Not here: photographs that show who the customer is; they are on no paper.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QBuffer, QIODevice, QSize, Qt
from PySide6.QtGui import QImageReader

from app.records.attachments import ATTACHMENTS, is_attachment
from app.records.job_folder import Job
from app.records.job_pictures import photograph_file
from app.records.session_folder import Session
from app.reports.sections import Section, joined
from procedures.observed import CheckResult
from procedures.report.facts import ReportFacts

_LARGEST = QSize(900, 900)  # dots: enough for a third of a page
_QUALITY = 85
_RESULTS = {CheckResult.PASSED: "right", CheckResult.FAILED: "wrong", CheckResult.NOT_THERE: "not there"}


@dataclass(frozen=True, slots=True)
class Printed:
    """The sections, their pictures by name as JPEG, and a sentence for each that cannot be shown."""

    sections: tuple[Section, ...] = ()
    pictures: tuple[tuple[str, bytes], ...] = ()
    troubles: tuple[str, ...] = ()


def photographs(facts: ReportFacts, sessions: tuple[Session, ...], job: Job | None) -> Printed:
    """All photographs of a visit in their order."""
    sections: list[Section] = []
    pictures: dict[str, bytes] = {}
    troubles: list[str] = []
    for path, words in [*_of_checklists(facts, sessions), *_of_sheet(facts, job)]:
        content = small_jpeg(path)
        if content is None:
            troubles.append(f"{path}: this photograph cannot be shown; take it from a backup copy")
            continue
        pictures[path.name] = content
        title = "" if sections else "Photographs"
        sections.append(Section(title, picture=path.name, small=True, lines=(words,) if words else ()))
    return Printed(tuple(sections), tuple(pictures.items()), tuple(troubles))


def _of_checklists(facts: ReportFacts, sessions: tuple[Session, ...]) -> Iterator[tuple[Path, str]]:
    folders = {one.journal.header.session: one.folder for one in sessions}
    for part in facts.sessions:
        folder = folders.get(part.session)
        if folder is None:
            continue
        for one in part.looked:
            result = joined([_RESULTS[one.found.result], one.found.words], ": ")
            for name in filter(is_attachment, one.found.photographs):
                yield folder / ATTACHMENTS / name, f"{one.found.text.rstrip('.')} ({result})"


def _of_sheet(facts: ReportFacts, job: Job | None) -> Iterator[tuple[Path, str]]:
    if job is None:
        return
    for one in facts.sheet.photographs:
        if not one.of_customer:
            yield photograph_file(job.folder, one.file), joined([one.state or "", one.words], ": ")


def small_jpeg(path: Path) -> bytes | None:
    """A picture file the right way up and not larger than it is printed; None where it is no picture."""
    reader = QImageReader(str(path))
    reader.setDecideFormatFromContent(True)
    reader.setAutoTransform(True)
    size = reader.size()
    if size.isValid() and (size.width() > _LARGEST.width() or size.height() > _LARGEST.height()):
        reader.setScaledSize(size.scaled(_LARGEST, Qt.AspectRatioMode.KeepAspectRatio))
    image = reader.read()
    if image.isNull():
        return None
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    image.save(buffer, "JPEG", _QUALITY)  # type: ignore[call-overload]
    return bytes(buffer.data().data())
