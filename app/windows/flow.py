"""A layout that sets its parts like words: from left to right, then on the next line."""

from __future__ import annotations

from PySide6.QtCore import QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget

SHRUNK = 0.85  # of its width, for a part that would otherwise begin a line


class Flow(QLayout):
    """Lines as high as their highest part. On each line what is left over goes to the parts that expand."""

    def __init__(self, parent: QWidget | None = None, gap: int = 8, line_gap: int = 6) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        self._gap = gap
        self._line_gap = line_gap
        self._top = False  # whether the parts of a line begin at one height, instead of having one middle
        self.setContentsMargins(0, 0, 0, 0)

    def addItem(self, item: QLayoutItem) -> None:
        """Put a part at the end."""
        self._items.append(item)

    def count(self) -> int:
        """How many parts there are."""
        return len(self._items)

    def itemAt(self, index: int) -> QLayoutItem | None:
        """The part at a place."""
        return self._items[index] if 0 <= index < len(self._items) else None

    def takeAt(self, index: int) -> QLayoutItem | None:
        """Take a part out."""
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:
        """Takes no more than it is given."""
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        """Fewer letters a line, more lines."""
        return True

    def heightForWidth(self, width: int) -> int:
        """The height of all lines."""
        margins = self.contentsMargins()
        inner = width - margins.left() - margins.right()
        return self._set(QRect(0, 0, inner, 0), False) + margins.top() + margins.bottom()

    def setGeometry(self, rect: QRect) -> None:
        """Set the parts into their places."""
        super().setGeometry(rect)
        self._set(rect.marginsRemoved(self.contentsMargins()), True)

    def sizeHint(self) -> QSize:
        """All parts on one line."""
        shown = [item for item in self._items if not item.isEmpty()]
        width = sum(item.sizeHint().width() for item in shown) + self._gap * max(0, len(shown) - 1)
        height = max((item.sizeHint().height() for item in shown), default=0)
        return QSize(width, height).grownBy(self.contentsMargins())

    def minimumSize(self) -> QSize:
        """The widest part alone."""
        shown = [item for item in self._items if not item.isEmpty()]
        width = max((item.minimumSize().width() for item in shown), default=0)
        height = max((item.minimumSize().height() for item in shown), default=0)
        return QSize(width, height).grownBy(self.contentsMargins())

    def _lines(self, width: int) -> list[list[QLayoutItem]]:
        lines: list[list[QLayoutItem]] = []
        left = 0
        for item in (item for item in self._items if not item.isEmpty()):
            wanted = min(item.sizeHint().width(), width)
            least = max(item.minimumSize().width(), round(wanted * SHRUNK))
            if lines and least <= left < wanted:
                wanted = left
            elif not lines or wanted > left:
                lines.append([])
                left = width
            lines[-1].append(item)
            left -= wanted + self._gap
        return lines

    def _widths(self, line: list[QLayoutItem], width: int) -> list[int]:
        """How wide each part of a line is: the first that expands takes what is left over."""
        widths = [min(item.sizeHint().width(), width) for item in line]
        left_over = width - sum(widths) - self._gap * (len(line) - 1)
        if left_over < 0:  # the last one was let in because it can do with less
            widths[-1] += left_over
        for number, item in enumerate(line):
            if item.expandingDirections() & Qt.Orientation.Horizontal and left_over > 0:
                more = min(left_over, item.maximumSize().width() - widths[number])
                widths[number] += more
                left_over -= more
        return widths

    def _set(self, rect: QRect, place: bool) -> int:
        """The height of all lines; with `place` the parts are put there."""
        top = rect.top()
        for line in self._lines(rect.width()):
            widths = self._widths(line, rect.width())
            heights = [
                item.heightForWidth(width) if item.hasHeightForWidth() else item.sizeHint().height()
                for item, width in zip(line, widths, strict=True)
            ]
            high = max(heights)
            x = rect.left()
            for item, width, height in zip(line, widths, heights, strict=True) if place else ():
                below = 0 if self._top else (high - height) // 2
                item.setGeometry(QRect(x, top + below, width, height))
                x += width + self._gap
            top += high + self._line_gap
        return max(0, top - self._line_gap - rect.top())
