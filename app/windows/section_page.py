"""One page of the amplifier form: the fields of a section, a sentence beneath each that is not right yet."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QApplication, QSizePolicy, QVBoxLayout, QWidget

from app.windows.amplifier_draft import Draft, Said
from app.windows.amplifier_fields import FormField, Place, Section
from app.windows.entry_rows import FieldRow, OneOfRow, RowsEditor, say_in, sentence_label
from app.windows.worded import Button, Label, LineEdit

BROADEST = 1180  # style pixels


class SectionPage(QWidget):
    """Fields in their order. `changed`: something was typed; `rebuilt`: the page has other rows now."""

    changed = Signal()
    rebuilt = Signal()

    def __init__(
        self, draft: Draft, section: Section, parent: QWidget | None = None, stacked: bool = False
    ) -> None:
        super().__init__(parent)
        self._draft = draft
        self.section = section
        self._stacked = stacked
        self.rows: dict[Place, FieldRow] = {}
        self._ways: list[OneOfRow] = []
        self.lists: list[RowsEditor] = []
        self.setMaximumWidth(BROADEST)  # a value and its source stay together on a broad screen
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(24, 8, 24, 24)
        self._layout.setSpacing(10)
        title = Label(section.title, self)
        title.setTextFormat(Qt.TextFormat.PlainText)
        title.setStyleSheet("font-size: 24px; font-weight: 600;")
        self._layout.addWidget(title)
        self._fact = Label(section.hint, self)
        self._fact.setProperty("role", "quiet")
        self._fact.setWordWrap(True)
        self._fact.setVisible(bool(section.hint))
        self._layout.addWidget(self._fact)
        self._head = sentence_label(self)
        self._layout.addWidget(self._head)
        self.leave_out = Button(self)
        self.leave_out.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
        self.leave_out.clicked.connect(self._leave_out)
        self.leave_out.hide()
        self._surplus: Place | None = None
        self._layout.addWidget(self.leave_out)
        self._fill()
        self._layout.addStretch(1)

    def _fill(self) -> None:
        for field in self.section.fields:
            if isinstance(field, FormField):
                row = FieldRow(self._draft, self.section, field, self, stacked=self._stacked)
                row.changed.connect(self.changed)
                self.rows[row.editor.place] = row
                self._layout.addWidget(row)
            else:
                way = OneOfRow(self._draft, self.section, field, self, stacked=self._stacked)
                way.chosen.connect(self._way_chosen)
                self._ways.append(way)
                self._layout.addWidget(way)
        for rows in self.section.lists:
            editor = RowsEditor(self._draft, self.section, rows, self, stacked=self._stacked)
            editor.changed.connect(self.changed)
            editor.rebuilt.connect(self.rebuilt)
            self.lists.append(editor)
            self._layout.addWidget(editor)
        self._show_ways()

    def add_button(self, words: str, pressed: Callable[[], object]) -> None:
        """Put a key under the fields."""
        button = Button(words, self)
        button.setMinimumHeight(44)
        button.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
        button.clicked.connect(pressed)
        self._layout.insertWidget(self._layout.count() - 1, button)

    def _show_ways(self) -> None:
        for way in self._ways:
            for key in (key for _, keys in way.one.ways for key in keys):
                row = self.rows[(*self.section.place, *key.split("."))]
                row.setVisible(way.shows(key))

    @Slot()
    def _way_chosen(self) -> None:
        for row in self.rows.values():
            row.editor.reread()
        self._show_ways()
        self.changed.emit()

    # --- sentences ----------------------------------------------------------------------------------------

    def say(self, said: Iterable[Said]) -> None:
        """Say at each field what is wrong with it; what belongs to none, at the head."""
        by_place: dict[Place, str] = {}
        head: list[str] = []
        self._surplus = None
        for one in said:
            place = one.place
            if place is None or (place in self.rows and self.rows[place].isHidden()):
                head.append(one.sentence)
                self._surplus = self._surplus or one.surplus
            else:
                by_place.setdefault(place, one.sentence)
        for place, row in self.rows.items():
            row.say(by_place.get(place, ""))
        for rows in self.lists:
            rows.say_all(by_place)
        say_in(self._head, "\n".join(head))
        self.leave_out.setVisible(self._surplus is not None)
        if self._surplus is not None:
            self.leave_out.setText(self.tr("Leave out “{what}”").format(what=self._surplus[-1]))

    def show_fact(self, words: str) -> None:
        """Say what follows from the entries."""
        text = words or self.section.hint
        if text != self._fact.text():
            self._fact.setText(text)
            self._fact.setVisible(bool(text))

    @property
    def fact(self) -> str:
        """What follows from the entries."""
        return self._fact.text()

    @property
    def head(self) -> str:
        """What is wrong and belongs to no field."""
        return self._head.text()

    @Slot()
    def _leave_out(self) -> None:
        if self._surplus is not None:
            self._draft.leave_out(self._surplus)
            self.rebuilt.emit()

    # --- the focus ----------------------------------------------------------------------------------------

    def focus(self, place: Place | None) -> None:
        """Put the focus at a place, else at the first field."""
        for editor in (
            *(row.editor for row in self.rows.values()),
            *(editor for rows in self.lists for editor in rows.editors),
        ):
            if place is None or editor.place == place:
                editor.widget.setFocus(Qt.FocusReason.OtherFocusReason)
                if isinstance(editor.widget, LineEdit):
                    editor.widget.selectAll()
                return
        if self.lists:
            self.lists[0].more.setFocus(Qt.FocusReason.OtherFocusReason)

    def to_source_or_back(self) -> None:
        """From a value to where it comes from, or back."""
        here = QApplication.focusWidget()
        for row in self.rows.values():
            if row.source is not None and here is row.editor.widget:
                row.source.setFocus(Qt.FocusReason.ShortcutFocusReason)
            elif row.source is not None and here is row.source:
                row.editor.widget.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def add_row(self) -> bool:
        """Put a row behind the list of the page; False where it has none."""
        if not self.lists:
            return False
        self.lists[0].add()
        return True

    def remove_row(self) -> bool:
        """Take out the row that the focus is in; False where it is in none."""
        for rows in self.lists:
            number = rows.row_of(QApplication.focusWidget())
            if number is not None:
                rows.remove(number)
                return True
        return False
