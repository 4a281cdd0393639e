"""After practice: what the person thinks was the matter, then how it went, in sentences."""

from __future__ import annotations

from typing import Protocol, runtime_checkable

from PySide6.QtCore import QObject, QSize, Qt, Slot
from PySide6.QtGui import QFontMetrics, QResizeEvent
from PySide6.QtWidgets import QCheckBox, QScrollArea, QVBoxLayout, QWidget

from app.language import worded
from app.windows.number_sign import signed
from app.windows.ports import BenchPort
from app.windows.worded import Button, CheckBox, Dialog, Label
from procedures.assessment import Assessment
from procedures.assessment_words import told
from procedures.defects import DEFECT_WORDS

BESIDE_WORDS = 150  # style pixels: margins, the box, a bar to scroll with


@runtime_checkable
class Practised(Protocol):
    """A bench of practice that can say how it went."""

    def assessment(self, named: tuple[str, ...] | None = None) -> Assessment | None:
        """How the practice went, once the run has ended; None before. Raises OSError, ValueError.

        `named` is what the person thinks was the matter; it is kept in the record.
        """
        ...


def wrapped(words: str, metrics: QFontMetrics, width: int) -> str:
    """Words on lines that are no broader than this, in pixels."""
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and metrics.horizontalAdvance(longer) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return "\n".join(lines)


class AssessmentSheet(Dialog):
    """Asks first, then tells; both on one sheet, which may be closed at any time.

    With `asks` False it tells at once, as of a session that is looked back at.
    """

    def __init__(self, bench: Practised, parent: QWidget | None = None, *, asks: bool = True) -> None:
        super().__init__(parent)
        self._bench = bench
        self.setWindowTitle(self.tr("Practice: how it went"))
        self.setMinimumWidth(640)
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(24, 20, 24, 20)
        self._layout.setSpacing(8)
        self._head = Label(
            self.tr("PRACTICE. Was anything the matter with this unit? Tick what you found, or nothing."),
            self,
        )
        self._head.setWordWrap(True)
        self._head.setStyleSheet("font-size: 18px; font-weight: 600;")
        self._head.setMinimumHeight(56)  # two lines: a wrapped label claims less than it needs
        self._layout.addWidget(self._head)
        self._boxes = {kind: CheckBox(words, self) for kind, words in DEFECT_WORDS.items()}
        self._inside = QWidget(self)
        rows = QVBoxLayout(self._inside)
        rows.setSpacing(8)
        for box in self._boxes.values():
            rows.addWidget(box)
        self._text = Label(self)
        self._text.setWordWrap(True)
        self._text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._text.hide()
        rows.addWidget(self._text)
        rows.addStretch(1)
        self._area = QScrollArea(self)  # the list is longer than a small window is high
        self._area.setWidgetResizable(True)
        self._area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._area.setFrameShape(QScrollArea.Shape.NoFrame)
        self._area.setWidget(self._inside)
        self._area.setMinimumHeight(160)
        self._layout.addWidget(self._area, 1)
        self.key = Button(self.tr("Show how it went"), self)
        self.key.setMinimumHeight(48)
        self.key.setDefault(True)
        self.key.clicked.connect(self._next)
        self._layout.addWidget(self.key)
        if not asks:
            self._next()

    def sizeHint(self) -> QSize:
        """As high as its list, and no higher than nine tenths of the window behind it."""
        inside, behind = self._inside, self.parentWidget()
        width = max(640, self.minimumWidth())
        wanted = inside.heightForWidth(width - 40) if inside.hasHeightForWidth() else -1
        height = max(wanted, inside.sizeHint().height()) + 150
        most = behind.window().height() * 9 // 10 if behind is not None else 700
        return QSize(width, min(height, most))

    def focusNextPrevChild(self, following: bool) -> bool:
        """What has the focus is in sight."""
        moved = super().focusNextPrevChild(following)
        if (box := self.focusWidget()) is not None and box in self._boxes.values():
            self._area.ensureWidgetVisible(box)
        return moved

    def resizeEvent(self, event: QResizeEvent) -> None:
        """What may be the matter takes as many lines as it needs: a box does not wrap by itself."""
        super().resizeEvent(event)
        for box in self._boxes.values():
            lines = wrapped(worded(box.english()), box.fontMetrics(), self.width() - BESIDE_WORDS)
            QCheckBox.setText(box, lines)

    @property
    def text(self) -> str:
        """What the sheet says, once it has been asked."""
        return self._text.text()

    def tick(self, kind: str) -> None:
        """Tick one of the things that may be the matter."""
        self._boxes[kind].setChecked(True)

    @Slot()
    def _next(self) -> None:
        if self._text.text():
            self.accept()
            return
        kinds = tuple(kind for kind, box in self._boxes.items() if box.isChecked())
        try:
            went = self._bench.assessment(kinds)
        except (OSError, ValueError) as refusal:
            self._text.setText(str(refusal))
        else:
            self._text.setText(
                signed("\n\n".join(told(went))) if went is not None else self.tr("The run goes on.")
            )
        for box in self._boxes.values():
            box.hide()
        self._head.setText(self.tr("PRACTICE on the simulated bench: how it went"))
        self._text.show()
        self.key.setText(self.tr("Close"))
        self.adjustSize()


class AfterPractice(QObject):
    """Brings the sheet once, when a run of practice has ended; of a past one whenever it is asked for."""

    def __init__(self, bench: BenchPort, parent: QWidget) -> None:
        super().__init__(parent)
        self._bench = bench if isinstance(bench, Practised) else None
        self._parent = parent
        self.sheet: AssessmentSheet | None = None

    def look(self, ended: bool) -> None:
        """Show the sheet if the run has ended and it was not shown."""
        if ended and self._bench is not None and self.sheet is None and self._parent.isVisible():
            self.sheet = AssessmentSheet(self._bench, self._parent)
            self.sheet.open()

    @Slot()
    def look_back(self) -> None:
        """Show how a past session of practice went."""
        if self._bench is not None:
            self.sheet = AssessmentSheet(self._bench, self._parent, asks=False)
            self.sheet.open()
