"""Photographs of a checklist: chosen, dropped or named by their file, copied to the session, shown small.

A picture is the answer to the checklist's own question; what is typed there and is no file stays a name.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import partial
from pathlib import Path

from PySide6.QtCore import QSize, QUrl, Signal, Slot
from PySide6.QtWidgets import QFileDialog, QWidget

from app.language import worded
from app.records.attachments import ATTACHMENTS, attach, is_attachment
from app.windows.errand import Errand
from app.windows.flow import Flow
from app.windows.jobs.pictures import Thumbnail, picture_dialog, require_picture
from app.windows.ports import BenchPicture
from app.windows.worded import Button
from procedures.events import Question
from procedures.observed import WHICH_PHOTOGRAPH

SMALL = QSize(88, 66)  # style pixels
MOST_SHOWN = 4
MOST_REVIEWED = 24
_KEPT = re.compile(r"[0-9a-f]{64}(\.[a-z0-9]{1,8})?")


def _attached(folder: Path, path: Path) -> str:
    """The name of a copy in a session's folder. Raises ValueError, OSError."""
    require_picture(path)
    return attach(folder, path).name


class ChecklistPictures(QWidget):
    """The pictures of the step in hand, or of a past session.

    `attached` carries question and kept file, `refused` why not.
    """

    attached = Signal(str, str, str)
    refused = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._asked: Question | None = None
        self._folder: Path | None = None
        self._errand: Errand | None = None
        self._dialog: QFileDialog | None = None
        self.thumbnails: list[Thumbnail] = []
        self.choose = Button(self.tr("choose a picture …"), self)
        self.choose.setMinimumHeight(44)
        self.choose.clicked.connect(self._choose)
        self._row = Flow(self)
        self._row.addWidget(self.choose)
        self.hide()

    def show_bench(self, picture: BenchPicture) -> None:
        """Show what belongs to the step in hand, and whether a picture is asked for; of the past, all."""
        view = picture.view
        question = None if picture.review or picture.tour else view.question
        asks = question is not None and question.text == WHICH_PHOTOGRAPH and picture.folder is not None
        self._asked = question if asks else None
        self._folder = picture.folder
        self.choose.setVisible(asks)
        looked = [one for one in view.inspected if picture.review or one.step == view.step]
        shown = {name: one.text for one in looked for name in one.photographs if is_attachment(name)}
        if question is not None and question.step == view.step:
            shown |= {found.group(): "" for found in _KEPT.finditer(question.id)}
        most = MOST_REVIEWED if picture.review else MOST_SHOWN
        self._show(dict(list(shown.items())[-most:]))
        self.setVisible(asks or bool(self.thumbnails))

    def _show(self, names: Mapping[str, str]) -> None:
        """Show pictures by their name, each with what it is of."""
        paths = [self._folder / ATTACHMENTS / name for name in names] if self._folder is not None else []
        if paths == [one.path for one in self.thumbnails]:
            return
        for old in self.thumbnails:
            self._row.removeWidget(old)
            old.hide()
            old.deleteLater()
        self.thumbnails = []
        for path, words in zip(paths, names.values(), strict=False):
            small = Thumbnail(self, SMALL)
            small.setToolTip(worded(words))
            small.setAccessibleName(self.tr("Show the picture"))
            small.load(path)
            self._row.addWidget(small)
            small.show()
            self.thumbnails.append(small)

    # --- one more -------------------------------------------------------------------------------------

    @Slot()
    def _choose(self) -> None:
        self._dialog = picture_dialog(self, self.tr("A picture of this"), QFileDialog.FileMode.ExistingFile)
        self._dialog.filesSelected.connect(self.take)
        self._dialog.open()

    @Slot(list)
    def take(self, files: Iterable[str]) -> None:
        """Copy the first of these files into the session, and answer with it."""
        path = next((Path(file) for file in files), None)
        if path is None or self._errand is not None:
            return
        if self._asked is None or self._folder is None:
            self.refused.emit(self.tr("No picture is asked for now: choose “Name a photograph” first."))
            return
        self._errand = Errand(self)
        self._errand.done.connect(partial(self._taken, self._asked.id))
        self._errand.run(partial(_attached, self._folder, path))

    def _taken(self, question: str, came: object) -> None:
        self._errand = None
        if isinstance(came, str):
            self.attached.emit(question, "", came)
        else:
            self.refused.emit(str(came))

    def typed(self, text: str) -> bool:
        """Take what was typed as a file, where it can only be one; else it is a name, and False."""
        said = text.strip().strip("\"'")
        if self._asked is None or not said or "\0" in said:
            return False
        url = QUrl(said)
        path = Path(url.toLocalFile() if url.isLocalFile() else said)
        try:
            path = path.expanduser()
            is_file = "/" in said or "\\" in said or path.exists()
        except (OSError, RuntimeError, ValueError):
            return False
        if is_file:
            self.take([str(path)])
        return is_file


def dropped_pictures(urls: Iterable[QUrl]) -> list[str]:
    """The local files among what was dropped."""
    return [url.toLocalFile() for url in urls if url.isLocalFile()]
