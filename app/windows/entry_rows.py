"""Rows of a form: a label, what is typed with its unit, where it comes from, and one sentence beneath.

A row knows its place in the file and the draft that it writes to; it checks nothing itself.
"""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import QObject, Qt, Signal, Slot
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from app.windows.amplifier_draft import Draft
from app.windows.amplifier_fields import FormField, OneOf, Place, RowList, Section, Shape
from app.windows.chooser import Chooser
from app.windows.worded import Button, CheckBox, Label, LineEdit, TextEdit

LABEL = 250  # style pixels: the column of the labels
NUMBER = 180
SOURCE = 250
CHOICE = 420
# Faint until something stands in it or it is being typed into.
_SOURCE_STYLE = """
    LineEdit { background: transparent; border: 0; border-bottom: 2px solid palette(midlight);
        border-radius: 0; }
    LineEdit:focus { background: palette(base); border: 3px solid palette(link); padding: 4px 7px; }
"""


class FormChooser(Chooser):
    """A chooser that a turned wheel passes over, so that scrolling the form changes nothing."""

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Leave it to the page."""
        event.ignore()


class Editor(QObject):
    """What an entry is typed into. `changed` follows every change that a person makes."""

    changed = Signal()

    def __init__(self, draft: Draft, place: Place, field: FormField, parent: QWidget) -> None:
        super().__init__(parent)
        self.place = place
        self.field = field
        self._draft = draft
        self.widget = self._made(parent)
        self.widget.setAccessibleName(f"{field.label}, {field.unit}" if field.unit else field.label)

    def _made(self, parent: QWidget) -> QWidget:
        shape = self.field.shape
        if shape is Shape.FLAG:
            return self._a_flag(parent)
        if shape is Shape.CHOICE:
            return self._a_chooser(parent)
        text = self._draft.text(self.place, self.field)
        if shape in (Shape.LINES, Shape.TABLE):
            many = TextEdit(text, parent)
            many.setTabChangesFocus(True)
            many.setPlaceholderText(self.field.example)
            many.setFixedHeight(112)
            many.textChanged.connect(self._typed)
            return many
        line = LineEdit(text, parent)
        line.setPlaceholderText(self.field.example)
        line.textEdited.connect(self._typed)
        return line

    def _a_flag(self, parent: QWidget) -> QWidget:
        box = CheckBox(parent)
        box.setChecked(self._draft.flag(self.place, self.field))
        box.toggled.connect(self._toggled)
        return box

    def _a_chooser(self, parent: QWidget) -> QWidget:
        chooser = FormChooser(self.field.label, parent, letter=15.0)
        now = self._draft.text(self.place, self.field)
        for value, words in self.field.choices:
            chooser.addItem(words, value)
        if now and chooser.findData(now) < 0:
            chooser.addItem(
                now, now
            )  # as it stands in the file; the sentence beneath says what may stand there
        chooser.setCurrentIndex(max(0, chooser.findData(now)))
        chooser.currentIndexChanged.connect(self._chosen)
        return chooser

    def reread(self) -> None:
        """Show what stands in the draft now."""
        text = self._draft.text(self.place, self.field)
        if isinstance(self.widget, LineEdit) and self.widget.text() != text:
            self.widget.setText(text)
        elif isinstance(self.widget, TextEdit) and self.widget.toPlainText() != text:
            self.widget.blockSignals(True)
            self.widget.setPlainText(text)
            self.widget.blockSignals(False)

    @Slot()
    def _typed(self) -> None:
        widget = self.widget
        text = widget.toPlainText() if isinstance(widget, TextEdit) else ""
        self._draft.put(self.place, self.field, widget.text() if isinstance(widget, LineEdit) else text)
        self.changed.emit()

    @Slot(bool)
    def _toggled(self, on: bool) -> None:
        self._draft.put_flag(self.place, self.field, on)
        self.changed.emit()

    @Slot()
    def _chosen(self) -> None:
        if isinstance(self.widget, Chooser):
            self._draft.put(self.place, self.field, str(self.widget.currentData() or ""))
            self.changed.emit()


def sentence_label(parent: QWidget) -> Label:
    """Where the sentence about an entry is said; takes no room while there is none."""
    label = Label(parent)
    label.setProperty("role", "trouble")
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    label.hide()
    return label


def say_in(label: Label, sentence: str) -> None:
    """Say a sentence, or nothing."""
    label.setText(sentence)
    label.setVisible(bool(sentence))


def form_label(words: str, parent: QWidget, stacked: bool = False) -> Label:
    """The words before an entry, or above it."""
    label = Label(words, parent)
    if not stacked:
        label.setFixedWidth(LABEL)
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    return label


class FieldRow(QWidget):
    """One entry on a line of its own."""

    changed = Signal()

    def __init__(
        self, draft: Draft, section: Section, field: FormField, parent: QWidget, stacked: bool = False
    ) -> None:
        super().__init__(parent)
        self.field = field
        self._draft = draft
        self._key = ".".join(str(key) for key in (*section.place, *field.place))
        self.editor = Editor(draft, (*section.place, *field.place), field, self)
        self.editor.changed.connect(self.changed)
        label = form_label(field.label, self, stacked)
        label.setBuddy(self.editor.widget)
        self.source: LineEdit | None = self._source() if field.sourced else None
        self._sentence = sentence_label(self)
        way = QBoxLayout.Direction.TopToBottom if stacked else QBoxLayout.Direction.LeftToRight
        # From the outside inwards: a layout filled before it has a place may keep what is gone.
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(2)
        line, under, value = QBoxLayout(way), QHBoxLayout(), QHBoxLayout()
        layout.addLayout(line)
        layout.addLayout(under)
        line.setSpacing(4 if stacked else 12)
        line.addWidget(label)
        line.addLayout(value, 1)
        value.setSpacing(12)
        if field.shape in (Shape.NUMBER, Shape.WHOLE) or field.key.endswith("_resistor"):
            self.editor.widget.setFixedWidth(NUMBER)
            value.addWidget(self.editor.widget)
            value.addWidget(Label(field.unit, self))
            value.addStretch(1)
        elif field.shape is Shape.CHOICE:
            self.editor.widget.setMaximumWidth(CHOICE)
            value.addWidget(self.editor.widget, 3)
            value.addStretch(1)
        else:
            value.addWidget(self.editor.widget, 1)
        if self.source is not None:
            line.addWidget(self.source)
        under.addSpacing(0 if stacked else LABEL + 12)
        under.addWidget(self._sentence, 1)

    def _source(self) -> LineEdit:
        """Where the value comes from; passed over by Tab, reached by its key."""
        field = LineEdit(self._draft.source_of(self._key), self)
        field.setFixedWidth(SOURCE)
        field.setStyleSheet(_SOURCE_STYLE)
        field.setPlaceholderText(self.tr("source: F4"))
        field.setAccessibleName(self.tr("Source of: {what}").format(what=self.field.label))
        field.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        field.textEdited.connect(self._sourced)
        return field

    @Slot(str)
    def _sourced(self, text: str) -> None:
        self._draft.put_source(self._key, text)
        self.changed.emit()

    @property
    def said(self) -> str:
        """The sentence beneath."""
        return self._sentence.text()

    def say(self, sentence: str) -> None:
        """Say what is wrong with the entry, or nothing."""
        say_in(self._sentence, sentence)


class OneOfRow(QWidget):
    """In which way an entry is given; the ways that are not chosen keep nothing in the file."""

    chosen = Signal()

    def __init__(
        self, draft: Draft, section: Section, one: OneOf, parent: QWidget, stacked: bool = False
    ) -> None:
        super().__init__(parent)
        self._draft = draft
        self._section = section
        self.one = one
        self.chooser = FormChooser(one.label, self, letter=15.0)
        for words, _ in one.ways:
            self.chooser.addItem(words)
        self.chooser.setCurrentIndex(draft.way(section, one))
        self.chooser.currentIndexChanged.connect(self._change)
        way = QBoxLayout.Direction.TopToBottom if stacked else QBoxLayout.Direction.LeftToRight
        line = QBoxLayout(way, self)
        line.setContentsMargins(0, 8, 0, 0)
        line.setSpacing(4 if stacked else 12)
        self.chooser.setMaximumWidth(CHOICE)
        line.addWidget(form_label(one.label, self, stacked))
        line.addWidget(self.chooser, 3)
        line.addStretch(1)

    @Slot(int)
    def _change(self, way: int) -> None:
        for number, (_, keys) in enumerate(self.one.ways):
            for key in keys if number != way else ():
                self._draft.leave_out((*self._section.place, *key.split(".")))
        self.chosen.emit()

    def shows(self, key: str) -> bool:
        """Whether a field is to be seen: it is of the way that is chosen, or something stands in it."""
        chosen = self.one.ways[self.chooser.currentIndex()][1]
        return key in chosen or self._draft.raw((*self._section.place, *key.split("."))) is not None


class RowsEditor(QWidget):
    """A list of small tables, a row each, with the labels above the first."""

    changed = Signal()
    rebuilt = Signal()

    def __init__(
        self, draft: Draft, section: Section, rows: RowList, parent: QWidget, stacked: bool = False
    ) -> None:
        super().__init__(parent)
        self._stacked = stacked
        self._draft = draft
        self.rows = rows
        self.place: Place = (*section.place, *rows.place)
        self.editors: list[Editor] = []
        self._sentences: list[Label] = []
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 10, 0, 0)
        self._layout.setSpacing(6)
        title = Label(rows.title, self)
        title.setStyleSheet("font-size: 18px; font-weight: 600;")
        title.setVisible(rows.title != section.title)  # it stands above already
        self._layout.addWidget(title)
        self._whole = sentence_label(self)
        self._layout.addWidget(self._whole)
        for number in range(draft.count(self.place)):
            self._layout.addWidget(self._row(number))
        self.more = Button(self.tr("add a {one}  (Ctrl+N)").format(one=rows.one), self)
        self.more.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
        self.more.clicked.connect(self.add)
        self._layout.addWidget(self.more)

    def _row(self, number: int) -> QWidget:
        box = QWidget(self)
        way = QBoxLayout.Direction.TopToBottom if self._stacked else QBoxLayout.Direction.LeftToRight
        layout = QVBoxLayout(box)
        layout.setContentsMargins(0, 0, 0, 4)
        layout.setSpacing(2)
        line = QBoxLayout(way)
        layout.addLayout(line)
        line.setSpacing(8)
        for field in self.rows.fields:
            editor = Editor(self._draft, (*self.place, number, *field.place), field, box)
            editor.changed.connect(self.changed)
            self.editors.append(editor)
            column = QVBoxLayout()
            line.addLayout(column, {Shape.NUMBER: 2, Shape.FLAG: 1}.get(field.shape, 3))
            column.setSpacing(2)
            words = f"{field.label}, {field.unit}" if field.unit else field.label
            label = Label(words, box)
            label.setProperty("role", "quiet")
            label.setBuddy(editor.widget)
            column.addWidget(label)
            column.addWidget(editor.widget)
        away = Button("✕", box)
        away.setAccessibleName(self.tr("Remove {one} {n}").format(one=self.rows.one, n=number + 1))
        away.setToolTip(self.tr("Remove this row (Ctrl+D)"))
        away.setProperty("row", number)
        away.clicked.connect(self._remove_clicked)
        line.addWidget(away, 0, Qt.AlignmentFlag.AlignBottom)
        sentence = sentence_label(box)
        self._sentences.append(sentence)
        layout.addWidget(sentence)
        return box

    @property
    def said(self) -> list[str]:
        """The sentence beneath each row."""
        return [label.text() for label in self._sentences]

    def say_all(self, sentences: Mapping[Place, str]) -> None:
        """Say beneath each row what is wrong in it, with the label of the field."""
        for number, label in enumerate(self._sentences):
            here = [
                f"{editor.field.label}: {sentences[editor.place]}"
                for editor in self.editors
                if editor.place in sentences and editor.place[len(self.place)] == number
            ]
            say_in(label, "\n".join(here))
        say_in(self._whole, sentences.get(self.place, ""))

    @Slot()
    def add(self) -> None:
        """Put a row behind the others."""
        self._draft.add(self.place, {})
        self.rebuilt.emit()

    @Slot()
    def _remove_clicked(self) -> None:
        sender = self.sender()
        if sender is not None:
            self.remove(int(sender.property("row")))

    def remove(self, number: int) -> None:
        """Take a row out."""
        self._draft.remove(self.place, number)
        self.rebuilt.emit()

    def row_of(self, widget: QWidget | None) -> int | None:
        """In which row a widget stands."""
        for editor in self.editors:
            if editor.widget is widget:
                number = editor.place[len(self.place)]
                return number if isinstance(number, int) else None
        return None
