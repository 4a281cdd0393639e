"""All that an amplifier's file holds, to be entered and edited.

Every entry is checked as it is typed, by the loader of the file; what is wrong stands beneath its field. Only
what can be used is saved. Where it is saved is decided by whoever shows the form.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from PySide6.QtCore import QSize, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from app.windows.amplifier_draft import Draft, Findings, Said, told
from app.windows.amplifier_fields import Place, Section, sections
from app.windows.amplifier_ports import AmplifierSource
from app.windows.number_sign import signed
from app.windows.section_list import SectionList
from app.windows.section_page import SectionPage
from app.windows.worded import Button, Label
from procedures.amplifier import Amplifier
from procedures.analysis.figures import figure
from procedures.library import shipped_procedures
from procedures.setup import unsuited_for
from procedures.target import intended_amperes, target_of, target_questions

MOST_QUESTIONS = 2
LOW, NARROW = 400, 1120  # style pixels


class AmplifierForm(QWidget):
    """Edits one amplifier. `save` carries an `Amplifier`; `back` is asked for by a person."""

    save = Signal(object)
    back = Signal()
    edited = Signal()

    def __init__(self, source: AmplifierSource, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.draft = Draft(source)
        self._sections: tuple[Section, ...] = ()
        self._said: tuple[Said, ...] = ()
        self._narrow = False
        self._found = Findings(None)
        self.page: SectionPage | None = None
        self._title = Label(self)
        self._title.setTextFormat(Qt.TextFormat.PlainText)
        self._title.setStyleSheet("font-size: 30px; font-weight: 600;")
        self._place = self._quiet()
        self._questions = Label(self)
        self._questions.setProperty("role", "trouble")
        self._questions.setTextFormat(Qt.TextFormat.PlainText)
        self._questions.setWordWrap(True)
        self._state = Label(self)
        self._state.setTextFormat(Qt.TextFormat.PlainText)
        self._state.setStyleSheet("font-weight: 600;")
        self._state.setWordWrap(True)
        self.list = SectionList(self)
        self.list.currentRowChanged.connect(self._turn_to)
        self._more = self._key(self.tr("add a channel"), self._add_channel)
        self._area = QScrollArea(self)
        self._area.setWidgetResizable(True)
        self._area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.save_button = self._key(self.tr("&Save  (Ctrl+S)"), self.ask_save)
        self.back_button = self._key(self.tr("&Back  (Esc)"), self.back)
        self._lay_out()
        self._shortcuts()
        self._rebuild(0)

    def _quiet(self, words: str = "") -> Label:
        label = Label(words, self)
        label.setProperty("role", "quiet")
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setWordWrap(True)
        return label

    def _key(self, words: str, pressed: object) -> Button:
        button = Button(words, self)
        button.setMinimumHeight(44)
        button.clicked.connect(pressed)
        return button

    def _lay_out(self) -> None:
        left = QVBoxLayout()
        left.addWidget(self.list, 1)
        left.addWidget(self._more)
        right = QVBoxLayout()
        right.setSpacing(4)
        right.addWidget(self._area, 1)
        right.addWidget(self._questions)
        middle = QHBoxLayout()
        middle.setSpacing(12)
        middle.addLayout(left)
        middle.addLayout(right, 1)
        foot = self._foot = QHBoxLayout()
        foot.setSpacing(12)
        foot.addWidget(self._state, 1)
        foot.addWidget(self.back_button)
        foot.addWidget(self.save_button)
        layout = self._outer = QVBoxLayout(self)
        layout.setContentsMargins(28, 14, 28, 14)
        layout.setSpacing(6)
        layout.addWidget(self._title)
        layout.addWidget(self._place)
        layout.addLayout(middle, 1)
        self._keys_told = self._quiet(
            self.tr(
                "Ctrl+Page Down: next section · F8: next thing to put right · F4: source of the value · "
                "Ctrl+N: another row · Ctrl+D: take the row out"
            )
        )
        layout.addWidget(self._keys_told)
        layout.addLayout(foot)

    def minimumSizeHint(self) -> QSize:
        """A field and its keys, however small the window."""
        return QSize(300, 200)

    def _shortcuts(self) -> None:
        for keys, deed in (
            (("Ctrl+S",), self.ask_save),
            (("Esc",), self.back),
            (("Ctrl+PgDown",), self.next_section),
            (("Ctrl+PgUp",), self.section_before),
            (("F8",), self.next_problem),
            (("F4",), self._to_source),
            (("Ctrl+N",), self._add_row),
            (("Ctrl+D",), self._remove_row),
        ):
            for key in keys:
                shortcut = QShortcut(QKeySequence(key), self)
                shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
                shortcut.activated.connect(deed)

    def add_key(self, button: Button) -> None:
        """One more key in the foot."""
        self._foot.insertWidget(1, button)

    def take_up(self, contents: Mapping[str, Any], told: str) -> None:
        """Go on with a draft; `told` says that it is one."""
        self.draft.take_up(contents, told)
        self._rebuild(0)

    def start_again(self) -> None:
        """Everything as it was before."""
        self.draft.give_up()
        self._rebuild(0)

    # --- facts for others -----------------------------------------------------------------------------

    @property
    def amplifier(self) -> Amplifier | None:
        """What is entered, where it can be used."""
        return self._found.amplifier

    @property
    def state(self) -> str:
        """Whether everything fits, or what was said last."""
        return self._state.text()

    @property
    def questions(self) -> str:
        """What is possible but unlikely, or beyond the program."""
        return self._questions.text()

    @property
    def place(self) -> str:
        """Where it will be saved, in words."""
        return self._place.text()

    @property
    def said(self) -> tuple[Said, ...]:
        """Everything that is to be put right."""
        return self._said

    @property
    def changed(self) -> bool:
        """Whether anything would be lost."""
        return self.draft.changed

    def say(self, words: str) -> None:
        """Say what came of saving."""
        self._state.setText(words)

    def saved(self, source: AmplifierSource, words: str) -> None:
        """What is entered has been saved."""
        self.draft.kept_as(source)
        self._show_place()
        self.say(words)

    def showEvent(self, event: QShowEvent) -> None:
        """The first field has the focus."""
        super().showEvent(event)
        self._fit()
        if self.page is not None:
            self.page.focus(None)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Small windows have room for the fields alone."""
        super().resizeEvent(event)
        self._keys_told.setVisible(min(self.height(), self.width() * 2 // 3) >= LOW)
        self._place.setVisible(self.height() >= LOW)
        side = 28 if self.width() >= NARROW else 10
        self._outer.setContentsMargins(side, 14 if self.height() >= LOW else 4, side, 6)
        if self.isVisible() and (self.width() < NARROW) != self._narrow:
            # Not within the resizing: the page in which the focus is would be torn down under Qt's feet.
            QTimer.singleShot(0, self, self._fit)

    @Slot()
    def _fit(self) -> None:
        """In a narrow window there is no list of sections, and every entry stands under its label."""
        narrow = self.width() < NARROW
        if narrow == self._narrow:
            return
        here = self._focused()
        self._narrow = narrow
        self.list.setVisible(not narrow)
        self._more.setVisible(not narrow)
        self._build(self.list.currentRow())
        if here is not None and self.page is not None:
            self.page.focus(here)

    # --- pages ----------------------------------------------------------------------------------------

    def _rebuild(self, row: int) -> None:
        """Show the sections as they are now, and one of them."""
        self._sections = sections(self.draft.channels)
        row = max(0, min(row, len(self._sections) - 1))
        self.list.show_titles([section.title for section in self._sections], row)
        self._build(row)

    def _build(self, row: int) -> None:
        section = self._sections[row]
        page = SectionPage(self.draft, section, stacked=self._narrow)
        if section.place[:1] == ("channel",):
            self._channel_keys(page, section)
        if self._narrow:
            page.add_button(self.tr("add a channel"), self._add_channel)
            page.add_button(self.tr("next section"), self.next_section)
        page.changed.connect(self._check)
        page.rebuilt.connect(self._page_rebuilt)
        before = self._area.takeWidget()
        if before is not None:
            # A key of this page may have asked for it: it must outlive its own press.
            before.setParent(self)
            before.hide()
            before.deleteLater()
        self.page = page
        self._area.setWidget(page)
        self._check()

    def _channel_keys(self, page: SectionPage, section: Section) -> None:
        first = self._sections[2].title
        number = section.place[1]
        if number != 0:
            words = self.tr("take all but the name from {first}").format(first=first)
            page.add_button(words, self._as_first)
        if len(self.draft.channels) > 1:
            page.add_button(self.tr("remove this channel"), self._remove_channel)

    @Slot(int)
    def _turn_to(self, row: int) -> None:
        if 0 <= row < len(self._sections):
            self._build(row)

    @Slot()
    def _page_rebuilt(self) -> None:
        self._build(self.list.currentRow())
        if self.page is not None and self.page.lists and self.page.lists[0].editors:
            rows = self.page.lists[0]
            rows.editors[-len(rows.rows.fields)].widget.setFocus(Qt.FocusReason.OtherFocusReason)

    @Slot()
    def next_section(self) -> None:
        """Go to the next section; from the last to the first."""
        self._go((self.list.currentRow() + 1) % len(self._sections))

    @Slot()
    def section_before(self) -> None:
        """Go to the section before; from the first to the last."""
        self._go((self.list.currentRow() - 1) % len(self._sections))

    def _go(self, row: int) -> None:
        self.list.setCurrentRow(row)
        if self.page is not None:
            self.page.focus(None)

    @Slot()
    def next_problem(self) -> None:
        """Go to the next field that is not right yet; after the last, to the first."""
        if not self._said:
            return
        here = self.list.currentRow(), self._focused()
        places = [(one.section, one.place) for one in self._said]
        at = places.index(here) + 1 if here in places else 0
        if here not in places:
            at = next((n for n, (row, _) in enumerate(places) if row >= here[0]), 0)
        row, place = places[at % len(places)]
        if row != self.list.currentRow():
            self.list.setCurrentRow(row)
        if self.page is not None:
            self.page.focus(place)

    def _focused(self) -> Place | None:
        if self.page is None:
            return None
        editors = [row.editor for row in self.page.rows.values()]
        editors += [editor for rows in self.page.lists for editor in rows.editors]
        return next((editor.place for editor in editors if editor.widget.hasFocus()), None)

    # --- what a person does ---------------------------------------------------------------------------

    @Slot()
    def _to_source(self) -> None:
        if self.page is not None:
            self.page.to_source_or_back()

    @Slot()
    def _add_row(self) -> None:
        if self.page is not None and not self.page.add_row():
            self._add_channel()

    @Slot()
    def _remove_row(self) -> None:
        if self.page is not None:
            self.page.remove_row()

    @Slot()
    def _add_channel(self) -> None:
        number = self.draft.add(("channel",), {})
        self._rebuild(2 + number)
        if self.page is not None:
            self.page.focus(None)

    @Slot()
    def _remove_channel(self) -> None:
        number = self._sections[self.list.currentRow()].place[1]
        if isinstance(number, int):
            self.draft.remove(("channel",), number)
            self._rebuild(self.list.currentRow() - 1)

    @Slot()
    def _as_first(self) -> None:
        place = self._sections[self.list.currentRow()].place
        self.draft.take_from(("channel", 0), place, but="name")
        self._build(self.list.currentRow())

    @Slot()
    def ask_save(self) -> None:
        """Save, or go to what is to be put right first."""
        if self._found.amplifier is not None:
            self.save.emit(self._found.amplifier)
            return
        self.next_problem()
        self.say(
            self.tr("Not saved: {n} to put right first; F8 goes from one to the next.").format(
                n=self._to_do()
            )
        )

    # --- checking -------------------------------------------------------------------------------------

    @Slot()
    def _check(self) -> None:
        """Ask the loader, and say at each field what it says."""
        channels = tuple(section.title for section in self._sections if section.place[:1] == ("channel",))
        names = tuple(
            name or channels[number]
            for number, name in enumerate(self.draft.channels)
            if number < len(channels)
        )
        if names != channels:
            self._sections = sections(self.draft.channels)
            self.list.show_titles([section.title for section in self._sections], self.list.currentRow())
        self._found = self.draft.findings()
        self._said = told(self._found.problems, self._sections, self.draft)
        self.list.show_counts(Counter(one.section for one in self._said))
        row = self.list.currentRow()
        if self.page is not None:
            self.page.say(one for one in self._said if one.section == row)
            self.page.show_fact(self._fact(self._sections[row]))
        self._title.setText(self.draft.name or self.tr("A new amplifier"))
        self._show_place()
        self._questions.setText("\n".join(self._asked()))
        self._questions.setVisible(bool(self._questions.text()))
        self.say(self._standing())
        self.edited.emit()

    def _to_do(self) -> str:
        count = len(self._said)
        return self.tr("one thing") if count == 1 else self.tr("{n} things").format(n=count)

    def _standing(self) -> str:
        if self._said:
            return self.tr("To put right: {n}.").format(n=self._to_do())
        return self.tr("Not saved yet.") if self.draft.changed else ""

    def _show_place(self) -> None:
        source = self.draft.source
        if source.shipped:
            words = self.tr("It ships with the program and stays as it is: a copy of your own is saved.")
        elif source.path is not None:
            words = f"{source.path}"
        else:
            words = self.tr("A new file among your amplifiers.")
        self._place.setText(" ".join(filter(None, (self.draft.told, words))))

    def _asked(self) -> list[str]:
        amplifier = self._found.amplifier
        if amplifier is None:
            return []
        refused = unsuited_for(shipped_procedures()["two-channel-bias-trim"], amplifier)
        return [*([refused] if refused else []), *target_questions(amplifier)][:MOST_QUESTIONS]

    def _fact(self, section: Section) -> str:
        """What a channel's entries come to at the test points."""
        amplifier, number = self._found.amplifier, section.place[-1] if section.place else None
        if amplifier is None or not isinstance(number, int):
            return ""
        channel = amplifier.channel[number]
        target = target_of(amplifier, channel)
        if target is None:
            return ""
        words = self.tr("{target} at the test points, window {low} to {high}").format(
            target=figure(target.volts), low=figure(target.low_volts), high=figure(target.high_volts)
        )
        amperes, ohm = intended_amperes(amplifier, channel), amplifier.between_probes_ohm(channel)
        if amperes is None or ohm is None:
            return signed(f"{words}.")
        return signed(f"{words}: {amperes * 1e3:.4g} mA × {ohm:.4g} Ω.")
