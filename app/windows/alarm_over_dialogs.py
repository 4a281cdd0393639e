"""An alarm across the top of a dialog that would cover it: what is to be done, and the key that it has."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QApplication, QDialog, QFileDialog, QWidget

from app.windows.alarm_banner import AlarmBanner
from app.windows.theme import glove_sheet, shades, wear
from app.windows.worded import Button

KEY = "F8"


class AlarmStrip(Button):
    """Lies across the top of one dialog for as long as an alarm that nobody has seen stands behind it."""

    def __init__(self, banner: AlarmBanner, dialog: QDialog) -> None:
        super().__init__(dialog)
        self._dialog = dialog
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAutoDefault(False)
        self.clicked.connect(banner.acknowledge_shown)
        # Not the button's own: that clicks a tenth of a second later.
        QShortcut(QKeySequence(KEY), dialog).activated.connect(self.click)
        dialog.installEventFilter(self)

    def show_alarm(self, banner: AlarmBanner) -> None:
        """Say the alarm's headline, in its colours; hidden when it has been seen."""
        alarm = banner.shown.alarm if banner.shown is not None and banner.loud else None
        self.setVisible(alarm is not None)
        if alarm is not None:
            ground, ink = shades().banner[alarm.tier]
            self.setText(self.tr("{alarm} – F8: seen").format(alarm=banner.text))
            wear(
                self,
                f"font-size: 20px; font-weight: 700; {glove_sheet()} background: {ground}; color: {ink};",
            )
            self._lie()

    def _lie(self) -> None:
        self.setGeometry(0, 0, self._dialog.width(), self.sizeHint().height())
        self.raise_()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Stay as wide as the dialog."""
        if watched is self._dialog and event.type() == QEvent.Type.Resize and self.isVisible():
            self._lie()
        return False


class AlarmOverDialogs(QObject):
    """Finds the dialog that is in front of a working screen's window, and lays the strip on it."""

    def __init__(self, banner: AlarmBanner, screen: QWidget) -> None:
        super().__init__(screen)
        self._banner = banner
        self._screen = screen

    def look(self) -> None:
        """Show the alarm on the dialog in front, if there are both."""
        dialog = QApplication.activeModalWidget()
        if not isinstance(dialog, QDialog) or isinstance(dialog, QFileDialog):
            return
        if not self._is_over(dialog):
            return
        strip = dialog.findChild(AlarmStrip)
        if strip is None and self._banner.loud:
            strip = AlarmStrip(self._banner, dialog)
        if strip is not None:
            strip.show_alarm(self._banner)

    def _is_over(self, dialog: QWidget) -> bool:
        """Whether a dialog, or the one that it belongs to, belongs to the screen's window."""
        owner = dialog.parentWidget()
        while owner is not None and owner.window() is not self._screen.window():
            owner = owner.window().parentWidget()
        return owner is not None
