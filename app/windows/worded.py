"""Qt's widgets that carry words, each taking English and showing the person's language.

The one place where text meets a widget: screens import these names instead of Qt's, give them finished
English and never think of languages; what a screen paints itself goes through `app.language.worded`. Each
widget keeps the English, so that another language can be taken up at once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QEvent, QLibraryInfo, QLocale, Qt, QTranslator
from PySide6.QtGui import QPaintEvent
from PySide6.QtGui import Qt as QtText
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QCheckBox,
    QComboBox,
    QDialog,
    QFormLayout,
    QLabel,
    QLayout,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QMessageBox,
    QPlainTextEdit,
    QPushButton,
    QSlider,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from app import language
from app.language import worded
from app.windows.tick import tick_box

if TYPE_CHECKING:
    _Any = QWidget
else:
    _Any = object

ENGLISH_ROLE = Qt.ItemDataRole.UserRole + 77


def as_it_stands(words: str) -> str:
    """Words for a tip, which Qt would take for mark-up where they look like it."""
    return escape(words) if QtText.mightBeRichText(words) else words


class Worded(_Any):
    """Mixed into a widget: what it says of itself is shown in the person's language."""

    _english: dict[str, str] | None = None

    def _word(self, name: str, put: Callable[[str], object], text: str) -> None:
        """Put a text in the person's language and keep the English of it."""
        if self._english is None:
            self._english = {}
        self._english[name] = text
        put(worded(text))

    def english(self, name: str = "setText") -> str:
        """The English of what was given to one of the setters."""
        return (self._english or {}).get(name, "")

    def setAccessibleName(self, text: str) -> None:
        """What a screen reader calls the widget."""
        self._word("setAccessibleName", super().setAccessibleName, text)

    def setAccessibleDescription(self, text: str) -> None:
        """What a screen reader tells of the widget."""
        self._word("setAccessibleDescription", super().setAccessibleDescription, text)

    def setToolTip(self, text: str) -> None:
        """What a resting pointer shows."""
        put = super().setToolTip
        self._word("setToolTip", lambda words: put(as_it_stands(words)), text)

    def setWindowTitle(self, text: str) -> None:
        """What stands in the title bar."""
        self._word("setWindowTitle", super().setWindowTitle, text)

    def changeEvent(self, event: QEvent) -> None:
        """Say everything again when another language was chosen."""
        super().changeEvent(event)
        if event.type() is QEvent.Type.LanguageChange:
            self.say_again()

    def say_again(self) -> None:
        """Take up the language that is in force now."""
        for name, text in (self._english or {}).items():
            getattr(self, name)(text)
        self.updateGeometry()
        self.update()


class WordedWidget(Worded, QWidget):
    """A widget that paints its words itself, or only says what it is."""


class Dialog(Worded, QDialog):
    """A dialog with a title."""


class _Lettered(Worded):
    """Mixed into what has words on it from the beginning. `text` may be left out, as with Qt's own."""

    def __init__(self, text: str | QWidget | None = "", parent: QWidget | None = None) -> None:
        words, owner = (text, parent) if isinstance(text, str) else ("", text)
        super().__init__(owner)
        if words:
            self.setText(words)

    def setText(self, text: str) -> None:
        """Show words; nothing is done where they stand already."""
        self._word("setText", super().setText, text)  # type: ignore[misc]


class Label(_Lettered, QLabel):
    """Words as they stand: what looks like mark-up in a name, a path or a meter's answer is none."""

    def __init__(self, text: str | QWidget | None = "", parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setTextFormat(Qt.TextFormat.PlainText)


class Verbatim(QLabel):
    """What stands in a file, shown as it stands there."""


class Button(_Lettered, QPushButton):
    """A key with words on it."""


class NameButton(Button):
    """A key with words that somebody gave: an ampersand in them is a letter, and no key of Alt."""

    def setText(self, text: str) -> None:
        """Show words; nothing is done where they stand already."""
        self._word("setText", lambda words: QPushButton.setText(self, words.replace("&", "&&")), text)


class DrawnButton(Worded, QAbstractButton):
    """A key that paints itself; `text` is in the person's language."""

    def setText(self, text: str) -> None:
        """Give it words."""
        self._word("setText", super().setText, text)


class CheckBox(_Lettered, QCheckBox):
    """A box with words beside it."""

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the box and the words, and a tick where it is ticked."""
        super().paintEvent(event)
        tick_box(self)


class Slider(Worded, QSlider):
    """A slider with a name."""


class LineEdit(Worded, QLineEdit):
    """A field; what a person types there is never translated, the example in it is."""

    def setPlaceholderText(self, text: str) -> None:
        """Show an example while the field is empty."""
        self._word("setPlaceholderText", super().setPlaceholderText, text)


class TextEdit(Worded, QPlainTextEdit):
    """A field of several lines; what a person types there is never translated, the example in it is."""

    def setPlaceholderText(self, text: str) -> None:
        """What stands in the empty field."""
        self._word("setPlaceholderText", super().setPlaceholderText, text)


class ComboBox(Worded, QComboBox):
    """A choice among words; `currentData` says which was chosen, in no language."""

    def addItem(self, text: str, data: object = None) -> None:  # type: ignore[override]
        """Add a choice."""
        super().addItem(worded(text), data)
        self.setItemData(self.count() - 1, text, ENGLISH_ROLE)

    def addItems(self, texts: Sequence[str]) -> None:
        """Add choices whose data are their own English."""
        for text in texts:
            self.addItem(text, text)

    def say_again(self) -> None:
        """Take up the language that is in force now."""
        super().say_again()
        for index in range(self.count()):
            english = self.itemData(index, ENGLISH_ROLE)
            if isinstance(english, str):
                self.setItemText(index, worded(english))


class Form(QFormLayout):
    """Rows of a name and a field."""

    def addRow(self, *row: Any) -> None:
        """Add a row; a name given as text becomes a label that belongs to its field."""
        if len(row) == 2 and isinstance(row[0], str):
            label = Label(row[0])
            field: QWidget | QLayout = row[1]
            if isinstance(field, QWidget):
                label.setBuddy(field)
            super().addRow(label, field)
        else:
            super().addRow(*row)


class MessageBox(Worded, QMessageBox):
    """A question or a message of its own window, in words as they stand."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextFormat(Qt.TextFormat.PlainText)

    def setText(self, text: str) -> None:
        """Show words."""
        self._word("setText", super().setText, text)

    def setInformativeText(self, text: str) -> None:
        """Show more words."""
        self._word("setInformativeText", super().setInformativeText, text)
        more = self.findChild(QLabel, "qt_msgbox_informativelabel")
        if more is not None:
            more.setTextFormat(Qt.TextFormat.PlainText)

    def add_button(self, text: str, role: QMessageBox.ButtonRole) -> QPushButton:
        """Add a key with words on it."""
        return self.addButton(worded(text), role)

    def add_harmless(self, text: str) -> None:
        """Add the key that changes nothing; Enter and Esc answer with it."""
        harmless = self.add_button(text, QMessageBox.ButtonRole.RejectRole)
        self.setDefaultButton(harmless)
        self.setEscapeButton(harmless)

    def ask(self, stay: str, then: Callable[[int], None]) -> None:
        """Ask without holding anything up; `stay` is what changes nothing."""
        self.add_harmless(stay)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        words = self.findChild(QLabel, "qt_msgbox_label")
        if words is not None:
            words.setStyleSheet("font-size: 20px; font-weight: 600; min-width: 380px;")
        self.finished.connect(then)
        self.open()


class Table(Worded, QTableWidget):
    """Rows of words."""

    def setHorizontalHeaderLabels(self, texts: Sequence[str]) -> None:
        """Name the columns."""
        super().setHorizontalHeaderLabels([worded(text) for text in texts])


class List(Worded, QListWidget):
    """Lines of words to choose from."""


def table_item(text: str) -> QTableWidgetItem:
    """A cell with words in it, which its tip says in full."""
    item = QTableWidgetItem(worded(text))
    item.setToolTip(as_it_stands(worded(text)))
    return item


def list_item(text: str, owner: QListWidget | None = None) -> QListWidgetItem:
    """A line with words in it."""
    return QListWidgetItem(worded(text), owner)


# --- choosing a language --------------------------------------------------------------------------------


class _QtsOwn:
    """Qt's own words (Close, Cancel, the file dialog) in the language in force."""

    def __init__(self) -> None:
        self.translator: QTranslator | None = None

    def follow(self, app: QApplication, code: str) -> None:
        if self.translator is not None:
            app.removeTranslator(self.translator)
            self.translator = None
        if code != language.ENGLISH:
            translator = QTranslator(app)
            folder = QLibraryInfo.path(QLibraryInfo.LibraryPath.TranslationsPath)
            if translator.load(f"qtbase_{code}", folder):
                app.installTranslator(translator)
                self.translator = translator


_QTS_OWN = _QtsOwn()


def speak(setting: str) -> str:
    """Show every window in a language from now on; which one it is.

    Args:
        setting: A language's code; `system` or empty for the desktop's. One that there is not is English.
    """
    system = QLocale.system()
    code = language.resolved(setting, system.uiLanguages()[0] if system.uiLanguages() else "")
    language.choose(code)
    QLocale.setDefault(system if code == language.resolved("", system.name()) else QLocale(code))
    app = QApplication.instance()
    if isinstance(app, QApplication):
        _QTS_OWN.follow(app, code)
        app.sendEvent(app, QEvent(QEvent.Type.LanguageChange))
    return code
