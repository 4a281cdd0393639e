"""The start screen's way to what is done beforehand: amplifiers, files to be checked, and the settings."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSize, Signal, Slot
from PySide6.QtWidgets import QComboBox, QWidget

from app.windows.lettering import Sentence
from app.windows.start_lines import Line
from app.windows.theme import shades
from app.windows.worded import Button

MOST_NAMED = 3


class PrepareLine(Line):
    """`edit` carries the key of the amplifier that is chosen above, or nothing for a new one."""

    edit = Signal(str)
    check = Signal()

    def __init__(self, chosen: QComboBox, settings: QWidget, parent: QWidget) -> None:
        super().__init__(parent.tr("Prepare"), "", parent)
        self._chosen = chosen
        self.edit_button = self._key("", self._edit)
        self.new_button = self._key(self.tr("a &new amplifier"), self._new)
        self.check_button = self._key(self.tr("check fi&les"), self.check)
        self._broken = Sentence(16.0, bold=False, parent=self)
        self._broken.setMinimumHeight(40)
        self._broken.hide()
        chosen.currentIndexChanged.connect(self._name)
        self.say(self.edit_button, self.new_button, self.check_button, settings, self._broken)
        self._name()

    def _key(self, words: str, pressed: object) -> Button:
        button = Button(words, self)
        button.setMinimumHeight(48)
        button.clicked.connect(pressed)
        return button

    @property
    def broken(self) -> str:
        """Which files cannot be used."""
        return self._broken.text

    def show_broken(self, broken: Sequence[str]) -> None:
        """Name the files that cannot be used."""
        more = "" if len(broken) <= MOST_NAMED else " …"
        words = self.tr("Cannot be used: {files}{more}").format(
            files=", ".join(broken[:MOST_NAMED]), more=more
        )
        self._broken.show_text(words if broken else "", shades().outside)
        self._broken.setVisible(bool(broken))

    @Slot()
    def _name(self) -> None:
        name = self._chosen.currentText()
        self.edit_button.setText(self.tr("&edit {amplifier}").format(amplifier=name.replace("&", "&&")))
        self.edit_button.setVisible(bool(name))

    def minimumSizeHint(self) -> QSize:
        """One row."""
        return QSize(300, 72)

    @Slot()
    def _edit(self) -> None:
        self.edit.emit(str(self._chosen.currentData() or ""))

    @Slot()
    def _new(self) -> None:
        self.edit.emit("")
