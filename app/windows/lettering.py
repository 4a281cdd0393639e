"""Text that takes the size its place allows, and the one big key."""

from __future__ import annotations

import re

from PySide6.QtCore import QRect, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPaintEvent, QPen, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.language import worded
from app.windows.theme import shades, sized_font
from app.windows.worded import Button, WordedWidget

_WRAP = Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_UNIT_APART = re.compile(
    r"(?<=\d) (?=(?:mV|mA|V|A|W|k?Ω|°C|min|h|s|%|dB|k?Hz)(?!\w))|(?<=±) |(?<=\d h) (?=\d)"
)
LEAST_LETTER = 11.0  # style pixels: less is not worth writing
NARROW_PLATE = 240.0  # of a key whose cap may stand above its words
LEAST_UNDER = 16.0  # for the words then
_STEPS = (1.0, 0.92, 0.84, 0.76, 0.68, 0.60, 0.54, 0.48, 0.42, 0.36)


def largest_fitting(widget: QWidget, text: str, box: QRect, largest: float, bold: bool = True) -> float:
    """The largest text height, from `largest` down to about a third of it, with which the text fits."""
    for share in _STEPS:
        metrics = QFontMetrics(sized_font(widget, largest * share, bold))
        words = max((metrics.horizontalAdvance(w) for w in text.split()), default=0)
        need = metrics.boundingRect(box, int(_WRAP), text)
        if need.height() <= box.height() and need.width() <= box.width() and words <= box.width():
            return largest * share
    return largest * _STEPS[-1]


def draw_plate(painter: QPainter, button: Button, radius: float) -> tuple[QRectF, str]:
    """Draw the ground of a key as the button stands (pressed, in focus, without effect).

    Returns the plate's place and the colour in which to write on it.
    """
    colours = shades()
    live = button.isEnabled()
    ground, ink = (colours.accent, colours.on_accent) if live else (colours.ground, colours.muted)
    if live and button.isDown():
        ground, ink = ink, ground
    edge = colours.focus if button.hasFocus() else (ground if live else colours.rule)
    painter.setPen(QPen(QColor(edge), 4.0))
    painter.setBrush(QColor(ground))
    plate = QRectF(button.rect()).adjusted(2, 2, -2, -2)
    painter.drawRoundedRect(plate, radius, radius)
    return plate, ink


class Sentence(WordedWidget):
    """One sentence, as large as fits."""

    def __init__(self, largest: float, bold: bool = True, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._text = ""
        self._largest = largest
        self._bold = bold
        self._colour = ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    @property
    def text(self) -> str:
        """What is shown."""
        return self._text

    def show_text(self, text: str, colour: str = "") -> None:
        """Show other words; `colour` empty means ink."""
        if (text, colour) != (self._text, self._colour):
            self._text, self._colour = text, colour
            self.setAccessibleName(text)
            self.update()

    @property
    def letter(self) -> float:
        """The height of its letters as it is drawn now, in style pixels."""
        return largest_fitting(self, self._words(), self.rect(), self._largest, self._bold)

    def height_for(self, width: int, letter: float) -> int:
        """The height that the text needs in letters of this size."""
        metrics = QFontMetrics(sized_font(self, letter, self._bold))
        return metrics.boundingRect(QRect(0, 0, max(width, 1), 10_000), int(_WRAP), self._words()).height()

    def _words(self) -> str:
        """The text as it is set: a value and its unit stay together, and "mV/min" (word joiner)."""
        return _UNIT_APART.sub("\u00a0", worded(self._text)).replace("/", "/\u2060")

    def set_largest(self, pixels: float) -> None:
        """Change the largest size that is tried."""
        if pixels != self._largest:
            self._largest = pixels
            self.update()

    def minimumSizeHint(self) -> QSize:
        """One line at the smallest size that is tried."""
        return QSize(80, round(self._largest * 0.5))

    def sizeHint(self) -> QSize:
        """One line at full size."""
        return QSize(300, round(self._largest * 1.3))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the sentence."""
        painter = QPainter(self)
        painter.setFont(sized_font(self, self.letter, self._bold))
        painter.setPen(QColor(self._colour or shades().ink))
        painter.drawText(self.rect(), int(_WRAP), self._words())
        painter.end()


class Lines(Sentence):
    """Lines in the order of their weight; the last ones are left out where there is no room to read them."""

    def __init__(self, largest: float, parent: QWidget) -> None:
        super().__init__(largest, bold=False, parent=parent)
        self._lines: list[str] = []
        self._line_colour = self._shorter = ""

    def show_lines(self, lines: list[str], colour: str, shorter: str = "") -> None:
        """Show other lines; `shorter` says the first one in fewer words, where not even that has room."""
        self._lines, self._line_colour, self._shorter = lines, colour, shorter
        self._weigh()

    def _weigh(self) -> None:
        for count in range(len(self._lines), -1, -1):
            self.show_text("\n".join(self._lines[:count]), self._line_colour)
            if not self.isVisible() or self.height_for(self.width(), LEAST_LETTER) <= self.height():
                return
            if count <= 1:
                break
        if self._lines and self._shorter:
            self.show_text(self._shorter, self._line_colour)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another size has other room."""
        super().resizeEvent(event)
        if self._lines:
            self._weigh()

    def showEvent(self, event: QShowEvent) -> None:
        """What was said while it was hidden is weighed now."""
        super().showEvent(event)
        if self._lines:
            self._weigh()


class BigKey(Button):
    """The key for the next thing: says what it will do, and with which key."""

    def __init__(self, key_name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._key_name = key_name
        self._instead = ""
        self._cap = key_name
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(100, 48)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)

    @property
    def cap(self) -> str:
        """The key that is drawn on it."""
        return self._cap

    def show_label(self, label: str, instead: str = "", cap: str = "") -> None:
        """Say what the key does now.

        With an empty label it does nothing, and `instead` says what is to be done; `cap` is the key for that.
        """
        named = bool(label or cap)  # a key that does nothing is not named beside what is to be done instead
        cap = cap or self._key_name
        shown = self.english(), self._instead, self._cap
        if (label, instead, cap) != shown or bool(label) != self.isEnabled():
            self.setText(label)
            self._instead, self._cap = instead, cap
            self.setEnabled(bool(label))
            name = (label or instead) + (f" ({cap})" if named else "") or self.tr("Nothing to do now")
            self.setAccessibleName(name)
            self.update()

    def sizeHint(self) -> QSize:
        """Large enough for gloves and for two metres."""
        return QSize(330, 104)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw a plate with a key cap and the words."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        live = self.isEnabled()
        plate, ink = draw_plate(painter, self, 18.0)
        cap_font = sized_font(self, max(12.0, self.height() * 0.15))
        cap_width = QFontMetrics(cap_font).horizontalAdvance(worded(self._cap)) + 22
        words = self.text() or worded(self._instead or self.tr("nothing to do now"))
        cap, box, size = self._places(plate, cap_width, words, live)
        painter.setPen(QPen(QColor(ink), 2.0))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRoundedRect(cap, 7.0, 7.0)
        painter.setFont(cap_font)
        painter.drawText(cap, Qt.AlignmentFlag.AlignCenter, worded(self._cap))
        painter.setFont(sized_font(self, size, bold=live))
        painter.drawText(box, int(_WRAP), words)
        painter.end()

    def _places(
        self, plate: QRectF, cap_width: float, words: str, live: bool
    ) -> tuple[QRectF, QRectF, float]:
        """Where the cap and the words stand, and their letters; on a narrow plate as they are largest."""
        most = min(34.0, self.height() * 0.32) if live else 18.0
        high = min(34.0, plate.height() - 12)
        cap = QRectF(plate.left() + 14, plate.center().y() - high / 2.0, cap_width, high)
        box = QRectF(cap.right() + 14, plate.top() + 6, plate.right() - cap.right() - 26, plate.height() - 12)
        if plate.width() >= NARROW_PLATE:
            return cap, box, largest_fitting(self, words, box.toRect(), most, bold=live)
        cap = QRectF(plate.left() + 10, plate.center().y() - 11, cap_width, 22)
        box = QRectF(cap.right() + 6, plate.top() + 2, plate.right() - cap.right() - 12, plate.height() - 4)
        beside = largest_fitting(self, words, box.toRect(), most, bold=live)
        above = cap.translated(0.0, plate.top() + 6 - cap.top())
        under = QRectF(plate.left() + 10, above.bottom() + 2, plate.width() - 20, plate.height() - 34)
        if under.height() >= LEAST_UNDER:
            most = min(34.0, under.height()) if live else 18.0
            size = largest_fitting(self, words, under.toRect(), most, bold=live)
            if size >= beside:
                return above, under, size
        return cap, box, beside
