"""Entries that a sheet has several of, such as parts: each a sentence with blanks, written in its place.

The last sentence of a list is always an empty one; it becomes an entry with the first word in it. An entry
is written down as a whole, under a key that tells it from the others, and can be taken back.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

from PySide6.QtCore import QSize, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from app.windows.jobs.blanks import HEIGHT, Blank
from app.windows.jobs.flow import Line
from app.windows.jobs.pen import JobPen
from app.windows.worded import Button, Label
from procedures.job import JobFact

Now = Callable[[], datetime]
Words = Mapping[str, str]


class EntryRefused(ValueError):
    """An entry cannot be written down as it is; `blank` is where the sentence belongs."""

    def __init__(self, blank: str, sentence: str) -> None:
        super().__init__(sentence)
        self.blank = blank


class Entry(QWidget):
    """Blanks that make one fact. `said` whenever one of them was filled in, `taken_back` by its key."""

    said = Signal()
    taken_back = Signal()

    def __init__(
        self, blanks: Mapping[str, Blank], line: Sequence[object], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.blanks = dict(blanks)
        self.key = ""
        self.unsaid = False  # what stands there could not be made a fact
        self.caution = Label(self)
        self.caution.setProperty("role", "trouble")
        self.caution.setWordWrap(True)
        self.caution.hide()
        self.back = Button(self.tr("take back"), self)
        self.back.setProperty("role", "small")
        self.back.setFixedHeight(HEIGHT)
        self.back.clicked.connect(self.taken_back)
        self.back.hide()
        for blank in self.blanks.values():
            blank.written.connect(self._said)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 4)
        layout.setSpacing(4)
        layout.addWidget(Line(*line, self.back, parent=self))
        layout.addWidget(self.caution)

    @Slot()
    def _said(self) -> None:
        self.said.emit()

    @property
    def words(self) -> dict[str, str]:
        """What stands in its blanks, as far as it can be understood."""
        return {name: blank.understood for name, blank in self.blanks.items()}

    def show_words(self, words: Words) -> None:
        """Show what is kept; an entry that could not be made a fact stays as it was typed."""
        if not self.unsaid:
            for name, blank in self.blanks.items():
                blank.show_words(words.get(name, ""))

    def caution_about(self, sentences: Sequence[str]) -> None:
        """Say below what ought to be looked at."""
        self.caution.setText("\n".join(sentences))
        self.caution.setVisible(bool(sentences))

    def commit(self) -> bool:
        """Hand on what is being written; whether all of it could be understood."""
        understood = [blank.commit() for blank in self.blanks.values()]
        return all(understood) and not self.unsaid

    def take_key(self, key: str) -> None:
        """It is written down under this key."""
        self.key = key
        self.back.setVisible(bool(key))


class EntryList(QWidget):
    """All entries of one kind. What differs between the kinds is in the methods that raise here."""

    EMPTY_LAST = True  # an empty sentence at the end begins a new entry

    def __init__(self, pen: JobPen, now: Now, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._pen = pen
        self.now = now
        self.entries: list[Entry] = []
        self._rows = QVBoxLayout(self)
        self._rows.setContentsMargins(0, 0, 0, 0)
        self._rows.setSpacing(14)
        if self.EMPTY_LAST:
            self._add()

    # --- for each kind --------------------------------------------------------------------------------

    def new_entry(self) -> Entry:
        """An empty sentence."""
        raise NotImplementedError

    def key_of(self, fact: JobFact) -> str:
        """What tells a fact from the others of its kind."""
        raise NotImplementedError

    def words_of(self, fact: JobFact) -> Words:
        """A fact as it stands in the blanks."""
        raise NotImplementedError

    def fact_of(self, words: Words, key: str) -> JobFact:
        """The fact that the blanks make; `key` is empty for a new one. Raises EntryRefused."""
        raise NotImplementedError

    def taking_back(self, key: str) -> JobFact:
        """The fact that takes an entry back."""
        raise NotImplementedError

    def cautions(self, fact: JobFact) -> Sequence[str]:
        """What ought to be looked at about a fact."""
        return ()

    # --- for all --------------------------------------------------------------------------------------

    @property
    def filled(self) -> bool:
        """Whether there is any entry."""
        return any(entry.key for entry in self.entries)

    def commit(self) -> bool:
        """Hand on what is being written; whether all of it could be understood."""
        understood = [entry.commit() for entry in list(self.entries)]
        return all(understood)

    def show_facts(self, facts: Sequence[JobFact]) -> None:
        """Show what is kept, in its order; what is being written stays."""
        kept = {self.key_of(fact): fact for fact in facts}
        for entry in [one for one in self.entries if one.key and one.key not in kept and not one.unsaid]:
            self._drop(entry)
        known = {entry.key: entry for entry in self.entries if entry.key}
        for key, fact in kept.items():
            entry = known.get(key) or self._add(len(self.entries) - self.EMPTY_LAST)
            entry.take_key(key)
            entry.show_words(self.words_of(fact))
            entry.caution_about(self.cautions(fact))

    def _add(self, place: int | None = None) -> Entry:
        entry = self.new_entry()
        entry.said.connect(self._said)
        entry.taken_back.connect(self._take_back)
        place = len(self.entries) if place is None else place
        self.entries.insert(place, entry)
        self._rows.insertWidget(place, entry)
        entry.show()
        return entry

    def _drop(self, entry: Entry) -> None:
        self.entries.remove(entry)
        self._rows.removeWidget(entry)
        entry.hide()
        entry.deleteLater()

    @Slot()
    def _said(self) -> None:
        entry = self.sender()
        if isinstance(entry, Entry):
            self.say(entry)

    def say(self, entry: Entry) -> None:
        """Write an entry down as it stands."""
        words = entry.words
        if not entry.key and not any(words.values()):
            return
        try:
            fact = self.fact_of(words, entry.key)
            key = self.key_of(fact)
            if any(other.key == key for other in self.entries if other is not entry):
                raise EntryRefused(
                    next(iter(entry.blanks)),
                    self.tr("That stands here already: change the other one, or say what tells them apart."),
                )
        except EntryRefused as refusal:
            entry.unsaid = True
            entry.blanks[refusal.blank].complain(str(refusal))
            return
        if entry.unsaid:
            entry.unsaid = False
            for blank in entry.blanks.values():
                blank.complain("")
        before = [self.taking_back(entry.key)] if entry.key and entry.key != key else []
        self._pen.write(*before, fact)
        new = not entry.key
        entry.take_key(key)
        entry.caution_about(self.cautions(fact))
        if new and entry is self.entries[-1]:
            self._add()

    @Slot()
    def _take_back(self) -> None:
        entry = self.sender()
        if isinstance(entry, Entry) and entry.key:
            self.let_go(entry)

    def let_go(self, entry: Entry) -> None:
        """Take an entry back."""
        self._pen.write(self.taking_back(entry.key))
        place = self.entries.index(entry)
        self._drop(entry)
        if self.EMPTY_LAST:
            next(iter(self.entries[place].blanks.values())).setFocus()


class Single(QWidget):
    """One fact of which there is never more than one, such as how the job ended."""

    def __init__(
        self, entry: Entry, make: Callable[[Words], JobFact], pen: JobPen, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.entry = entry
        self._make = make
        self._pen = pen
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(entry)
        entry.said.connect(self._said)

    @Slot()
    def _said(self) -> None:
        entry = self.entry
        try:
            fact = self._make(entry.words)
        except EntryRefused as refusal:
            entry.unsaid = True
            entry.blanks[refusal.blank].complain(str(refusal))
            return
        entry.unsaid = False
        self._pen.write(fact)

    def commit(self) -> bool:
        """Hand on what is being written; whether all of it could be understood."""
        return self.entry.commit()

    def sizeHint(self) -> QSize:
        """As the entry needs."""
        return self.entry.sizeHint()
