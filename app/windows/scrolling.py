"""A page that scrolls on a small or strongly enlarged desktop."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QScrollArea, QWidget


def scrolling(screen: QWidget, parent: QWidget) -> QScrollArea:
    """Put a screen into such a page."""
    area = QScrollArea(parent)
    area.setWidgetResizable(True)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    area.setWidget(screen)
    return area
