"""The sheet of settings: shades, language, decimal sign, foot switch, and the head of the report.

Everything takes effect at once and is kept; there is nothing to confirm. Works on every screen by one key,
and by keys alone.
"""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, Signal, Slot
from PySide6.QtGui import QImageReader, QKeySequence, QShortcut
from PySide6.QtWidgets import QApplication, QDialogButtonBox, QFileDialog, QHBoxLayout, QVBoxLayout, QWidget

from app import language
from app.settings import Letterhead
from app.windows.choice_ports import Choices
from app.windows.chooser import Chooser
from app.windows.flow import Flow
from app.windows.foot_key import KeyLearner, in_use, key_words
from app.windows.number_sign import NUMBER_SIGN, sign_of
from app.windows.theme import THEME, Look
from app.windows.worded import Button, Dialog, Form, Label, LineEdit, TextEdit, speak
from app.windows.working_screen import WorkingScreen

SETTINGS_KEY = "Ctrl+,"


class FootRow(QWidget):
    """Which key the foot switch sends, and how it is learned. `said` is a sentence for the person."""

    chosen = Signal(str)
    said = Signal(str)

    def __init__(self, kept: str, parent: QWidget) -> None:
        super().__init__(parent)
        self._kept = kept
        self._words = Label(self)
        self._words.setWordWrap(True)
        self.learn = Button(self.tr("Learn it: press the pedal after this"), self)
        self.learn.setAutoDefault(False)
        self.forget = Button(self.tr("Forget it"), self)
        self.forget.setAutoDefault(False)
        self.learner = KeyLearner(self)
        keys = Flow()
        keys.addWidget(self.learn)
        keys.addWidget(self.forget)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._words)
        layout.addLayout(keys)
        self.learn.clicked.connect(self._begin)
        self.forget.clicked.connect(self._forget)
        self.learner.learned.connect(self._learned)
        self._show()

    @property
    def words(self) -> str:
        """What it says of the key."""
        return self._words.text()

    def _show(self) -> None:
        usual = self.tr("Space, Page Down, the play key and F13 to F24 do the next thing.")
        own = self.tr("The pedal's own key does it too: {key}.").format(key=key_words(self._kept))
        self._words.setText(f"{usual} {own}" if self._kept else usual)
        self.forget.setEnabled(bool(self._kept))

    @Slot()
    def _begin(self) -> None:
        self._words.setText(self.tr("Press the pedal now. Esc leaves it as it was."))
        self.said.emit("")
        self.learner.begin()

    @Slot(str)
    def _learned(self, key: str) -> None:
        trouble = in_use(key) if key else ""
        if key and not trouble:
            self._kept = key
            self.chosen.emit(key)
        self._show()
        self.said.emit(trouble)

    @Slot()
    def _forget(self) -> None:
        self._kept = ""
        self.chosen.emit("")
        self._show()
        self.learn.setFocus(Qt.FocusReason.OtherFocusReason)


class LetterheadRows(QObject):
    """The workshop's name, address and picture, and the paper. `chosen` carries a `Letterhead`."""

    chosen = Signal(object)
    said = Signal(str)

    def __init__(self, head: Letterhead, parent: QWidget) -> None:
        super().__init__(parent)
        self._parent = parent
        self._head = head
        self._choosing: QFileDialog | None = None
        self.name = LineEdit(head.name, parent)
        self.name.setMaxLength(200)
        self.name.setAccessibleName(self.tr("The workshop's name"))
        self.address = TextEdit(head.address, parent)
        self.address.setFixedHeight(84)
        self.address.setTabChangesFocus(True)
        self.address.setAccessibleName(self.tr("The workshop's address"))
        self.picture = LineEdit(head.picture, parent)
        self.picture.setMaxLength(1000)
        self.picture.setAccessibleName(self.tr("Picture file, PNG or JPEG"))
        self.look = Button(self.tr("Choose …"), parent)
        self.look.setAccessibleName(self.tr("Choose the picture"))
        self.look.setAutoDefault(False)
        self.paper = Chooser(self.tr("Paper"), parent, letter=16.0)
        self.paper.addItems(["A4", "Letter"])
        self.paper.setCurrentIndex(self.paper.findData(head.paper))
        for field in (self.name, self.picture):
            field.setMinimumHeight(44)
        self.name.editingFinished.connect(self._choose)
        self.picture.editingFinished.connect(self._choose)
        self.address.textChanged.connect(self._choose)
        self.paper.currentIndexChanged.connect(self._choose)
        self.look.clicked.connect(self._look)

    def rows(self) -> tuple[tuple[str, QWidget | QHBoxLayout], ...]:
        """The rows for a form, each with its words."""
        picture = QHBoxLayout()
        picture.setSpacing(8)
        picture.addWidget(self.picture, 1)
        picture.addWidget(self.look)
        return (
            (self.tr("Head of the report"), self.name),
            (self.tr("Address"), self.address),
            (self.tr("Picture"), picture),
            (self.tr("Paper"), self.paper),
        )

    @Slot()
    def _choose(self) -> None:
        """Take up what is written now; a picture that cannot be shown is refused, the rest is taken."""
        path = self.picture.text().strip()
        address = self.address.toPlainText().strip()
        trouble = ""
        if path and not QImageReader(path).canRead():
            trouble = self.tr("{path} is no picture that can be read: choose a PNG or JPEG file.").format(
                path=path
            )
            path = self._head.picture
        if len(address) > 500:
            trouble = self.tr("The address is too long by {n} letters: it is kept up to the 500th.").format(
                n=len(address) - 500
            )
        head = Letterhead(
            name=self.name.text().strip(),
            address=address[:500],
            picture=path,
            paper="Letter" if self.paper.currentData() == "Letter" else "A4",
        )
        self.said.emit(trouble)
        if head != self._head:
            self._head = head
            self.chosen.emit(head)

    @Slot()
    def _look(self) -> None:
        words = self.tr("Pictures (*.png *.jpg *.jpeg)")
        self._choosing = QFileDialog(
            self._parent, self.tr("The picture at the head of the report"), "", words
        )
        self._choosing.setFileMode(QFileDialog.FileMode.ExistingFile)
        self._choosing.fileSelected.connect(self._picked)
        self._choosing.open()

    @Slot(str)
    def _picked(self, path: str) -> None:
        self.picture.setText(path)
        self._choose()


class SettingsSheet(Dialog):
    """The sheet. `changed` follows everything that was taken up; the window then shows it."""

    changed = Signal()

    def __init__(self, choices: Choices, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Settings"))
        self._choices = choices
        now = choices.now
        self.look = self._chooser(self.tr("Shades"), self._looks(), now.appearance)
        self.language = self._chooser(self.tr("Language"), self._languages(), now.language or "system")
        self.sign = self._chooser(self.tr("Decimal sign"), self._signs(), now.decimal_sign)
        self.foot = FootRow(now.foot_key, self)
        self.head = LetterheadRows(now.letterhead, self)
        self.notice = Label(self)
        self.notice.setWordWrap(True)
        self.notice.setProperty("role", "trouble")
        self._arrange()
        self.look.currentIndexChanged.connect(self._look_chosen)
        self.language.currentIndexChanged.connect(self._language_chosen)
        self.sign.currentIndexChanged.connect(self._sign_chosen)
        self.foot.chosen.connect(self._foot_chosen)
        self.head.chosen.connect(self._head_chosen)
        self.foot.said.connect(self.say)
        self.head.said.connect(self.say)

    def _looks(self) -> tuple[tuple[str, str], ...]:
        return (
            (Look.SYSTEM.value, self.tr("as the system")),
            (Look.LIGHT.value, self.tr("light")),
            (Look.DARK.value, self.tr("dark")),
            (Look.CONTRAST.value, self.tr("high contrast")),
        )

    def _languages(self) -> tuple[tuple[str, str], ...]:
        named = [(one.code, one.name) for one in language.available()]
        return ((language.SYSTEM, self.tr("as the system")), *named)

    def _signs(self) -> tuple[tuple[str, str], ...]:
        system = self.tr("as the system: {example}").format(example=f"12{sign_of('system')}5")
        return (("system", system), ("point", self.tr("point: 12.5")), ("comma", self.tr("comma: 12,5")))

    def _chooser(self, name: str, offered: tuple[tuple[str, str], ...], chosen: str) -> Chooser:
        made = Chooser(name, self, letter=16.0)
        for key, words in offered:
            made.addItem(words, key)
        made.setCurrentIndex(max(0, made.findData(chosen)))
        return made

    def _arrange(self) -> None:
        form = Form()
        form.setLabelAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        form.setFieldGrowthPolicy(Form.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        form.setRowWrapPolicy(Form.RowWrapPolicy.WrapLongRows)
        form.setVerticalSpacing(8)
        form.setHorizontalSpacing(18)
        form.addRow(self.tr("Shades"), self.look)
        form.addRow(self.tr("Language"), self.language)
        form.addRow(self.tr("Decimal sign"), self.sign)
        form.addRow(self.tr("Foot switch"), self.foot)
        for words, row in self.head.rows():
            if isinstance(row, QHBoxLayout):
                form.addRow(words, row)
            else:
                form.addRow(words, row)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close, self)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(18, 16, 18, 14)
        layout.setSpacing(10)
        layout.addLayout(form)
        layout.addWidget(self.notice)
        layout.addWidget(buttons)
        self.resize(720, self.sizeHint().height())

    @Slot(str)
    def say(self, sentence: str) -> None:
        """Answer in words."""
        self.notice.setText(sentence)

    def done(self, code: int) -> None:
        """Keep what stands in a field that was not left yet, and give the keys back."""
        self.foot.learner.end()
        self.head.name.editingFinished.emit()
        super().done(code)

    # --- what is chosen -------------------------------------------------------------------------------

    def _choose(self, said: str = "", **changes: object) -> None:
        """Take something up; that it cannot be kept is said before what else there is to say."""
        self.say(self._choices.choose(**changes) or said)
        self.changed.emit()

    @Slot()
    def _look_chosen(self) -> None:
        THEME.look = Look(self.look.currentData())
        app = QApplication.instance()
        if isinstance(app, QApplication):
            THEME.apply(app)
        self._choose(appearance=THEME.look.value)

    @Slot()
    def _language_chosen(self) -> None:
        choice = str(self.language.currentData())
        speak(choice)
        NUMBER_SIGN.take(str(self.sign.currentData()))
        self._choose(language=choice)

    @Slot()
    def _sign_chosen(self) -> None:
        choice = str(self.sign.currentData())
        NUMBER_SIGN.take(choice)
        self._choose(decimal_sign=choice)

    @Slot(str)
    def _foot_chosen(self, key: str) -> None:
        self._choose(foot_key=key)

    @Slot(object)
    def _head_chosen(self, head: object) -> None:
        if isinstance(head, Letterhead):
            self._choose(self.notice.english(), letterhead=head.model_dump())


class SettingsKey(QObject):
    """Opens the sheet by one key on every screen; on the working screen it is among the keys of F1."""

    def __init__(self, choices: Choices, window: QWidget) -> None:
        super().__init__(window)
        self._choices = choices
        self._window = window
        self._working: WorkingScreen | None = None
        self.sheet: SettingsSheet | None = None
        NUMBER_SIGN.take(choices.now.decimal_sign)
        self._shortcut = QShortcut(QKeySequence(SETTINGS_KEY), window)
        self._shortcut.setContext(Qt.ShortcutContext.WindowShortcut)
        self._shortcut.activated.connect(self.open)

    def attach(self, working: WorkingScreen) -> None:
        """Let the working screen have the foot switch, and its own key while it is shown."""
        self._working = working
        self._shortcut.setEnabled(False)
        working.settings.connect(self.open)
        working.destroyed.connect(self._detach)
        self._take_up()

    @Slot()
    def _detach(self) -> None:
        self._working = None
        self._shortcut.setEnabled(True)

    @Slot()
    def open(self) -> None:
        """Open the sheet."""
        self.sheet = SettingsSheet(self._choices, self._window)
        self.sheet.changed.connect(self._take_up)
        self.sheet.open()

    @Slot()
    def _take_up(self) -> None:
        """Let the screens show what is chosen."""
        if self._working is not None:
            self._working.learn_foot_key(self._choices.now.foot_key)
            self._working.redraw()
