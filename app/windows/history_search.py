"""What is looked for among past sessions, as a sentence with blanks; asked while it is typed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from PySide6.QtCore import QTimer, Signal, Slot
from PySide6.QtWidgets import QWidget

from app.records.history_facts import Wanted
from app.windows.chooser import Chooser
from app.windows.flow import Flow
from app.windows.worded import Button, CheckBox, Label, LineEdit
from procedures.events import Outcome

PAUSE_MS = 150  # after the last letter


class HistorySearch(QWidget):
    """Fields that are asked as they are filled in. `asked` carries a `Wanted`, or None when all are empty."""

    asked = Signal(object)
    refused = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.words = self._field(self.tr("Words that stand anywhere in a session or its job"), 190)
        self.serial = self._field(self.tr("Serial number, or its beginning"), 120)
        self.model = self._field(self.tr("Model, or its beginning"), 110)
        self.reference = self._field(self.tr("Reference of the customer"), 110)
        self.since = self._field(self.tr("From this day on"), 118)
        self.until = self._field(self.tr("Up to this day"), 118)
        for day in (self.since, self.until):
            day.setPlaceholderText("2026-01-31")
        self.outcome = Chooser(self.tr("How it ended"), self, 16.0)
        self.outcome.addItem(self.tr("anyhow"), "")
        for one in Outcome:
            self.outcome.addItem(one.value, one.value)
        self.practice = CheckBox(self.tr("practice too"), self)
        self.practice.setChecked(True)
        self.all = Button(self.tr("show all &again"), self)
        self.all.clicked.connect(self.clear)
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(PAUSE_MS)
        self._pause.timeout.connect(self.ask)
        for field in self.fields:
            field.textChanged.connect(self._pause.start)
            field.returnPressed.connect(self.ask)
        self.outcome.currentIndexChanged.connect(self._pause.start)
        self.practice.toggled.connect(self._pause.start)
        self._arrange()

    @property
    def fields(self) -> tuple[LineEdit, ...]:
        """The blanks, in their order."""
        return (self.words, self.serial, self.model, self.reference, self.since, self.until)

    def _field(self, name: str, width: int) -> LineEdit:
        field = LineEdit(self)
        field.setAccessibleName(name)
        field.setToolTip(name)
        field.setFixedWidth(width)
        field.setMinimumHeight(40)
        return field

    def _arrange(self) -> None:
        row = Flow(self, 10, 6)
        sentence = (
            (self.tr("&Find"), self.words),
            (self.tr("serial"), self.serial),
            (self.tr("model"), self.model),
            (self.tr("customer's reference"), self.reference),
            (self.tr("ended"), self.outcome),
            (self.tr("from"), self.since),
            (self.tr("to"), self.until),
        )
        for word, control in sentence:
            label = Label(word, self)
            label.setStyleSheet("font-size: 18px;")
            label.setMinimumHeight(40)
            label.setBuddy(control)
            row.addWidget(label)
            row.addWidget(control)
        row.addWidget(self.practice)
        row.addWidget(self.all)

    def show_unit(self, serial: str, model: str) -> None:
        """Look for all visits of one unit."""
        self._set({self.serial: serial, self.model: model})

    @Slot()
    def clear(self) -> None:
        """Look for nothing: everything is shown."""
        self.practice.setChecked(True)
        self.outcome.setCurrentIndex(0)
        self._set({})

    def _set(self, wanted: dict[LineEdit, str]) -> None:
        for field in self.fields:
            field.setText(wanted.get(field, ""))
        self.ask()

    @property
    def looking(self) -> bool:
        """Whether anything is looked for."""
        try:
            return self.wanted() is not None
        except ValueError:
            return True

    @Slot()
    def ask(self) -> None:
        """Ask now."""
        self._pause.stop()
        try:
            self.asked.emit(self.wanted())
        except ValueError as refusal:
            self.refused.emit(str(refusal))

    def wanted(self) -> Wanted | None:
        """What is asked; None when every blank is empty. Raises ValueError for a day that is none."""
        since, until = self._day(self.since), self._day(self.until)
        asked = Wanted(
            serial=self.serial.text().strip(),
            model=self.model.text().strip(),
            reference=self.reference.text().strip(),
            outcome=str(self.outcome.currentData() or ""),
            since=_utc(since) if since is not None else None,
            until=_utc(until + timedelta(days=1)) if until is not None else None,
            words=self.words.text().strip(),
            practice=self.practice.isChecked(),
        )
        return None if asked == Wanted() else asked

    def _day(self, field: LineEdit) -> datetime | None:
        text = field.text().strip()
        if not text:
            return None
        try:
            day = datetime.strptime(text, "%Y-%m-%d")
            _utc(day + timedelta(days=1))  # a year in which no clock ran may have no next day
            return day
        except (ValueError, OverflowError, OSError):
            words = self.tr("“{text}” is no day: write year, month and day as 2026-01-31.")
            raise ValueError(words.format(text=text)) from None


def _utc(day: datetime) -> datetime:
    """The beginning of a day of this computer's, as the archive keeps times."""
    return day.astimezone().astimezone(UTC).replace(tzinfo=None)
