"""Targets side by side where the manual is silent: a person chooses one, and says who and why.

The order is fixed and no recommendation; a theoretical figure is marked as a ruler. The candidates and what
they mean in heat are those of `procedures.derived_target`.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRect, QSize, Qt, Signal, Slot
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QButtonGroup, QSizePolicy, QVBoxLayout, QWidget

from app.language import worded
from app.windows.number_sign import signed
from app.windows.target_editing import shown_amperes
from app.windows.theme import shades, sized_font
from app.windows.worded import DrawnButton, Form, Label, LineEdit
from app.windows.wording import number_from
from drivers.reading import Unit
from procedures.amplifier import EMITTER_POINTS, Amplifier
from procedures.analysis.figures import figure
from procedures.derived_target import (
    Candidate,
    Origin,
    candidates,
    class_a_watts,
    idle_heat,
    with_chosen_target,
)

NOMINAL_OHM = 8.0
UNDER = 15  # style pixels of the words under a candidate
_WRAPPED = int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)


class CandidateRow(DrawnButton):
    """One candidate: its millivolts, where it comes from, and what it means in heat."""

    def __init__(self, candidate: Candidate, heat: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.candidate = candidate
        self._heat = heat
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        ruler = self.tr(" (a ruler, no target)") if candidate.ruler else ""
        words = signed(f"{figure(candidate.volts)}   {candidate.origin.value}{ruler}")
        self.setText(words)
        self.setAccessibleName(signed(f"{words}: {candidate.how}; {heat}"))

    def sizeHint(self) -> QSize:
        """See `heightForWidth`."""
        return QSize(420, self.heightForWidth(420))

    def minimumSizeHint(self) -> QSize:
        """What it means wraps."""
        return QSize(240, 62)

    def hasHeightForWidth(self) -> bool:
        """What it means takes the lines that it needs."""
        return True

    def heightForWidth(self, width: int) -> int:
        """A line, and under it where it comes from and what it means."""
        metrics = QFontMetrics(sized_font(self, UNDER))
        box = metrics.boundingRect(QRect(0, 0, max(width - 32, 80), 1000), _WRAPPED, worded(self._under))
        return 44 + box.height()

    @property
    def _under(self) -> str:
        return signed(f"{self.candidate.how}; {self._heat}" if self._heat else self.candidate.how)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the plate; a chosen one has a bar at its left, not only another colour."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours = shades()
        edge = colours.ring if self.hasFocus() else colours.ink if self.isChecked() else colours.rule
        painter.setPen(QPen(QColor(edge), 3.0 if self.isChecked() or self.hasFocus() else 1.5))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRoundedRect(self.rect().adjusted(2, 2, -2, -2), 8, 8)
        if self.isChecked():
            painter.fillRect(6, 12, 7, self.height() - 24, QColor(colours.ink))
        painter.setPen(QColor(colours.ink))
        place = QRect(22, 6, self.width() - 32, 26)
        painter.setFont(sized_font(self, title_letter(self, self.text(), place.width()), bold=True))
        painter.drawText(place, int(Qt.AlignmentFlag.AlignVCenter), self.text())
        painter.setPen(QColor(colours.muted))
        painter.setFont(sized_font(self, UNDER))
        painter.drawText(self.rect().adjusted(22, 33, -10, -6), _WRAPPED, worded(self._under))
        painter.end()


def title_letter(widget: QWidget, words: str, room: int) -> int:
    """The size of the letters with which a title has room on its line; 12 at the least."""
    sizes = range(17, 12, -1)
    fonts = ((size, QFontMetrics(sized_font(widget, size, bold=True))) for size in sizes)
    return next((size for size, metrics in fonts if metrics.horizontalAdvance(words) <= room), 12)


class CandidatesPanel(QWidget):
    """The candidates of an amplifier's first channel, and the words that belong to a choice."""

    chosen = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._history: tuple[float, ...] = ()
        self._amplifier: Amplifier | None = None
        self._group = QButtonGroup(self)
        self._group.idToggled.connect(self._toggled)
        self.other, self.by, self.reason = LineEdit(self), LineEdit(self), LineEdit(self)
        self.other.setPlaceholderText(signed("13.2"))
        self.trouble = Label(self)
        self.trouble.setProperty("role", "trouble")
        self.trouble.setWordWrap(True)
        title = Label(self.tr("Side by side: choose one, none is recommended"), self)
        title.setStyleSheet("font-size: 18px; font-weight: 600;")
        title.setWordWrap(True)
        self._rows = QVBoxLayout()
        self._rows.setSpacing(6)
        words = Form()
        words.setRowWrapPolicy(Form.RowWrapPolicy.WrapLongRows)
        for text, field in (
            (self.tr("The other channel, untouched, reads (mV)"), self.other),
            (self.tr("Chosen by"), self.by),
            (self.tr("Why this one"), self.reason),
        ):
            field.setAccessibleName(text)
            field.setMinimumHeight(36)
            words.addRow(text, field)
        self.other.textChanged.connect(self._list_again)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 8, 0, 0)
        layout.setSpacing(8)
        layout.addWidget(title)
        layout.addLayout(self._rows)
        layout.addLayout(words)
        layout.addWidget(self.trouble)

    @property
    def rows(self) -> list[CandidateRow]:
        """The candidates as they stand."""
        return [button for button in self._group.buttons() if isinstance(button, CandidateRow)]

    def show_amplifier(self, amplifier: Amplifier | None) -> None:
        """Set the candidates of an amplifier side by side; the first is its chosen current."""
        self._amplifier = amplifier
        self._list_again()

    def show_history(self, left_at_volts: Sequence[float]) -> None:
        """Set what units of this model were left at beside the others; nothing without any."""
        if tuple(left_at_volts) != self._history:
            self._history = tuple(left_at_volts)
            self._list_again()

    @Slot()
    def _list_again(self) -> None:
        chosen = self._chosen_origin()
        for row in self.rows:
            self._group.removeButton(row)
            self._rows.removeWidget(row)
            row.hide()
            row.deleteLater()
        self.trouble.clear()
        amplifier = self._amplifier
        if amplifier is None:
            return
        channel = amplifier.channel[0]
        found = candidates(
            amplifier,
            channel,
            chosen_amperes=shown_amperes(amplifier),
            others=self._others(),
            history_volts=self._history,
        )
        for number, candidate in enumerate(found):
            row = CandidateRow(candidate, self._heat(amplifier, candidate), self)
            self._group.addButton(row, number)
            self._rows.addWidget(row)
            if candidate.origin is chosen:
                row.setChecked(True)
        if self.rows and self._group.checkedId() < 0:
            self.rows[0].setChecked(True)

    def _chosen_origin(self) -> Origin:
        row = self._group.checkedButton()
        return row.candidate.origin if isinstance(row, CandidateRow) else Origin.CHOSEN_CURRENT

    def _others(self) -> tuple[tuple[str, float], ...]:
        if not self.other.text().strip():
            return ()
        try:
            millivolts = number_from(self.other.text())
        except ValueError as refusal:
            self.trouble.setText(f"{refusal}.")
            return ()
        if not 0.0 < millivolts < 1000.0:
            self.trouble.setText(self.tr("The other channel must read between 0 and 1000 mV."))
            return ()
        return ((self.tr("the other channel"), millivolts / 1000.0),)

    def _heat(self, amplifier: Amplifier, candidate: Candidate) -> str:
        if candidate.amperes is None:
            return ""
        parts = [f"{figure(candidate.amperes, Unit.AMPERE)}"]
        heat = idle_heat(amplifier, candidate.amperes)
        if heat is None:
            parts.append(self.tr("heat not known without the rail voltage"))
        else:
            over = self.tr(", over its limit") if heat.over_limit else ""
            parts.append(
                self.tr("{watts} idle in each device{over}").format(
                    watts=figure(heat.device_watts, Unit.WATT), over=over
                )
            )
            if heat.sink_rise_k is not None:
                parts.append(self.tr("heatsink about {rise:.0f} K warmer").format(rise=heat.sink_rise_k))
        parts.append(
            self.tr("class A to {watts} into 8 Ω").format(
                watts=figure(class_a_watts(candidate.amperes, NOMINAL_OHM), Unit.WATT)
            )
        )
        return ", ".join(parts)

    @Slot()
    def _toggled(self) -> None:
        self.chosen.emit()

    def apply(self, amplifier: Amplifier, tolerance_percent: float) -> Amplifier | None:
        """The amplifier with what was chosen, kept with who and why; None where that is missing.

        The chosen current needs no words, because it is what was entered; with a reason it is kept too.
        """
        row = self._group.checkedButton()
        if not isinstance(row, CandidateRow):
            return amplifier
        words = self.by.text().strip(), self.reason.text().strip()
        if row.candidate.origin is Origin.CHOSEN_CURRENT and not any(words):
            return amplifier
        try:
            for channel in (one for one in amplifier.channel if one.test_point in EMITTER_POINTS):
                amplifier = with_chosen_target(
                    amplifier,
                    channel.name,
                    row.candidate,
                    chosen_by=words[0],
                    reason=words[1],
                    tolerance_percent=tolerance_percent,
                )
        except ValueError as refusal:
            said = str(refusal)
            self.trouble.setText(f"{said[:1].upper()}{said[1:]}.")
            (self.reason if words[0] else self.by).setFocus(Qt.FocusReason.OtherFocusReason)
            return None
        return amplifier
