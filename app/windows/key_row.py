"""The row of keys along the lower edge, and the sheet that shows all of them."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QSize, Qt, Signal, Slot
from PySide6.QtGui import QAction, QKeySequence, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QWidget

from app.windows.actions import DEEDS, Deed
from app.windows.key_names import key_name
from app.windows.key_sheet import KeySheet
from app.windows.worded import Button, Dialog

IN_THE_ROW = ("mark", "note", "lead", "supply", "type", "pause", "stop", "mute", "lid", "away")

# What goes on while its key is held; all else happens once.
MOVING = (
    *("cursor-earlier", "cursor-later", "cursor-far", "zoom", "pan", "further"),
    *("replay-back", "replay-on"),
)

AFTERWARDS = ("leave", "export", "job", "name", "follow")
REPLAYING = (
    "leave",
    "replay-slower",
    "replay-faster",
    "replay-back",
    "replay-on",
    "follow",
    "export",
    "name",
)


def deed_title(deed: Deed) -> str:
    """The deed's title in the person's language."""
    return QCoreApplication.translate("deeds", deed.title)


def key_words(deed: Deed) -> str:
    """The key's name."""
    return key_name(deed.keys)


class DeedButton(Button):
    """A button that follows an action: same text, same state, its key written on it."""

    def __init__(self, action: QAction, deed: Deed, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._action = action
        self._deed = deed
        self._fits = True
        self.setCheckable(action.isCheckable())
        self.setMinimumHeight(46)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setStyleSheet("font-size: 15px; padding: 6px 5px;")
        self.clicked.connect(action.trigger)
        action.changed.connect(self._follow)
        self._follow()

    def fits(self, fits: bool) -> None:
        """Say whether there is room for the button."""
        self._fits = fits
        self.setVisible(fits and self._action.isVisible())

    @Slot()
    def _follow(self) -> None:
        self.setText(f"{key_words(self._deed)}  {deed_title(self._deed)}")
        self.setAccessibleName(deed_title(self._deed))
        self.setEnabled(self._action.isEnabled())
        self.setVisible(self._fits and self._action.isVisible())
        if self._action.isCheckable():
            self.setChecked(self._action.isChecked())


class Deeds(QWidget):
    """Owns one action for each deed of the table and the row of the most used ones."""

    done = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._actions: dict[str, QAction] = {}
        self._buttons: dict[str, DeedButton] = {}
        self._row: tuple[str, ...] = ()
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 2, 12, 6)
        row.setSpacing(6)
        for deed in DEEDS:
            action = QAction(deed_title(deed), self)
            action.setShortcut(QKeySequence(deed.keys))
            action.setShortcutContext(Qt.ShortcutContext.WindowShortcut)
            action.setCheckable(deed.held)
            action.setAutoRepeat(deed.name.startswith(MOVING))
            action.setData(deed.name)
            action.triggered.connect(self._triggered)
            self.addAction(action)
            self._actions[deed.name] = action
            self._buttons[deed.name] = DeedButton(action, deed, self)
        for name in dict.fromkeys((*IN_THE_ROW, *REPLAYING, *AFTERWARDS)):
            row.addWidget(self._buttons[name])
        self._more = Button(self.tr("F1  All keys"), self)
        self._more.setShortcut("F1")
        self._more.setMinimumHeight(46)
        self._more.setStyleSheet("font-size: 15px; padding: 6px 5px;")
        self._more.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self._more.clicked.connect(self.show_all)
        row.addStretch(1)
        row.addWidget(self._more)
        self._sheet: Dialog | None = None
        self.show_in_row(IN_THE_ROW)

    @property
    def sheet(self) -> Dialog | None:
        """The sheet with all keys, once it was asked for."""
        return self._sheet

    def action(self, name: str) -> QAction:
        """The action of a deed."""
        return self._actions[name]

    def minimumSizeHint(self) -> QSize:
        """Keys that find no place are left to the sheet."""
        return QSize(240, super().minimumSizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Show as many keys as fit; the last ones of the row are the first to go."""
        super().resizeEvent(event)
        self._fit()

    def show_in_row(self, names: tuple[str, ...]) -> None:
        """Choose which deeds have a button in the row."""
        if names != self._row:
            self._row = names
            self._fit()

    def _fit(self) -> None:
        room = self.width() - self._more.sizeHint().width() - 42
        for name, button in self._buttons.items():
            if name not in self._row:
                button.fits(False)
        for name in self._row:
            room -= self._buttons[name].sizeHint().width() + 6
            self._buttons[name].fits(room >= 0)

    @Slot()
    def _triggered(self) -> None:
        action = self.sender()
        if isinstance(action, QAction):
            self.done.emit(str(action.data()))

    @Slot()
    def show_all(self) -> None:
        """Open the sheet with all keys, for the window as large as it is now."""
        if self._sheet is not None:
            self._sheet.deleteLater()
        self._sheet = KeySheet(self._key_on, self)
        self._sheet.open()

    def _key_on(self, deed: Deed, sheet: QWidget) -> DeedButton:
        return DeedButton(self._actions[deed.name], deed, sheet)
