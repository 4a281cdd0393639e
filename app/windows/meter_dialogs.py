"""Finding, checking and declaring a meter: plain dialogues, and the question that is asked once.

Searching and checking take seconds, so each is done in a thread of its own; a signal brings what was found.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QListWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.windows.errand import Errand
from app.windows.flow import Flow
from app.windows.number_sign import signed
from app.windows.ports import FoundMeters, Workshop
from app.windows.told_dialog import ToldDialog
from app.windows.worded import Button, Dialog, Label, LineEdit, List, Table, list_item, table_item
from drivers.checking import CheckLine

SLOW_MS = 500
_ADDRESS = Qt.ItemDataRole.UserRole
_AS_ANSWERED = ("address", "identity")  # lines of a check whose points are no decimal signs


class InputDialog(Dialog):
    """Asks whether a meter's input is isolated from earth. `answered` carries True, False, or None."""

    answered = Signal(object)

    def __init__(self, question: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Asked once for each meter"))
        words = Label(question, self)
        words.setWordWrap(True)
        words.setStyleSheet("font-size: 20px;")
        self.isolated = Button(self.tr("It is &isolated"), self)
        self.earthed = Button(self.tr("It is &earthed"), self)
        self.unknown = Button(self.tr("I do not &know"), self)
        self.isolated.clicked.connect(self._isolated)
        self.earthed.clicked.connect(self._earthed)
        self.unknown.clicked.connect(self.reject)
        self.unknown.setDefault(True)
        self.rejected.connect(self._unknown)
        row = Flow()
        for button in (self.isolated, self.earthed, self.unknown):
            button.setMinimumHeight(48)
            row.addWidget(button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 20)
        layout.setSpacing(16)
        layout.addWidget(words)
        layout.addLayout(row)
        self.setMinimumWidth(640)

    @Slot()
    def _isolated(self) -> None:
        self.accept()
        self.answered.emit(True)

    @Slot()
    def _earthed(self) -> None:
        self.accept()
        self.answered.emit(False)

    @Slot()
    def _unknown(self) -> None:
        self.answered.emit(None)


class InputGate(QObject):
    """Asks about every meter that has yet to be asked about, then lets the work begin.

    Who answers at a new address is found out beside the window: that takes up to three seconds, and `told`
    says so. `earthed` carries the address of a meter that was just declared so.
    """

    told = Signal(str)
    earthed = Signal(str)

    def __init__(self, workshop: Workshop, parent: QWidget) -> None:
        super().__init__(parent)
        self._workshop = workshop
        self._window = parent
        self._left: list[str] = []
        self._then: Callable[[], object] = bool
        self._errand: Errand | None = None
        self._isolated = self._said = False
        self._slow = QTimer(self)
        self._slow.setSingleShot(True)
        self._slow.setInterval(SLOW_MS)
        self._slow.timeout.connect(self._say_so)
        self.dialog: InputDialog | None = None

    def first(self, addresses: Sequence[str], then: Callable[[], object]) -> None:
        """Ask what is to be asked about these meters, then do `then`; who does not know is told why not."""
        self._left, self._then = list(addresses), then
        self._go_on()

    def _go_on(self) -> None:
        if not self._left:
            self._then()
            return
        self._send(partial(self._workshop.input_question, self._left[0]), self._question_came)

    def _send(self, work: Callable[[], object], came: Callable[[object], object]) -> None:
        self._errand = Errand(self)
        self._errand.done.connect(came)
        self._slow.start()
        self._errand.soon(work)

    def _refused(self, came: object) -> bool:
        """Whether there is nothing to go on with: a refusal, or an answer that nobody waits for any more."""
        if self.sender() not in (self._errand, None):
            return True
        self._slow.stop()
        refused = isinstance(came, Exception)
        if refused or self._said:
            self.told.emit(str(came) if refused else "")
        self._said = False
        return refused

    @Slot()
    def _say_so(self) -> None:
        self._said = True
        words = self.tr("The meter at {address} is asked who it is …")
        self.told.emit(words.format(address=self._left[0]))

    @Slot(object)
    def _question_came(self, question: object) -> None:
        if self._refused(question):
            return
        if question:
            self.dialog = InputDialog(str(question), self._window)
            self.dialog.answered.connect(self._answered)
            self.dialog.open()
            return
        self._left.pop(0)
        self._go_on()

    @Slot(object)
    def _answered(self, isolated: object) -> None:
        self.dialog = None
        if not isinstance(isolated, bool):
            self._left.pop(0)
            self._go_on()
            return
        self._isolated = isolated
        self._send(partial(self._workshop.declare_input, self._left[0], isolated), self._declared)

    @Slot(object)
    def _declared(self, came: object) -> None:
        if self._refused(came):
            return
        address = self._left.pop(0)
        if not self._isolated:
            self.earthed.emit(address)
        self._go_on()


class MetersDialog(Dialog):
    """An address, what is there to choose from, and what a check of it found. `watch` carries the address."""

    watch = Signal(str)

    def __init__(self, workshop: Workshop, address: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._workshop = workshop
        self._searching, self._checking = Errand(), Errand()
        self._searching.done.connect(self._found)
        self._checking.done.connect(self._checked)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Find or check a meter"))
        self.address = LineEdit(address, self)
        self.address.setPlaceholderText("TCPIP0::192.168.1.20::hislip0::INSTR")
        self.address.setAccessibleName(self.tr("Address of a meter"))
        self.check_button = Button(self.tr("&Check it"), self)
        self.check_button.clicked.connect(self.check)
        self.check_button.setDefault(True)
        self.tell_button = Button(self.tr("&Tell about it …"), self)
        self.tell_button.clicked.connect(self.tell)
        self.told: ToldDialog | None = None
        self.watch_button = Button(self.tr("&Watch it"), self)
        self.watch_button.clicked.connect(self._watch)
        self.list = List(self)
        self.list.setAccessibleName(self.tr("Meters that are there"))
        self.list.setSpacing(3)
        self.list.itemClicked.connect(self._choose)
        self.list.itemActivated.connect(self._choose)
        self.state = Label(self)
        self.state.setWordWrap(True)
        self._of_check = self._of_search = ""
        self.table = Table(0, 3, self)
        self.table.setAccessibleName(self.tr("What the check found"))
        self._arrange()
        self.search()

    def _arrange(self) -> None:
        self.table.setHorizontalHeaderLabels([self.tr("what"), self.tr("fit"), self.tr("found")])
        self.table.verticalHeader().hide()
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setShowGrid(False)
        header = self.table.horizontalHeader()
        header.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setStretchLastSection(True)
        row = Flow()
        self.address.setMinimumWidth(220)
        row.addWidget(self.address)
        for button in (self.check_button, self.tell_button, self.watch_button):
            button.setMinimumHeight(44)
            row.addWidget(button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 20)
        layout.setSpacing(10)
        layout.addLayout(row)
        layout.addWidget(self.list, 1)
        layout.addWidget(self.state)
        layout.addWidget(self.table, 2)
        self.resize(900, 640)

    # --- searching ------------------------------------------------------------------------------------

    def search(self) -> None:
        """Look what is there; an address can be typed meanwhile."""
        self._tell(searched=self.tr("Looking for meters …"))
        self._searching.run(self._workshop.search_meters)

    def _tell(self, checked: str | None = None, searched: str | None = None) -> None:
        """Say what came of the last check, and below it of the search, which may end at any time."""
        if checked is not None:
            self._of_check = checked
            self._of_search = "" if self.list.count() else self._of_search  # it has been read
        self._of_search = self._of_search if searched is None else searched
        self.state.setText("\n".join(filter(None, (self._of_check, self._of_search))))

    @Slot(object)
    def _found(self, found: object) -> None:
        if not isinstance(found, FoundMeters):
            self._tell(searched=str(found))
            return
        self.list.clear()
        for card in found.meters:
            words = f"{card.key}    {card.title}" + (f"\n      {card.detail}" if card.detail else "")
            item = list_item(words, self.list)
            item.setData(_ADDRESS, card.key)
        item = list_item(self.tr("typed    the display that you read off"), self.list)
        item.setData(_ADDRESS, "typed")
        self._tell(searched="\n".join(found.troubles))

    @Slot(QListWidgetItem)
    def _choose(self, item: QListWidgetItem) -> None:
        self.address.setText(str(item.data(_ADDRESS)))

    # --- checking -------------------------------------------------------------------------------------

    def _typed(self) -> str:
        address = self.address.text().strip()
        if not address:
            self._tell(self.tr("Type an address first, or choose one of the list."))
        return address

    @Slot()
    def check(self) -> None:
        """Look at the meter; none of its settings is changed."""
        address = self._typed()
        if not address:
            return
        self.check_button.setEnabled(False)
        self.table.setRowCount(0)
        self._tell(self.tr("Looking at {address} …").format(address=address))
        self._checking.run(lambda: self._workshop.check_meter(address))

    @Slot(object)
    def _checked(self, found: object) -> None:
        self.check_button.setEnabled(True)
        if not isinstance(found, tuple):
            self._tell(str(found))
            return
        lines = [line for line in found if isinstance(line, CheckLine)]
        marks = {True: self.tr("good"), False: self.tr("bad"), None: ""}
        self.table.setRowCount(len(lines))
        for row, line in enumerate(lines):
            found_words = line.found if line.what in _AS_ANSWERED else signed(line.found)
            for column, words in enumerate((line.what, marks[line.good], found_words)):
                self.table.setItem(row, column, table_item(words))
        self.table.resizeRowsToContents()
        bad = [line.what for line in lines if line.good is False]
        self._tell(
            self.tr("Against a bias measurement speaks: {what}.").format(what=", ".join(bad))
            if bad
            else self.tr("Nothing was found that speaks against a bias measurement.")
        )

    @Slot()
    def tell(self) -> None:
        """Tell what the meter cannot say of itself; it is kept for the next time that it is used."""
        address = self._typed()
        if not address:
            return
        try:
            told = self._workshop.told_meter(address)
        except (OSError, ValueError) as refusal:
            self._tell(str(refusal))
            return
        self.told = ToldDialog(self._workshop, told, self)
        self.told.accepted.connect(self._kept)
        self.told.open()

    @Slot()
    def _kept(self) -> None:
        words = self.tr("Kept with {address}, for the next time that it is used.")
        self._tell(words.format(address=self.address.text().strip()))

    @Slot()
    def _watch(self) -> None:
        address = self._typed()
        if address:
            self.accept()
            self.watch.emit(address)
