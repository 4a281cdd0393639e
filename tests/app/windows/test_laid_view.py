"""Traces in one plot: closer, wider, earlier, later, all again; cursors with what each session reads."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from pytestqt.qtbot import QtBot

from app.bench.snapshot import Trace
from app.windows.laid_sheet import LaidSheet
from app.windows.laid_view import LEAST_S, LaidView
from app.windows.paper_ports import Laid
from drivers.reading import Unit


def trace(level: float) -> Trace:
    """A reading each second over ten minutes, from `level` volts upwards by a microvolt a second."""
    seconds = np.arange(1.0, 601.0)
    return Trace("left bias", Unit.VOLT, seconds, level + 1e-6 * seconds, np.ones(600, bool), np.empty(0))


@pytest.fixture
def sheet(qtbot: QtBot) -> LaidSheet:
    made = LaidSheet([Laid("A", "2026-02-11", (trace(0.010),)), Laid("B", "2026-02-12", (trace(0.012),))])
    made.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, False)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    return made


def wheel(sheet: LaidSheet, x: float, turned: int) -> None:
    plot = sheet.plot
    at = QPointF(x, plot.height() / 2.0)
    plot.wheelEvent(
        QWheelEvent(
            at,
            at,
            QPoint(),
            QPoint(0, turned),
            Qt.MouseButton.NoButton,
            Qt.KeyboardModifier.NoModifier,
            Qt.ScrollPhase.NoScrollPhase,
            False,
        )
    )


def test_a_view_never_leaves_what_there_is_and_never_gets_too_close() -> None:
    view = LaidView(600.0)
    assert (view.span, view.whole) == ((0.0, 600.0), True)
    view.zoom(0.5, 600.0)
    assert view.span == (300.0, 600.0)
    view.pan(1.0)
    assert view.span == (300.0, 600.0)
    view.pan(-0.5)
    assert view.span == (150.0, 450.0)
    view.zoom(1e-9, 200.0)
    begin, end = view.span
    assert end - begin == pytest.approx(LEAST_S)
    assert begin <= 200.0 <= end
    view.zoom(1e9, 200.0)
    assert view.whole


def test_keys_zoom_and_pan_and_one_key_shows_all_again(sheet: LaidSheet, qtbot: QtBot) -> None:
    qtbot.keyClick(sheet, Qt.Key.Key_Up, Qt.KeyboardModifier.ControlModifier)
    assert sheet.plot.view.span == (150.0, 450.0)
    qtbot.keyClick(sheet, Qt.Key.Key_Right, Qt.KeyboardModifier.AltModifier)
    assert sheet.plot.view.span == (225.0, 525.0)
    assert "Home" in sheet.read_out.text()
    sheet.grab()
    qtbot.keyClick(sheet, Qt.Key.Key_Home)
    assert sheet.plot.view.whole


def test_the_wheel_keeps_the_moment_under_the_pointer(sheet: LaidSheet) -> None:
    x = sheet.plot.width() * 0.3
    before = sheet.plot.moment_at(x)
    wheel(sheet, x, 240)
    assert not sheet.plot.view.whole
    assert sheet.plot.moment_at(x) == pytest.approx(before, abs=0.01)
    wheel(sheet, x, -2400)
    assert sheet.plot.view.whole


def test_dragging_takes_the_view_along_and_is_no_click(sheet: LaidSheet, qtbot: QtBot) -> None:
    sheet.plot.zoom(0.5)
    begin, _ = sheet.plot.view.span
    middle = sheet.plot.rect().center()
    qtbot.mousePress(sheet.plot, Qt.MouseButton.LeftButton, pos=middle)
    qtbot.mouseMove(sheet.plot, middle - QPoint(60, 0))
    qtbot.mouseRelease(sheet.plot, Qt.MouseButton.LeftButton, pos=middle - QPoint(60, 0))
    assert sheet.plot.view.span[0] > begin
    assert sheet.plot.cursors.placed == 0


def test_cursors_say_what_every_session_reads_and_the_difference(sheet: LaidSheet, qtbot: QtBot) -> None:
    """Closed form: 10 mV and a microvolt a second."""
    sheet.plot.cursors.put(60.0, False)
    sheet.plot.cursors.put(360.0, True)
    sheet.plot.show_all()
    assert sheet.read_out.english() == "1  at 1.00 min   ·   2  at 6.00 min   ·   2 − 1  +5.00 min"
    assert sheet.legends[0].readings == "1  10.06 mV   2  10.36 mV   2 − 1  +0.30 mV"
    assert sheet.legends[1].readings == "1  12.06 mV   2  12.36 mV   2 − 1  +0.30 mV"
    sheet.grab()
    qtbot.keyClick(sheet, Qt.Key.Key_Right, Qt.KeyboardModifier.ControlModifier)
    assert sheet.plot.cursors.chosen_s == pytest.approx(363.0)


def test_a_click_places_a_cursor_and_shift_the_second(sheet: LaidSheet, qtbot: QtBot) -> None:
    for place, modifier in enumerate((Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ShiftModifier)):
        at = QPoint(200 + 200 * place, 100)
        qtbot.mouseClick(sheet.plot, Qt.MouseButton.LeftButton, modifier, at)
        assert sheet.plot.cursors.chosen_s == pytest.approx(sheet.plot.moment_at(at.x()), abs=0.5)
    assert sheet.plot.cursors.placed == 2
