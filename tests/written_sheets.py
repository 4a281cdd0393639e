"""A job sheet as a person works it, over real job folders, and what is kept of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from fake_workshop import FakeShelf
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPlainTextEdit, QWidget
from pytestqt.qtbot import QtBot

from app.job_shelf import JobFolders
from app.records.job_folder import Job, jobs_root, open_job
from app.windows.jobs.blanks import Blank, LongBlank, ShortBlank
from app.windows.jobs.ports import JobShelf
from app.windows.jobs.sheet import JobSheetPage
from procedures.records.job_sheet import JobSheet

NOON = datetime(2026, 1, 5, 12, 0, tzinfo=UTC)


class Sheet:
    """One shown sheet."""

    def __init__(
        self, qtbot: QtBot, root: Path, key: str = "", shelf: JobShelf | None = None, session: str = ""
    ) -> None:
        self.qtbot = qtbot
        self.closed = False
        self.root = root
        self.page = JobSheetPage(
            shelf or JobFolders(root), FakeShelf(), key, lambda: NOON, bench_session=session
        )
        self.page.resize(1000, 700)
        with qtbot.waitExposed(self.page):
            self.page.show()
        self.settle()

    def settle(self) -> None:
        """Until everything is kept and shown."""
        pen = self.page.pen
        self.qtbot.waitUntil(lambda: not pen.busy and not pen.pending)

    def write(self, blank: Blank, words: str) -> None:
        """Write into a blank by keys, and leave it by Tab."""
        field = blank.focusProxy()
        assert isinstance(blank, ShortBlank | LongBlank)
        assert isinstance(field, QWidget)
        if not self.page.isActiveWindow():
            self.page.activateWindow()
            self.qtbot.waitUntil(self.page.isActiveWindow)
        field.setFocus()
        blank.field.selectAll()
        if isinstance(field, QPlainTextEdit):
            field.insertPlainText(words)
        elif words:
            self.qtbot.keyClicks(field, words)
        else:
            self.qtbot.keyClick(field, Qt.Key.Key_Delete)
        self.qtbot.keyClick(field, Qt.Key.Key_Tab)

    def kept(self) -> JobSheet:
        """What stands in the job's folder once all is written."""
        self.settle()
        return self.job().sheet

    def job(self) -> Job:
        """The job as its folder has it."""
        return open_job(jobs_root(self.root) / self.page.pen.key)

    def close(self) -> None:
        """Keep the rest and let go, once."""
        if self.closed:
            return
        self.closed = True
        self.page.finish()
        self.page.close()
        self.page.deleteLater()


@contextmanager
def sheets(qtbot: QtBot, root: Path) -> Iterator[Callable[..., Sheet]]:
    """Opens sheets, and closes them in the end."""
    opened: list[Sheet] = []

    def open_sheet(key: str = "", shelf: JobShelf | None = None, session: str = "") -> Sheet:
        opened.append(Sheet(qtbot, root, key, shelf, session))
        return opened[-1]

    yield open_sheet
    for sheet in opened:
        sheet.close()
