"""Dialogs on small and enlarged desktops: none is larger than the screen; what has no room scrolls."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QMargins, QObject, QSize
from PySide6.QtWidgets import (
    QApplication,
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QMessageBox,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

BAR = 14  # style pixels: what scrolls has a bar beside it
EDGES = 24  # style pixels: margins and gaps about the page
SCROLLED = "scrolled contents"
FRAME = QSize(16, 48)  # style pixels that a window manager adds


class DialogFit(QObject):
    """Looks at every dialog before it is shown for the first time."""

    def __init__(self, app: QApplication) -> None:
        super().__init__(app)
        app.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Fit a dialog into its screen."""
        if event.type() == QEvent.Type.Show and isinstance(watched, QDialog):
            fit_dialog(watched, watched.screen().availableSize() - FRAME)
        return False


def fit_dialog(dialog: QDialog, room: QSize) -> bool:
    """Let a dialog be no larger than `room`; whether its contents scroll now."""
    layout = dialog.layout()
    own = not isinstance(dialog, QFileDialog | QMessageBox)
    hint = dialog.sizeHint().expandedTo(dialog.minimumSize()).expandedTo(dialog.minimumSizeHint())
    scrolls = dialog.findChild(QScrollArea, SCROLLED) is not None
    fits = hint.width() <= room.width() and hint.height() <= room.height()
    if not own or layout is None:
        return False
    if fits and not scrolls:
        dialog.resize(dialog.size().boundedTo(room))
        return False
    if not scrolls:
        _scroll(dialog)
    dialog.setMinimumSize(0, 0)
    dialog.setMaximumSize(room)
    hint = hint.grownBy(QMargins(0, 0, BAR, 0))
    size = dialog.size().expandedTo(hint).boundedTo(room)
    if size.width() < hint.width():  # narrower, so what wraps is higher
        size.setHeight(min(max(size.height(), _height_within(dialog, size.width())), room.height()))
    dialog.resize(size)
    return True


def _height_within(dialog: QDialog, width: int) -> int:
    """The height that a dialog needs whose page is this wide, with its closing keys and its edges."""
    area = dialog.findChild(QScrollArea, SCROLLED)
    inside = area.widget() if isinstance(area, QScrollArea) else None
    page = inside.layout() if inside is not None else None
    if page is None:
        return 0
    closing = dialog.findChild(QDialogButtonBox)
    beside = closing.sizeHint().height() + EDGES if closing is not None else EDGES
    return max(page.totalHeightForWidth(width - BAR), page.totalSizeHint().height()) + beside


def _scroll(dialog: QDialog) -> None:
    """Put what is in the dialog onto a page that scrolls; the keys that close it stay in view."""
    layout = dialog.layout()
    assert layout is not None
    closing = dialog.findChild(QDialogButtonBox)
    if closing is not None and layout.indexOf(closing) >= 0:
        layout.removeWidget(closing)
    else:
        closing = None
    focused = dialog.focusWidget()
    page = QWidget()
    page.setLayout(layout)  # takes the widgets along
    area = QScrollArea(dialog)
    area.setObjectName(SCROLLED)
    area.setWidgetResizable(True)
    area.setWidget(page)
    outer = QVBoxLayout(dialog)
    outer.setContentsMargins(0, 0, 0, 6)
    outer.addWidget(area, 1)
    if closing is not None:
        outer.addWidget(closing)
    if focused is not None:
        focused.setFocus()
