"""Words and blanks one after the other, broken into lines like a sentence."""

from __future__ import annotations

from PySide6.QtWidgets import QLayoutItem, QSizePolicy, QWidget

from app.windows.flow import Flow
from app.windows.jobs.blanks import HEIGHT, Blank
from app.windows.worded import Label

GAP = 8


class Sentence(Flow):
    """A word stays on the line of the blank behind it; the blanks share what is left of a line."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent, GAP, GAP)
        self._top = True  # a sentence about one blank stands below it and moves no other

    def _lines(self, width: int) -> list[list[QLayoutItem]]:
        shown = [item for item in self._items if not item.isEmpty()]
        wanted = [min(max(i.sizeHint().width(), i.minimumSize().width()), width) for i in shown]
        lines: list[list[QLayoutItem]] = []
        left = 0
        for number, item in enumerate(shown):
            need = wanted[number]
            if isinstance(item.widget(), Label) and number + 1 < len(shown):
                need += GAP + wanted[number + 1]
            if not lines or (need > left and left < width):
                lines.append([])
                left = width
            lines[-1].append(item)
            left -= wanted[number] + GAP
        return lines

    def _widths(self, line: list[QLayoutItem], width: int) -> list[int]:
        widths = [min(max(i.sizeHint().width(), i.minimumSize().width()), width) for i in line]
        left = width - sum(widths) - GAP * (len(line) - 1)
        greedy = sum(wide for item, wide in zip(line, widths, strict=True) if _grows(item))
        if not greedy or left <= 0:
            return widths
        return [
            wide + left * wide // greedy if _grows(item) else wide
            for item, wide in zip(line, widths, strict=True)
        ]


def _grows(item: QLayoutItem) -> bool:
    widget = item.widget()
    return (
        isinstance(widget, Blank) and widget.sizePolicy().horizontalPolicy() == QSizePolicy.Policy.Expanding
    )


class Line(QWidget):
    """A sentence with blanks in it: strings are words, widgets stand among them."""

    WORD_HEIGHT = HEIGHT

    def __init__(self, *parts: object, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        flow = Sentence(self)
        for part in parts:
            if isinstance(part, QWidget):
                flow.addWidget(part)
                continue
            word = Label(str(part), self)
            word.setFixedHeight(self.WORD_HEIGHT)
            flow.addWidget(word)
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def hasHeightForWidth(self) -> bool:
        """Lines break."""
        return True

    def heightForWidth(self, width: int) -> int:
        """As the layout needs."""
        layout = self.layout()
        return layout.heightForWidth(width) if layout is not None else 0
