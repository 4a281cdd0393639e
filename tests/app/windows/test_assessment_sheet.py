"""The sheet after practice: by keys, on a small window, and for a session looked back at."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCheckBox, QWidget
from pytestqt.qtbot import QtBot

from app.windows.assessment_sheet import AssessmentSheet
from procedures.assessment import Assessment
from procedures.defects import DEFECT_WORDS


class Went:
    """A practice that went somehow; remembers what was named."""

    def __init__(self) -> None:
        self.named: tuple[str, ...] | None = None

    def assessment(self, named: tuple[str, ...] | None = None) -> Assessment | None:
        self.named = named
        return Assessment(finished=True)


@pytest.fixture
def small(qtbot: QtBot) -> Iterator[QWidget]:
    """A window as small as it may be."""
    window = QWidget()
    window.resize(960, 540)
    with qtbot.waitExposed(window):
        window.show()
    yield window
    window.close()
    window.deleteLater()


def test_the_sheet_fits_a_small_window_and_scrolls(small: QWidget, qtbot: QtBot) -> None:
    """Its key is in sight, and Tab brings the last thing of the list into sight."""
    went = Went()
    sheet = AssessmentSheet(went, small)
    sheet.open()
    qtbot.waitExposed(sheet)
    assert sheet.height() <= small.height()
    assert sheet.rect().contains(sheet.key.geometry())
    last = list(DEFECT_WORDS.values())[-1]
    for _ in range(len(DEFECT_WORDS) + 3):
        box = sheet.focusWidget()
        if isinstance(box, QCheckBox) and box.text() == last:
            break
        qtbot.keyClick(box or sheet, Qt.Key.Key_Tab)
    assert isinstance(box, QCheckBox)
    assert not box.visibleRegion().isEmpty()
    qtbot.keyClick(box, Qt.Key.Key_Space)
    qtbot.keyClick(box, Qt.Key.Key_Return)
    assert went.named == (list(DEFECT_WORDS)[-1],)
    assert sheet.text
    sheet.close()


def test_a_past_practice_tells_at_once(small: QWidget) -> None:
    """Its record is closed: nothing is asked, and nothing is kept."""
    went = Went()
    sheet = AssessmentSheet(went, small, asks=False)
    sheet.open()
    assert sheet.text
    assert not any(box.isVisible() for box in sheet.findChildren(QCheckBox))
    sheet.close()
