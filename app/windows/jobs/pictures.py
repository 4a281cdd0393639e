"""Photographs of a job: chosen or dropped, copied into the job's folder, each with a caption and when it was.

Files are copied and pictures are read beside the window.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from pathlib import Path

from PySide6.QtCore import QSize, Qt, QUrl, Signal, Slot
from PySide6.QtGui import QDesktopServices, QImage, QImageReader, QPainter, QPaintEvent, QPixmap
from PySide6.QtWidgets import QFileDialog, QVBoxLayout, QWidget

from app.language import worded
from app.windows.errand import Errand
from app.windows.jobs.blanks import HEIGHT, Blank, Choice, ShortBlank, Tick
from app.windows.jobs.entries import Entry, EntryList, Now, Words
from app.windows.jobs.flow import Line
from app.windows.jobs.kinds import tr
from app.windows.jobs.pen import JobPen
from app.windows.jobs.ports import JobShelf
from app.windows.worded import Button
from procedures.job import EntryKind, JobFact, Photographed, State, TakenBack

THUMB = QSize(150, 112)  # style pixels


class NoPicture(ValueError):
    """A file that cannot be attached as a photograph; the text says why."""


def require_picture(path: Path) -> None:
    """Refuse what cannot be shown as a picture. Raises NoPicture."""
    if not _is_file(path):
        shown = path.name if len(path.name) <= 60 else f"{path.name[:59]}…"
        raise NoPicture(tr("{file}: there is no such file to attach").format(file=shown))
    reader = QImageReader(str(path))
    reader.setDecideFormatFromContent(True)
    if not reader.canRead():
        told = tr("{file}: this is no picture that can be shown; attach a PNG or JPEG file")
        raise NoPicture(told.format(file=path.name))


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):  # a name that no file can have
        return False


def attach_picture(path: Path, shelf: JobShelf, key: str) -> None:
    """Keep a copy of a picture with a job. Raises ValueError, OSError."""
    require_picture(path)
    shelf.attach(key, path, "", None)


def picture_dialog(parent: QWidget, title: str, mode: QFileDialog.FileMode) -> QFileDialog:
    """Asks for picture files; it goes away by itself."""
    dialog = QFileDialog(parent, worded(title))
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.setFileMode(mode)
    pictures = "*.png *.jpg *.jpeg *.gif *.bmp *.webp *.tif *.tiff"
    dialog.setNameFilter(f"{worded(tr('Pictures'))} ({pictures} {pictures.upper()})")
    return dialog


def thumbnail(path: Path, scale: float, room: QSize = THUMB) -> QImage:
    """A small picture of a file, the right way up; a null picture where there is none to be shown."""
    reader = QImageReader(str(path))
    reader.setDecideFormatFromContent(True)
    reader.setAutoTransform(True)
    size = reader.size()
    if size.isValid():
        reader.setScaledSize(size.scaled(room * scale, Qt.AspectRatioMode.KeepAspectRatio))
    return reader.read()


def put_back(fact: Photographed, shelf: JobShelf, key: str) -> None:
    """Have a photograph again that was taken back. Raises ValueError, OSError."""
    if not shelf.picture(key, fact.file).is_file():
        raise NoPicture(tr("The picture's file is removed already: attach it anew."))
    shelf.write(key, [fact])


class Thumbnail(Button):
    """A small picture; pressing it shows the whole one in the system's own viewer."""

    def __init__(self, parent: QWidget | None = None, room: QSize = THUMB) -> None:
        super().__init__(parent)
        self._room = room
        self.pixmap = QPixmap()
        self.told = ""
        self.path: Path | None = None
        wide, high = room.width(), room.height()
        self.setStyleSheet(
            f"padding: 4px; min-width: {wide}px; max-width: {wide}px;"
            f"min-height: {high}px; max-height: {high}px;"
        )
        self.clicked.connect(self._open)

    def load(self, path: Path) -> None:
        """Read the picture beside the window."""
        self.path = path
        self._errand = Errand(self)
        self._errand.done.connect(self._loaded)
        self._errand.run(partial(thumbnail, path, self.devicePixelRatioF(), self._room))

    @Slot(object)
    def _loaded(self, image: object) -> None:
        if isinstance(image, QImage) and not image.isNull():
            self.pixmap = QPixmap.fromImage(image)
            self.pixmap.setDevicePixelRatio(self.devicePixelRatioF())
        else:
            self.told = worded(self.tr("cannot be shown"))
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the frame, then the picture in its middle."""
        super().paintEvent(event)
        painter = QPainter(self)
        if self.pixmap.isNull():
            painter.drawText(self.rect(), int(Qt.AlignmentFlag.AlignCenter), self.told)
        else:
            size = self.pixmap.deviceIndependentSize()
            at = self.rect().center().toPointF()
            painter.drawPixmap(
                round(at.x() - size.width() / 2), round(at.y() - size.height() / 2), self.pixmap
            )
        painter.end()

    @Slot()
    def _open(self) -> None:
        if self.path is not None:
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(self.path)))


class PictureList(EntryList):
    """The photographs that were kept."""

    EMPTY_LAST = False
    dropped = Signal(object)  # the fact of a photograph that was taken back

    def __init__(self, shelf: JobShelf, pen: JobPen, now: Now, parent: QWidget | None = None) -> None:
        self._shelf = shelf
        super().__init__(pen, now, parent)

    def new_entry(self) -> Entry:
        """Picture, caption, state."""
        picture = Thumbnail(self)
        words = ShortBlank(tr("Caption"), example=tr("what it shows"), wide=30)
        states = {"": tr("at any time"), **{one.value: one.value for one in State}}
        state = Choice(tr("When it was taken"), states)
        theirs = Tick(tr("Shows who the customer is"), tr("shows who the customer is"))
        theirs.setToolTip(tr("A receipt, a label, a face: erased together with the customer's name."))
        blanks: dict[str, Blank] = {"words": words, "state": state, "of_customer": theirs}
        entry = PictureEntry(blanks, [picture, words, state, theirs], self)
        entry.picture = picture
        return entry

    def show_facts(self, facts: object) -> None:
        """Show what is kept, and read the pictures that are new."""
        super().show_facts(facts)  # type: ignore[arg-type]
        for entry in self.entries:
            if isinstance(entry, PictureEntry) and entry.picture.path is None:
                entry.picture.load(self._shelf.picture(self._pen.key, entry.key))
                entry.picture.setAccessibleName(self.tr("Show the picture"))

    def key_of(self, fact: JobFact) -> str:
        """The name of the kept file."""
        assert isinstance(fact, Photographed)
        return fact.key

    def words_of(self, fact: JobFact) -> Words:
        """Caption and state."""
        assert isinstance(fact, Photographed)
        theirs = "yes" if fact.of_customer else ""
        return {
            "words": fact.words,
            "state": fact.state.value if fact.state else "",
            "of_customer": theirs,
        }

    def fact_of(self, words: Words, key: str) -> JobFact:
        """The same file with other words."""
        state = State(words["state"]) if words["state"] else None
        return Photographed(self.now(), key, words["words"], state, bool(words["of_customer"]))

    def taking_back(self, key: str) -> JobFact:
        """The file itself stays in the folder until the sheet is closed."""
        return TakenBack(self.now(), EntryKind.PHOTOGRAPH, key)

    def let_go(self, entry: Entry) -> None:
        """It can be put back as it was."""
        fact = self.fact_of(entry.words, entry.key)
        super().let_go(entry)
        self.dropped.emit(fact)


class PictureEntry(Entry):
    """A photograph with its words."""

    picture: Thumbnail


class Pictures(QWidget):
    """The photographs, and how others come in. `said` carries a sentence."""

    said = Signal(str)

    def __init__(self, shelf: JobShelf, pen: JobPen, now: Now, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._pen = pen
        self.list = PictureList(shelf, pen, now, self)
        self.choose = Button(self.tr("choose pictures …"), self)
        self.choose.setFixedHeight(HEIGHT)
        self.choose.setProperty("role", "small")
        self.choose.clicked.connect(self._choose)
        self._dialog: QFileDialog | None = None
        self._dropped: list[Photographed] = []
        self.back = Button(self.tr("put the picture back"), self)
        self.back.setFixedHeight(HEIGHT)
        self.back.setProperty("role", "small")
        self.back.clicked.connect(self._put_back)
        self._gone = Line(
            self.tr("Taken back; its file is removed when this sheet is closed."), self.back, parent=self
        )
        self._gone.hide()
        self.list.dropped.connect(self._drop)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.list)
        layout.addWidget(self._gone)
        layout.addWidget(Line(self.choose, self.tr("or drop them anywhere on this sheet"), parent=self))

    @Slot(object)
    def _drop(self, fact: object) -> None:
        assert isinstance(fact, Photographed)
        self._dropped.append(fact)
        self._gone.show()
        self.back.setFocus(Qt.FocusReason.OtherFocusReason)

    @Slot()
    def _put_back(self) -> None:
        """The newest one that was taken back comes first."""
        if self._dropped:
            self._pen.do(partial(put_back, self._dropped.pop()))
        self._gone.setVisible(bool(self._dropped))
        self.choose.setFocus(Qt.FocusReason.OtherFocusReason)

    @Slot()
    def _choose(self) -> None:
        dialog = picture_dialog(self, self.tr("Pictures of this unit"), QFileDialog.FileMode.ExistingFiles)
        dialog.filesSelected.connect(self.attach)
        self._dialog = dialog
        dialog.open()

    @Slot(list)
    def attach(self, files: Iterable[str]) -> None:
        """Keep copies of these files."""
        count = 0
        for file in files:
            self._pen.do(partial(attach_picture, Path(file)))
            count += 1
        if count:
            self.said.emit(self.tr("Being copied into the job: {n}.").format(n=count))
