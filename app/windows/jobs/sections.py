"""The parts of the sheet that are filled in once: the unit, the complaint, the findings, the outcome."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QSizePolicy, QVBoxLayout, QWidget

from app.windows.jobs.blanks import Blank, Choice, LongBlank, ShortBlank
from app.windows.jobs.entries import Entry, EntryRefused, Now, Single, Words
from app.windows.jobs.flow import Line
from app.windows.jobs.kinds import not_negative, number_or_none, tr
from app.windows.jobs.pen import JobPen
from app.windows.worded import Label
from procedures.job import (
    ComplaintTried,
    Concluded,
    EntryKind,
    Filled,
    JobFact,
    JobOutcome,
    Reproduced,
    SheetField,
    TakenBack,
)
from procedures.records.job_sheet import JobSheet

F = SheetField
UNDER_WAY = ""


def a_day(text: str) -> None:
    """Refuse figures that are no day; words such as "before Easter" will do. Raises ValueError."""
    if not re.fullmatch(r"[\d\s./-]+", text):
        return
    try:
        date.fromisoformat(text)
    except ValueError:
        told = tr("“{text}” is no day of the calendar: write it as 2026-01-31")
        raise ValueError(told.format(text=text[:20])) from None


class Section(QWidget):
    """One part of the sheet, with its heading."""

    def __init__(self, title: str, contents: Sequence[QWidget], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.contents = tuple(contents)
        heading = Label(title, self)
        heading.setProperty("role", "heading")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 10, 0, 22)
        layout.setSpacing(8)
        layout.addWidget(heading)
        for widget in contents:
            layout.addWidget(widget)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Minimum)


class Filling(QWidget):
    """The lines of the sheet that are filled in with words, by section."""

    changed = Signal()

    def __init__(self, pen: JobPen, now: Now, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.hide()  # it only owns the blanks until they find their place
        self._pen, self._now = pen, now
        self.blanks: dict[SheetField, Blank] = {}
        self._make_unit()
        self._make_complaint()
        self._make_end()

    def _short(self, line: SheetField, name: str, example: str = "", wide: int = 14, **more: object) -> None:
        check = more.get("check")
        blank = ShortBlank(name, self, example=example, wide=wide)
        if callable(check):
            blank = ShortBlank(name, self, example=example, wide=wide, check=check)
        self._take(line, blank)

    def _take(self, line: SheetField, blank: Blank) -> None:
        blank.written.connect(self._written)
        self.blanks[line] = blank

    @Slot()
    def _written(self) -> None:
        blank = self.sender()
        for line, one in self.blanks.items():
            if one is blank:
                self._pen.write(Filled(self._now(), line, one.words))
                self.changed.emit()

    def _make_unit(self) -> None:
        self._short(F.NUMBER, self.tr("Job number"), self.tr("number"), 10)
        self._short(F.DATE_IN, self.tr("Day it came in"), "2026-01-31", 11, check=a_day)
        self._short(F.CUSTOMER_REFERENCE, self.tr("Reference for the customer"), "R-22", 9)
        self._short(F.MAKER, self.tr("Maker of the unit"), self.tr("maker"), 14)
        self._short(F.MODEL, self.tr("Model"), self.tr("model"), 12)
        self._short(F.SERIAL, self.tr("Serial number"), "", 12)
        self._short(F.MAINS, self.tr("Mains voltage"), "230 V", 8)
        self._short(F.FUSE, self.tr("Fuse rating"), "T 2 A", 8)
        self._short(F.PROTECTION_CLASS, self.tr("Protection class"), "I", 4)
        self._short(F.ACCESSORIES, self.tr("Accessories"), self.tr("remote control, mains lead"), 34)
        self._short(F.CONDITION, self.tr("Condition at intake"), self.tr("scratches, dents, smell"), 34)
        self._short(F.MODIFICATIONS, self.tr("Modifications"), self.tr("none seen"), 28)
        self._short(F.EARLIER_REPAIRS, self.tr("Earlier repairs"), self.tr("none known"), 28)
        self._short(F.WARRANTY, self.tr("Warranty"), "", 20)

    def _make_complaint(self) -> None:
        words = LongBlank(self.tr("Complaint"), self, example=self.tr("in the customer's own words"))
        self._take(F.COMPLAINT, words)
        self._short(
            F.COMPLAINT_WHEN, self.tr("When it happens"), self.tr("cold, warm, loud, one channel"), 34
        )
        self._short(F.CONNECTED, self.tr("What was connected"), self.tr("loudspeakers, their impedance"), 34)
        findings = LongBlank(self.tr("Findings"), self, example=self.tr("what was found, and how"))
        self._take(F.DIAGNOSIS, findings)

    def _make_end(self) -> None:
        self._short(F.CONSENT, self.tr("What the customer agreed to"), self.tr("by telephone on …"), 26)
        self._short(F.ESTIMATE, self.tr("Estimate"), "", 9)
        self._short(F.CEILING, self.tr("Ceiling of the estimate"), "", 9)
        self._short(F.DEPOSIT, self.tr("Deposit"), "", 9)
        self._short(F.PRICE, self.tr("Price"), "", 9)
        self._short(F.COLLECTED, self.tr("When and by whom it was collected"), "", 20)

    # --- lines ----------------------------------------------------------------------------------------

    def unit_lines(self) -> list[QWidget]:
        """The unit as a few sentences."""
        b = self.blanks
        return [
            Line(
                self.tr("job"),
                b[F.NUMBER],
                self.tr("came in on"),
                b[F.DATE_IN],
                self.tr("for the customer"),
                b[F.CUSTOMER_REFERENCE],
            ),
            Line(self.tr("unit"), b[F.MAKER], b[F.MODEL], self.tr("serial"), b[F.SERIAL]),
            Line(
                self.tr("for mains of"),
                b[F.MAINS],
                self.tr("fuse"),
                b[F.FUSE],
                self.tr("protection class"),
                b[F.PROTECTION_CLASS],
            ),
            Line(self.tr("with it came"), b[F.ACCESSORIES]),
            Line(self.tr("it looks like"), b[F.CONDITION]),
            Line(self.tr("modified:"), b[F.MODIFICATIONS], self.tr("repaired before:"), b[F.EARLIER_REPAIRS]),
            Line(self.tr("warranty:"), b[F.WARRANTY]),
        ]

    def complaint_lines(self) -> list[QWidget]:
        """What is the matter."""
        b = self.blanks
        return [
            b[F.COMPLAINT],
            Line(self.tr("it happens"), b[F.COMPLAINT_WHEN], self.tr("connected was"), b[F.CONNECTED]),
        ]

    def end_lines(self) -> list[QWidget]:
        """What was agreed, and the price."""
        b = self.blanks
        return [
            Line(
                self.tr("agreed:"),
                b[F.CONSENT],
                self.tr("estimate"),
                b[F.ESTIMATE],
                self.tr("at most"),
                b[F.CEILING],
            ),
            Line(
                self.tr("deposit"),
                b[F.DEPOSIT],
                self.tr("price"),
                b[F.PRICE],
                self.tr("collected"),
                b[F.COLLECTED],
            ),
        ]

    def show_sheet(self, sheet: JobSheet) -> None:
        """Show what is kept."""
        for line, blank in self.blanks.items():
            blank.show_words(sheet.text(line))

    def commit(self) -> bool:
        """Hand on what is being written."""
        understood = [blank.commit() for blank in self.blanks.values()]
        return all(understood)

    def filled(self, *lines: SheetField) -> bool:
        """Whether one of these lines has words."""
        return any(self.blanks[line].words for line in lines)


class Tried(Single):
    """Whether the complaint was met again at the bench."""

    def __init__(self, pen: JobPen, now: Now, parent: QWidget | None = None) -> None:
        self._now = now
        results = {
            Reproduced.NOT_TRIED.value: tr("has not been tried yet"),
            Reproduced.YES.value: tr("was met again"),
            Reproduced.NO.value: tr("did not recur"),
        }
        blanks: dict[str, Blank] = {
            "reproduced": Choice(tr("Whether the complaint was met again"), results),
            "hours": ShortBlank(tr("Hours that it was tried"), example="4", wide=5, check=not_negative),
            "words": ShortBlank(tr("How it was tried"), example=tr("how it was tried"), wide=28),
        }
        line = [
            tr("At the bench it"),
            blanks["reproduced"],
            tr("in"),
            blanks["hours"],
            tr("hours"),
            blanks["words"],
        ]
        super().__init__(Entry(blanks, line), self._fact, pen, parent)

    def _fact(self, words: Words) -> JobFact:
        reproduced = Reproduced(words["reproduced"])
        return ComplaintTried(self._now(), reproduced, number_or_none(words["hours"]), words["words"])

    def show_sheet(self, sheet: JobSheet) -> None:
        """Show what is kept."""
        tried = sheet.complaint_tried
        words = {"reproduced": Reproduced.NOT_TRIED.value}
        if tried is not None:
            hours = "" if tried.hours is None else f"{tried.hours:g}"
            words = {"reproduced": tried.reproduced.value, "hours": hours, "words": tried.words}
        self.entry.show_words(words)


class Ending(Single):
    """How the job ended; a job that was concluded may go on."""

    def __init__(self, pen: JobPen, now: Now, parent: QWidget | None = None) -> None:
        self._now = now
        outcomes = {UNDER_WAY: tr("under way"), **{one.value: tr(one.value) for one in JobOutcome}}
        blanks: dict[str, Blank] = {
            "outcome": Choice(tr("How the job ended"), outcomes),
            "words": ShortBlank(tr("About the outcome"), example=tr("the reason, in words"), wide=40),
        }
        super().__init__(
            Entry(blanks, [tr("The job is"), blanks["outcome"], blanks["words"]]), self._fact, pen, parent
        )

    def _fact(self, words: Words) -> JobFact:
        if words["outcome"] == UNDER_WAY:
            if words["words"]:
                raise EntryRefused(
                    "words", tr("While the job is under way there is no reason to keep: choose how it ended.")
                )
            return TakenBack(self._now(), EntryKind.OUTCOME)
        return Concluded(self._now(), JobOutcome(words["outcome"]), words["words"])

    def show_sheet(self, sheet: JobSheet) -> None:
        """Show what is kept."""
        ended = sheet.outcome
        words = {"outcome": ended.outcome.value, "words": ended.words} if ended is not None else {}
        self.entry.show_words(words)
