"""Who the customer is: in a file of its own; the question before it is erased says what goes and stays."""

from __future__ import annotations

from dataclasses import fields

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.windows.jobs.blanks import HEIGHT, ShortBlank
from app.windows.jobs.flow import Line
from app.windows.jobs.pen import JobPen
from app.windows.worded import Button, CheckBox, MessageBox
from procedures.job import Customer

NAMES = tuple(one.name for one in fields(Customer))


class EraseQuestion(MessageBox):
    """Asks before the identity is erased. Keeping it is the default."""

    def __init__(self, reference: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Warmtrim")
        self.setText(self.tr("Erase who the customer is from this job?"))
        self.setInformativeText(
            self.tr(
                "What goes, for good: name, contact and the words beside them, and the photographs that are "
                "marked as showing who the customer is.\n\n"
                "What stays: the job's number, the unit, complaint, findings, parts and work, everything "
                "that was measured, and the other photographs. Look through them for names and labels.\n\n"
                "Out of reach: reports and bundles that were written before, and backup copies."
            )
        )
        self.reference = CheckBox(
            self.tr(
                "Clear the reference “{reference}” too, so that the archive finds nobody by it (what "
                "stood there can still be read in the job's journal)"
            ).format(reference=reference if len(reference) < 30 else f"{reference[:30]}…"),
            self,
        )
        if reference:
            self.setCheckBox(self.reference)
        else:
            self.reference.hide()
        self.erase = self.add_button(self.tr("Erase"), MessageBox.ButtonRole.DestructiveRole)
        self.add_harmless(self.tr("Keep it"))


class CustomerBlanks(QWidget):
    """Name, contact and words. `erased` says whether the reference is to be cleared too."""

    erased = Signal(bool)

    def __init__(self, pen: JobPen, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._pen = pen
        self.reference = ""
        self.pictured = False  # a photograph shows who it is
        self.question: EraseQuestion | None = None
        self.blanks = {
            "name": ShortBlank(self.tr("Customer's name"), self, wide=24),
            "contact": ShortBlank(
                self.tr("How to reach the customer"), self, example=self.tr("telephone, mail"), wide=24
            ),
            "words": ShortBlank(
                self.tr("What else about the customer"), self, example=self.tr("calls after six"), wide=24
            ),
        }
        for blank in self.blanks.values():
            blank.written.connect(self._written)
        self.erase = Button(self.tr("erase …"), self)
        self.erase.setProperty("role", "small")
        self.erase.setFixedHeight(HEIGHT)
        self.erase.setAccessibleName(self.tr("Erase who the customer is"))
        self.erase.clicked.connect(self.ask)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(
            Line(
                self.tr("brought by"),
                self.blanks["name"],
                self.tr("reached by"),
                self.blanks["contact"],
                self.blanks["words"],
                self.erase,
                parent=self,
            )
        )

    @property
    def filled(self) -> bool:
        """Whether anything is known."""
        return any(blank.words for blank in self.blanks.values())

    def show_customer(self, customer: Customer) -> None:
        """Show who it is."""
        for name in NAMES:
            self.blanks[name].show_words(getattr(customer, name))
        self.erase.setEnabled(self.filled or self.pictured)

    def commit(self) -> bool:
        """Hand on what is being written."""
        understood = [blank.commit() for blank in self.blanks.values()]
        return all(understood)

    @Slot()
    def _written(self) -> None:
        blank = self.sender()
        for name, one in self.blanks.items():
            if one is blank:
                self._pen.change_customer(**{name: one.words})
        self.erase.setEnabled(self.filled or self.pictured)

    @Slot()
    def ask(self) -> None:
        """Ask whether it is to be erased."""
        self.question = EraseQuestion(self.reference, self)
        self.question.buttonClicked.connect(self._answered)
        self.question.open()

    @Slot(object)
    def _answered(self, button: object) -> None:
        question, self.question = self.question, None
        if question is not None and button is question.erase:
            self._pen.do(lambda shelf, key: shelf.erase_customer(key))
            self.erased.emit(question.reference.isChecked())
