"""What the archive can tell of the sessions that are chosen, and taking in sessions from other benches."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import QCoreApplication, QObject, Signal, Slot
from PySide6.QtWidgets import QFileDialog, QWidget

from app.language import worded
from app.records.history_facts import MOST, ModelHistory, Wanted
from app.windows.finding import Finding
from app.windows.laid_sheet import LaidSheet
from app.windows.model_sheet import ModelSheet
from app.windows.paper_ports import Papers
from app.windows.renewal_notice import RenewalNotice
from app.windows.start_lists import SessionLine
from app.windows.worded import Button

MOST_LAID = 8


def found_words(lines: Sequence[SessionLine]) -> str:
    """How many were found."""
    if not lines:
        return QCoreApplication.translate("ArchiveDeeds", "Nothing in the archive fits that.")
    if len(lines) == 1:
        return QCoreApplication.translate("ArchiveDeeds", "One session fits.")
    words = QCoreApplication.translate("ArchiveDeeds", "{n} sessions fit.")
    if len(lines) >= MOST:
        words = QCoreApplication.translate("ArchiveDeeds", "The newest {n} of those that fit.")
    return words.format(n=len(lines))


class ArchiveDeeds(QObject):
    """Asks the papers beside the window. `listed` carries the lines that were found.

    `unit_found` carries serial number and model; `taken_in`: there are new sessions; `said` a sentence.
    """

    said = Signal(str)
    listed = Signal(object)
    unit_found = Signal(str, str)
    taken_in = Signal()

    def __init__(self, papers: Papers, parent: QWidget) -> None:
        super().__init__(parent)
        self._papers = papers
        self._window = parent
        self._lines: tuple[SessionLine, ...] = ()
        self._filed = False
        self._practice = False
        self._choosing: QFileDialog | None = None
        self.model_sheet: ModelSheet | None = None
        self.laid_sheet: LaidSheet | None = None
        self._searching = self._finding(self.listed.emit)
        self._renewal = RenewalNotice(papers, self)
        self._renewal.said.connect(self.said)
        self._unit = self._finding(self._show_unit)
        self._model = self._finding(self._ask_model)
        self._history = self._finding(self._show_model)
        self._laying = self._finding(self._show_laid)
        self._taking = self._finding(self._took)
        self.unit = self._button(self.tr("This &unit"), self._look_for_unit, parent)
        self.model = self._button(self.tr("This &model"), self._look_for_model, parent)
        self.lay = self._button(self.tr("&Traces in one plot"), self._lay, parent)
        self.bring = self._button(self.tr("&Import a bundle …"), self._choose_bundle, parent)
        self.unit.setToolTip(self.tr("All visits of this unit, by its serial number"))
        self.model.setToolTip(self.tr("What units of this model did so far"))
        self.lay.setToolTip(self.tr("Choose several sessions with Ctrl or Shift"))

    def _finding(self, found: object) -> Finding:
        finding = Finding(self)
        finding.found.connect(found)
        finding.refused.connect(self.said)
        return finding

    def _button(self, text: str, does: object, parent: QWidget) -> Button:
        button = Button(text, parent)
        button.setMinimumHeight(44)
        button.clicked.connect(does)
        return button

    @property
    def buttons(self) -> tuple[Button, ...]:
        """The keys, in their order."""
        return (self.unit, self.model, self.lay, self.bring)

    def choose(self, lines: tuple[SessionLine, ...]) -> None:
        """These sessions are chosen now."""
        self._lines = lines
        self.unit.setEnabled(len(lines) == 1)
        self.model.setEnabled(len(lines) == 1)
        self.lay.setEnabled(0 < len(lines) <= MOST_LAID and all(line.here for line in lines))

    # --- searching --------------------------------------------------------------------------------------

    def find(self, wanted: Wanted) -> None:
        """Look for sessions; what is missing in the archive is filed before the first question."""
        self._searching.ask(partial(self._papers.find, wanted, file_first=not self._filed))
        if not self._filed:
            self._renewal.begin()
        self._filed = True

    def forget(self) -> None:
        """Nothing is looked for any more."""
        self._searching.forget()

    @Slot()
    def _look_for_unit(self) -> None:
        self._know(self._unit)

    @Slot()
    def _look_for_model(self) -> None:
        self._know(self._model)

    def _know(self, finding: Finding) -> None:
        """Which unit the chosen session belongs to: as it was listed, else as the archive knows it."""
        if len(self._lines) == 1:
            line = self._lines[0]
            known = line.serial or line.model
            finding.ask((lambda: line) if known else partial(self._papers.filed, line.key))

    @Slot(object)
    def _show_unit(self, line: object) -> None:
        if isinstance(line, SessionLine) and line.serial:
            self.unit_found.emit(line.serial, line.model)
        else:
            self.said.emit(self.tr("No serial number is known of this session: name its unit first."))

    @Slot(object)
    def _ask_model(self, line: object) -> None:
        if isinstance(line, SessionLine) and line.model:
            self._practice = line.practice
            self._history.ask(partial(self._papers.model_history, line.model, practice=line.practice))
        else:
            self.said.emit(self.tr("The model is not known of this session: name its unit first."))

    @Slot(object)
    def _show_model(self, history: object) -> None:
        if isinstance(history, ModelHistory):
            self.model_sheet = ModelSheet(history, self._window, practice=self._practice)
            self.model_sheet.open()

    # --- traces -----------------------------------------------------------------------------------------

    @Slot()
    def _lay(self) -> None:
        self.said.emit(self.tr("The traces are being read …"))
        self._laying.ask(partial(self._papers.laid, [line.key for line in self._lines]))

    @Slot(object)
    def _show_laid(self, laid: object) -> None:
        self.said.emit("")
        if isinstance(laid, tuple):
            self.laid_sheet = LaidSheet(laid, self._window)
            self.laid_sheet.open()

    # --- from another bench -----------------------------------------------------------------------------

    @Slot()
    def _choose_bundle(self) -> None:
        self._choosing = QFileDialog(self._window, worded(self.tr("Import a bundle from another bench")))
        self._choosing.setFileMode(QFileDialog.FileMode.ExistingFiles)
        self._choosing.setNameFilter("Bundle (*.zip)")
        self._choosing.filesSelected.connect(self._chosen)
        self._choosing.open()

    @Slot(list)
    def _chosen(self, paths: list[str]) -> None:
        self.take_in(*paths)

    def take_in(self, *paths: str) -> None:
        """Take the sessions out of bundles, one after the other."""
        if paths:
            self.said.emit(self.tr("The bundle is being checked …"))
            self._taking.ask(partial(self._take_each, paths))

    def _take_each(self, paths: Sequence[str]) -> str:
        """What came of each, in a sentence; a bad one does not stop the others. In a thread."""
        said = []
        for path in paths:
            try:
                said.append(self._papers.take_in(Path(path)))
            except (OSError, ValueError) as refusal:
                said.append(f"{refusal}.".replace("..", "."))
        return " ".join(said)

    @Slot(object)
    def _took(self, said: object) -> None:
        self._filed = False
        self.taken_in.emit()
        self.said.emit(str(said))
