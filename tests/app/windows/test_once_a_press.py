"""A key that is held too long does its deed once, and what was typed is not lost to a refusal."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fake_bench import AS_FOUND, FakeBench
from fake_workshop import FakeWorkshop
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent, QShortcut
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.windows.main_window import MainWindow
from app.windows.working_screen import WorkingScreen

Show = Callable[[FakeBench], WorkingScreen]


def held(qtbot: QtBot, screen: WorkingScreen) -> None:
    """Enter, as a keyboard sends it again and again while it is held."""
    focused = QApplication.focusWidget()
    assert focused is not None
    again = QKeyEvent(
        QEvent.Type.KeyPress, Qt.Key.Key_Return, Qt.KeyboardModifier.NoModifier, "\r", autorep=True
    )
    QApplication.sendEvent(focused, again)


def test_a_held_enter_presses_a_key_once(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    screen = shown(bench)
    key = next(b for b in screen.deeds.findChildren(type(screen.deeds._buttons["mark"])) if b.isVisible())
    assert key.accessibleName() == "Mark"
    key.setFocus()
    qtbot.keyClick(key, Qt.Key.Key_Return)
    held(qtbot, screen)
    held(qtbot, screen)
    assert [done[0] for done in bench.done] == ["note"]


def test_a_held_answer_answers_one_question(bench: FakeBench, shown: Show) -> None:
    """The next question has the same keys."""
    bench.show_view(question=AS_FOUND, next_label="")
    keys = shown(bench).answers.findChildren(QShortcut)
    assert keys
    assert not any(one.autoRepeat() for one in keys)


@pytest.mark.parametrize(
    ("deed", "goes_on"),
    [("lid", False), ("mark", False), ("cursor-swap", False), ("cursor-later", True), ("pan-earlier", True)],
)
def test_only_what_moves_goes_on_while_a_key_is_held(
    deed: str, goes_on: bool, bench: FakeBench, shown: Show
) -> None:
    assert shown(bench).deeds.action(deed).autoRepeat() is goes_on


def test_a_target_that_cannot_be_kept_stays_in_its_form(
    window: MainWindow, workshop: FakeWorkshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was entered is not thrown away with the refusal."""

    def refuse(amplifier: object) -> str:
        raise OSError("No room on the disk.")

    monkeypatch.setattr(workshop, "describe", refuse)
    window.papers.show_targets("")
    form = window.form
    assert form is not None
    form.model.setText("60")
    form.use_button.click()
    assert window.form is form
    assert form.isVisible()
    assert form.doubts == "No room on the disk."
    assert form.model.text() == "60"


def test_the_sheet_of_keys_is_made_for_the_window_as_it_is(bench: FakeBench, shown: Show) -> None:
    """A window that has become small has no room for the columns of a large one."""
    screen = shown(bench)
    widths = []
    for size in ((1280, 800), (427, 267)):
        screen.resize(*size)
        screen.deeds.show_all()
        sheet = screen.deeds.sheet
        assert sheet is not None
        widths.append(sheet.sizeHint().width())
        sheet.reject()
    assert widths[1] < widths[0]
    assert widths[1] <= 427
