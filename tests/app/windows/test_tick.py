"""A ticked box is told from an empty one by its shape, however the box stands."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from app.windows.theme import THEME, Look, contrast, shades
from app.windows.tick import indicator_of
from app.windows.worded import CheckBox

LOOKS = (Look.LIGHT, Look.DARK, Look.CONTRAST)


@pytest.fixture(params=LOOKS, ids=lambda look: look.value)
def page(request: pytest.FixtureRequest, qapp: QApplication, qtbot: QtBot) -> Iterator[QWidget]:
    THEME.look = request.param
    THEME.apply(qapp)
    page = QWidget()
    page.resize(300, 120)
    with qtbot.waitExposed(page):
        page.show()
    yield page
    page.close()
    page.deleteLater()
    THEME.look = Look.LIGHT
    THEME.apply(qapp)


def _inside(box: CheckBox) -> QImage:
    """The square without its edge."""
    square = indicator_of(box).adjusted(4, 4, -4, -4).toRect()
    return box.grab(square).toImage()


def _counts(image: QImage, colour: str) -> int:
    wanted = QColor(colour).rgb()
    return sum(image.pixel(x, y) == wanted for x in range(image.width()) for y in range(image.height()))


@pytest.mark.parametrize("state", ["at rest", "focused", "disabled"])
def test_a_ticked_box_holds_a_stroke_and_an_empty_one_does_not(page: QWidget, state: str) -> None:
    box = CheckBox("words", page)
    box.resize(200, 44)
    box.show()
    if state == "focused":
        box.setFocus(Qt.FocusReason.TabFocusReason)
    box.setEnabled(state != "disabled")
    colours = shades()
    ground, stroke = (
        (colours.ground, colours.muted) if state == "disabled" else (colours.accent, colours.on_accent)
    )
    empty = _inside(box)
    box.setChecked(True)
    ticked = _inside(box)

    area = ticked.width() * ticked.height()
    assert _counts(empty, empty.pixelColor(0, 0).name()) == area  # one plain colour
    assert _counts(ticked, stroke) > 0.06 * area
    assert _counts(ticked, ground) > 0.4 * area
    # WCAG 2.2, 1.4.11: 3:1 for the parts that tell the state of a control (recalled).
    assert contrast(stroke, ground) >= 3.0
