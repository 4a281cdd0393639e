"""Saying which unit and job a session belongs to, at any time and never as a condition."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QDialogButtonBox, QVBoxLayout, QWidget

from app.language import worded
from app.windows.worded import Dialog, Form, Label, LineEdit


class NamingDialog(Dialog):
    """Asks for unit and job; both may stay empty."""

    named = Signal(str, str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Name unit and job"))
        self.unit = LineEdit(self)
        self.unit.setPlaceholderText(self.tr("model and serial number"))
        self.job = LineEdit(self)
        self.job.setPlaceholderText(self.tr("job number"))
        form = Form()
        form.addRow(self.tr("&Unit"), self.unit)
        form.addRow(self.tr("&Job"), self.job)
        buttons = QDialogButtonBox(self)
        buttons.addButton(worded(self.tr("Keep")), QDialogButtonBox.ButtonRole.AcceptRole)
        buttons.addButton(worded(self.tr("Not now")), QDialogButtonBox.ButtonRole.RejectRole)
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        self.accepted.connect(self._say)
        layout = QVBoxLayout(self)
        layout.addWidget(Label(self.tr("The readings are kept, named or not."), self))
        layout.addLayout(form)
        layout.addWidget(buttons)
        self.setMinimumWidth(420)

    @Slot()
    def _say(self) -> None:
        self.named.emit(self.unit.text().strip(), self.job.text().strip())
