"""Words and blanks one after the other, broken into lines like a sentence."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QSizePolicy, QWidget

from app.windows.jobs.blanks import HEIGHT, Blank
from app.windows.worded import Label

GAP = 8
LINE_GAP = 8


class Flow(QLayout):
    """Lays things out from left to right and begins a new line where the width ends."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        self.setContentsMargins(0, 0, 0, 0)

    def addItem(self, item: QLayoutItem) -> None:
        """Add one."""
        self._items.append(item)

    def count(self) -> int:
        """How many there are."""
        return len(self._items)

    def itemAt(self, index: int) -> QLayoutItem:
        """The one at a place; None beyond the last, as Qt asks."""
        return self._items[index] if 0 <= index < len(self._items) else None  # type: ignore[return-value]

    def takeAt(self, index: int) -> QLayoutItem:
        """Let go of one."""
        return self._items.pop(index) if 0 <= index < len(self._items) else None  # type: ignore[return-value]

    def expandingDirections(self) -> Qt.Orientation:
        """None."""
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        """Lines break."""
        return True

    def heightForWidth(self, width: int) -> int:
        """As high as the lines need."""
        return self._arrange(QRect(0, 0, width, 0), move=False)

    def setGeometry(self, rect: QRect) -> None:
        """Put everything in its place."""
        super().setGeometry(rect)
        self._arrange(rect, move=True)

    def sizeHint(self) -> QSize:
        """See `minimumSize`; the height follows from the width."""
        return self.minimumSize()

    def minimumSize(self) -> QSize:
        """Room for the widest."""
        sizes = [item.minimumSize() for item in self._items]
        return QSize(max((s.width() for s in sizes), default=0), max((s.height() for s in sizes), default=0))

    def _arrange(self, rect: QRect, *, move: bool) -> int:
        """The height that is taken; `move` puts things there."""
        top, line, x = rect.top(), list[_Placed](), 0
        placed = [_Placed(item, self._width(item, rect.width())) for item in self._items if _seen(item)]
        for number, one in enumerate(placed):
            need = one.width
            if isinstance(one.item.widget(), Label) and number + 1 < len(placed):
                need += GAP + placed[number + 1].width  # a word stays with the blank behind it
            if line and x + need > rect.width():
                top += self._line(line, rect, top, move=move) + LINE_GAP
                line, x = [], 0
            line.append(one)
            x += one.width + GAP
        return top + self._line(line, rect, top, move=move) - rect.top()

    def _line(self, line: list[_Placed], rect: QRect, top: int, *, move: bool) -> int:
        """Place one line; its height. What can be written in shares the room that is left by its width."""
        greedy = sum(one.width for one in line if _grows(one.item))
        left = rect.width() - sum(one.width for one in line) - GAP * (len(line) - 1)
        if greedy and left > 0:
            line = [
                _Placed(one.item, one.width + left * one.width // greedy) if _grows(one.item) else one
                for one in line
            ]
        heights = [self._height(one) for one in line]
        if move:
            x = rect.left()
            for one, tall in zip(line, heights, strict=True):
                one.item.setGeometry(QRect(QPoint(x, top), QSize(one.width, tall)))
                x += one.width + GAP
        return max(heights, default=0)

    def _width(self, item: QLayoutItem, most: int) -> int:
        return min(max(item.sizeHint().width(), item.minimumSize().width()), most)

    def _height(self, one: _Placed) -> int:
        if one.item.hasHeightForWidth():
            return max(one.item.heightForWidth(one.width), one.item.minimumSize().height())
        return max(one.item.sizeHint().height(), one.item.minimumSize().height())


@dataclass(frozen=True, slots=True)
class _Placed:
    """A thing on a line, and how wide it is."""

    item: QLayoutItem
    width: int


def _seen(item: QLayoutItem) -> bool:
    widget = item.widget()
    return widget is None or not widget.isHidden()


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
        flow = Flow(self)
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
