"""Asking where to a session's readings or its report are to be written."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QWidget

from app.language import worded


def ask_for_csv(parent: QWidget, title: str, chosen: Callable[[str], None]) -> QFileDialog:
    """Ask for a CSV file; see `ask_for_file`."""
    return ask_for_file(parent, title, "csv", chosen)


def ask_for_file(parent: QWidget, title: str, suffix: str, chosen: Callable[[str], None]) -> QFileDialog:
    """Open the dialogue, which deletes itself; `chosen`, a slot of a QObject, is given the path.

    The caller keeps what is returned: nothing else does.
    """
    dialog = QFileDialog(parent, worded(title))
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
    dialog.setDefaultSuffix(suffix)
    dialog.fileSelected.connect(chosen)
    dialog.open()
    return dialog
