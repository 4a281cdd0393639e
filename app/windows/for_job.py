"""The job that a run is begun for, in the sentence of the start screen: shown, checked, left out again."""

from __future__ import annotations

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QWidget

from app.windows.start_lists import JobAtBench
from app.windows.worded import Button, Label

HEIGHT = 44  # style pixels, as the fields beside it


class ForJob(QWidget):
    """Fills in a job's unit and stands beside it; hidden while no job is meant. `said` carries a sentence."""

    said = Signal(str)

    def __init__(self, amplifier: QComboBox, serial: QLineEdit, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._amplifier, self._serial = amplifier, serial
        self.job: JobAtBench | None = None
        self._words = Label(self)
        self._words.setStyleSheet("font-size: 20px;")
        self.leave_out = Button(self.tr("lea&ve the job out"), self)
        self.leave_out.setMinimumHeight(HEIGHT)
        self.leave_out.clicked.connect(self.clear)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(12)
        layout.addWidget(self._words)
        layout.addWidget(self.leave_out)
        self.hide()

    @property
    def key(self) -> str:
        """The job's key; empty where none is meant."""
        return self.job.key if self.job is not None else ""

    @property
    def words(self) -> str:
        """Which job it is, as shown."""
        return self._words.text()

    def take(self, job: JobAtBench) -> None:
        """A run is to be begun for this job: fill in its unit, or say that no amplifier fits."""
        self.job = job
        name = job.name if len(job.name) <= 24 else f"{job.name[:23]}…"
        self._words.setText(self.tr("for job {number}").format(number=name))
        self._serial.setText(job.serial)
        self.show()
        self.said.emit(self.choose())

    def choose(self) -> str:
        """Choose the job's amplifier in the list; a sentence where none or several fit, else nothing."""
        if self.job is None or not self.job.model:
            return ""
        name = " ".join(filter(None, (self.job.maker, self.job.model)))
        index = self._fitting(name, self.job.model)
        self._amplifier.setCurrentIndex(index)
        if index >= 0:
            return ""
        told = self.tr("No amplifier here is called “{name}”: choose the one it is, or enter it first.")
        return told.format(name=name if len(name) <= 60 else f"{name[:59]}…")

    def _fitting(self, whole: str, model: str) -> int:
        titles = [_plain(self._amplifier.itemText(n)) for n in range(self._amplifier.count())]
        for fits in (
            [n for n, title in enumerate(titles) if title == _plain(whole)],
            [n for n, title in enumerate(titles) if title.endswith(f" {_plain(model)}")],
        ):
            if len(fits) == 1:
                return fits[0]
        return -1

    def objection(self) -> str:
        """Why the run that is chosen cannot be one of this job; empty where it can."""
        if self._amplifier.currentIndex() < 0:
            return self.tr("Choose the amplifier first.")
        job = self.job
        if job is None or not job.serial or _plain(self._serial.text()) == _plain(job.serial):
            return ""
        told = self.tr("Job {number} is about serial number {serial}: type that, or leave the job out.")
        return told.format(number=job.name, serial=job.serial)

    @Slot()
    def clear(self) -> None:
        """No job is meant any more."""
        self.job = None
        self.hide()
        if self._amplifier.currentIndex() < 0 and self._amplifier.count():
            self._amplifier.setCurrentIndex(0)
        self.said.emit("")


def _plain(words: str) -> str:
    return " ".join(words.split()).casefold()
