"""The question before changes to a form are given up."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QWidget

from app.windows.worded import MessageBox


def _tr(text: str) -> str:
    return QCoreApplication.translate("LeaveQuestion", text)


class LeaveQuestion(MessageBox):
    """Save (where it can be), leave without saving, or go on editing, which is the default."""

    def __init__(self, parent: QWidget, name: str, to_do: str, then: Callable[[int], None]) -> None:
        super().__init__(parent)
        self.setWindowTitle("Warmtrim")
        self.setText(_tr("What you changed in {name} is not saved.").format(name=name))
        self.setInformativeText(to_do)
        self._save = None if to_do else self.add_button(_tr("Save it"), MessageBox.ButtonRole.AcceptRole)
        self._keep = self.add_button(_tr("Keep it as a draft"), MessageBox.ButtonRole.AcceptRole)
        self._leave = self.add_button(_tr("Leave without saving"), MessageBox.ButtonRole.DestructiveRole)
        self.ask(_tr("Go on editing"), then)

    @property
    def saving(self) -> bool:
        """Whether it is to be saved."""
        return self._save is not None and self.clickedButton() is self._save

    @property
    def keeping(self) -> bool:
        """Whether it is to be kept as a draft, which is no amplifier yet."""
        return self.clickedButton() is self._keep

    @property
    def leaving(self) -> bool:
        """Whether the changes are given up."""
        return self.clickedButton() is self._leave


class ReplaceQuestion(MessageBox):
    """Whether another file of the same amplifier is to be replaced; not doing so is the default."""

    def __init__(self, parent: QWidget, name: str, file: str, then: Callable[[int], None]) -> None:
        super().__init__(parent)
        self.setWindowTitle("Warmtrim")
        self.setText(_tr("{name} stands in {file} already.").format(name=name, file=file))
        self.setInformativeText(
            _tr("Replace it? What stands there now is kept beside it, as {file}.before.").format(file=file)
        )
        self._replace = self.add_button(_tr("Replace it"), MessageBox.ButtonRole.AcceptRole)
        self.ask(_tr("Give it another name"), then)

    @property
    def replacing(self) -> bool:
        """Whether it is to be replaced."""
        return self.clickedButton() is self._replace
