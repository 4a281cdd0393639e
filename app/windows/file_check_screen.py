"""Data files checked in the window: the sentences of `check`, all at once, and again by one key.

Procedures, routes, amplifiers and simulated units, chosen or dropped. Nothing in a file is carried out.
"""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, QUrl, Signal, Slot
from PySide6.QtGui import (
    QDesktopServices,
    QDragEnterEvent,
    QDropEvent,
    QKeySequence,
    QResizeEvent,
    QShortcut,
    QShowEvent,
)
from PySide6.QtWidgets import (
    QBoxLayout,
    QFileDialog,
    QFrame,
    QHBoxLayout,
    QLabel,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from app.data_files import CheckedFile
from app.language import pass_names
from app.windows.amplifier_ports import AmplifierFiles
from app.windows.dropping import dropped_files
from app.windows.flow import Flow
from app.windows.worded import Button, Label, Verbatim

MOST_FILES = 100
NARROW = 700  # style pixels
LOW = 320


class FileBlock(QFrame):
    """One file and what is said of it. `form` and `away` carry its path, `said` a sentence."""

    form = Signal(object)
    away = Signal(object)
    said = Signal(str)

    def __init__(self, path: Path, result: CheckedFile, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        pass_names((path.name,))
        self.path = path
        self.result = result
        self._rows: list[QBoxLayout] = []
        self.setProperty("role", "strip")
        name = Label(path.name, self)
        name.setTextFormat(Qt.TextFormat.PlainText)
        name.setStyleSheet("font-size: 20px; font-weight: 600;")
        folder = Label(str(path.parent), self)
        folder.setProperty("role", "quiet")
        folder.setTextFormat(Qt.TextFormat.PlainText)
        self.form_button = self._key(self.tr("edit in the form"), self._form)
        self.form_button.setVisible(result.kind == "amplifier")
        self.editor_button = self._key(self.tr("open as text"), self._as_text)
        self._away_button = self._key(self.tr("off the list"), self._away)
        named = QHBoxLayout()
        named.setSpacing(12)
        named.addWidget(name)
        named.addWidget(folder, 1)
        keys = QHBoxLayout()
        keys.setSpacing(8)
        for button in (self.form_button, self.editor_button, self._away_button):
            keys.addWidget(button)
        keys.addStretch(1)
        head = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        head.addLayout(named, 1)
        head.addLayout(keys)
        self._rows.append(head)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(18, 10, 14, 12)
        layout.setSpacing(4)
        layout.addLayout(head)
        if result.fine:
            layout.addWidget(self._words(result.words.removeprefix(f"{path}: "), ""))
        for problem in result.problems:
            row = QBoxLayout(QBoxLayout.Direction.LeftToRight)
            row.addWidget(self._dressed(Verbatim(problem.place, self), "quiet"), 2, Qt.AlignmentFlag.AlignTop)
            row.addWidget(self._words(problem.sentence, "trouble"), 5)
            self._rows.append(row)
            layout.addLayout(row)

    def _key(self, words: str, pressed: object) -> Button:
        button = Button(words, self)
        button.setAccessibleName(f"{self.path.name}: {words}")
        button.clicked.connect(pressed)
        return button

    def _words(self, words: str, role: str) -> QLabel:
        return self._dressed(Label(words, self), role)

    @staticmethod
    def _dressed(label: QLabel, role: str) -> QLabel:
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setWordWrap(True)
        label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        label.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        label.setProperty("role", role)
        return label

    def resizeEvent(self, event: QResizeEvent) -> None:
        """In a narrow window the sentence stands under its place."""
        super().resizeEvent(event)
        narrow = self.width() < NARROW
        way = QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        for row in self._rows:
            row.setDirection(way)
            row.setSpacing(2 if narrow else 14)

    @property
    def lines(self) -> list[str]:
        """The sentences as they stand."""
        return [str(problem) for problem in self.result.problems]

    @Slot()
    def _form(self) -> None:
        self.form.emit(self.path)

    @Slot()
    def _as_text(self) -> None:
        if not QDesktopServices.openUrl(QUrl.fromLocalFile(str(self.path))):
            words = self.tr("The desktop has nothing that opens {file}: open it in an editor by hand.")
            self.said.emit(words.format(file=self.path.name))

    @Slot()
    def _away(self) -> None:
        self.away.emit(self.path)


class FileCheckScreen(QWidget):
    """A list of files with what is wrong with each. `form` carries the path of an amplifier's file."""

    form = Signal(object)
    back = Signal()

    def __init__(self, papers: AmplifierFiles, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._papers = papers
        self._paths: list[Path] = []
        self._choosing: QFileDialog | None = None
        self.blocks: list[FileBlock] = []
        self.setAcceptDrops(True)
        title = Label(self.tr("Check files"), self)
        title.setStyleSheet("font-size: 32px; font-weight: 700;")
        hint = Label(
            self.tr(
                "Procedures, routes, amplifiers and simulated units: choose them, or drop them here. "
                "Edit, save, and look again with F5."
            ),
            self,
        )
        hint.setProperty("role", "quiet")
        hint.setWordWrap(True)
        self._state = Label(self)
        self._state.setStyleSheet("font-weight: 600;")
        self._state.setTextFormat(Qt.TextFormat.PlainText)
        self.choose_button = self._key(self.tr("&Choose files …  (Ctrl+O)"), self.choose)
        self.again_button = self._key(self.tr("Check &again  (F5)"), self.check_again)
        back = self._key(self.tr("&Back  (Esc)"), self.back)
        self._list = QVBoxLayout()
        self._list.setSpacing(12)
        self._empty = Label(self.tr("Drop procedures, routes, amplifiers or simulated units here."), self)
        self._empty.setProperty("role", "drop")
        self._empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._empty.setWordWrap(True)
        self._list.addWidget(self._empty, 5)
        self._list.addStretch(1)
        inside = QWidget(self)
        inside.setLayout(self._list)
        self._list.setContentsMargins(0, 0, 8, 0)
        self._area = QScrollArea(self)
        self._area.setWidgetResizable(True)
        self._area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._area.setWidget(inside)
        row = Flow()
        for part in (self.choose_button, self.again_button, back):
            row.addWidget(part)
        self._spared = (title, hint)
        self._margins = layout = QVBoxLayout(self)
        layout.setContentsMargins(36, 20, 36, 20)
        layout.setSpacing(12)
        for widget in (title, hint, self._area):
            layout.addWidget(widget, 1 if widget is self._area else 0)
        layout.addWidget(self._state)
        layout.addLayout(row)
        for key, deed in (("F5", self.check_again), ("Ctrl+O", self.choose), ("Esc", self.back)):
            shortcut = QShortcut(QKeySequence(key), self)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(deed)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Files and keys come first where there is little room."""
        super().resizeEvent(event)
        low = self.height() < LOW
        for label in self._spared:
            label.setVisible(not low)
        side = 12 if low else 36
        self._margins.setContentsMargins(side, side // 2, side, side // 2)

    def _key(self, words: str, pressed: object) -> Button:
        button = Button(words, self)
        button.setMinimumHeight(48)
        button.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
        button.clicked.connect(pressed)
        return button

    @property
    def state(self) -> str:
        """How many files are fine."""
        return self._state.text()

    def say(self, sentence: str) -> None:
        """Say why something could not be done."""
        self._state.setText(sentence)

    def showEvent(self, event: QShowEvent) -> None:
        """A key has the focus, so that the keys of the screen work."""
        super().showEvent(event)
        (self.again_button if self._paths else self.choose_button).setFocus(Qt.FocusReason.OtherFocusReason)

    def take(self, paths: list[Path]) -> None:
        """Put files on the list and check them."""
        for path in paths:
            if path not in self._paths:
                self._paths.append(path)
        left_out = len(self._paths) - MOST_FILES
        del self._paths[MOST_FILES:]
        self.check_again()
        if left_out > 0:
            words = self.tr("Only {many} files are checked at once: {n} were left out.")
            self.say(words.format(many=MOST_FILES, n=left_out))

    @Slot()
    def check_again(self) -> None:
        """Read every file on the list again."""
        for block in self.blocks:
            self._list.removeWidget(block)
            block.hide()
            block.deleteLater()
        self.blocks = []
        for path in self._paths:
            block = FileBlock(path, self._papers.check(path), self)
            block.form.connect(self.form)
            block.away.connect(self._take_off)
            block.said.connect(self.say)
            self._list.insertWidget(self._list.count() - 1, block)
            self.blocks.append(block)
        wrong = sum(not block.result.fine for block in self.blocks)
        many = len(self.blocks)
        self._empty.setVisible(not many)
        self.again_button.setEnabled(many > 0)
        if not many:
            self._state.setText(self.tr("Nothing to check yet."))
        elif wrong:
            self._state.setText(self.tr("{n} of {many} cannot be used yet.").format(n=wrong, many=many))
        else:
            self._state.setText(self.tr("All fine: {many}.").format(many=many))

    @Slot(object)
    def _take_off(self, path: object) -> None:
        self._paths = [one for one in self._paths if one != path]
        self.check_again()
        key = self.again_button if self._paths else self.choose_button
        key.setFocus(Qt.FocusReason.OtherFocusReason)

    @Slot()
    def choose(self) -> None:
        """Ask which files."""
        dialog = QFileDialog(self, self.tr("Which files?"))
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.setFileMode(QFileDialog.FileMode.ExistingFiles)
        dialog.setNameFilters([self.tr("Data files (*.toml)"), self.tr("All files (*)")])
        dialog.filesSelected.connect(self._chosen)
        self._choosing = dialog
        dialog.open()

    @Slot(list)
    def _chosen(self, names: list[str]) -> None:
        self.take([Path(name) for name in names])

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Files may be dropped."""
        if dropped_files(event):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Check what was dropped."""
        event.acceptProposedAction()
        self.take(dropped_files(event))
