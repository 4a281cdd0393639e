"""The sheet with everything that can be done on the working screen, by what it is for, and its keys."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialogButtonBox, QGridLayout, QVBoxLayout, QWidget

from app.windows.actions import DEEDS, Deed
from app.windows.dialog_fit import FRAME
from app.windows.worded import Button, Dialog, Label

# Style pixels.
BESIDE = 190  # of the headings, where they stand beside the keys
BROAD = 900  # from here on they do
AROUND = 48  # margins, and a bar to scroll with
GAP = 6
MOST_COLUMNS = 4


class KeySheet(Dialog):
    """All deeds in the order of their table. `make` gives a key for a deed."""

    def __init__(self, make: Callable[[Deed, QWidget], Button], parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Everything that can be done here"))
        screen = self.screen().availableSize().width()
        room = min(parent.window().width(), screen) - FRAME.width() - AROUND
        self._beside = room >= BROAD
        headings = self._headings()
        parts: list[list[Button]] = []
        for deed in DEEDS:
            if deed.name in headings:
                parts.append([])
            button = make(deed, self)
            button.clicked.connect(self.accept)
            parts[-1].append(button)
        columns = columns_within(parts, room - (BESIDE if self._beside else 0))
        grid = self._set(list(headings.values()), parts, columns)
        close = QDialogButtonBox(QDialogButtonBox.StandardButton.Close, self)
        close.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addLayout(grid)
        layout.addWidget(close)

    def _headings(self) -> dict[str, str]:
        """What the deeds are for, by the first of each kind."""
        return {
            "next": self.tr("The job"),
            "lead": self.tr("Meters and unit"),
            "acknowledge": self.tr("Alarms and sound"),
            "stop": self.tr("The record"),
            "follow": self.tr("The traces"),
            "replay-slower": self.tr("Seeing it again"),
            "further-down": self.tr("The window"),
        }

    def _set(self, headings: list[str], parts: list[list[Button]], columns: int) -> QGridLayout:
        """Every part begins a line, with its heading beside the keys or above them."""
        grid = QGridLayout()
        grid.setSpacing(GAP)
        row = 0
        for words, part in zip(headings, parts, strict=True):
            heading = Label(words, self)
            heading.setStyleSheet("font-size: 17px; font-weight: 600;")
            if self._beside:
                heading.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                grid.addWidget(heading, row, 0)
            else:
                grid.addWidget(heading, row, 0, 1, columns)
                row += 1
            for number, button in enumerate(part):
                grid.addWidget(button, row + number // columns, number % columns + int(self._beside))
            row += (len(part) - 1) // columns + 1
        return grid


def columns_within(parts: list[list[Button]], room: int) -> int:
    """How many columns of keys there is room for, at least one."""
    for columns in range(MOST_COLUMNS, 1, -1):
        widest = [0] * columns
        for part in parts:
            for number, button in enumerate(part):
                place = number % columns
                widest[place] = max(widest[place], button.sizeHint().width())
        if sum(widest) + GAP * (columns - 1) <= room:
            return columns
    return 1
