"""What a person began is given up by Escape wherever the focus is; what was typed for the run stays."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fake_bench import FakeBench
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from app.windows.working_screen import WorkingScreen
from drivers.reading import Unit
from procedures.events import AnswerKind, Choice, Question

Show = Callable[[FakeBench], WorkingScreen]
VALUE = Question(0.0, "v/1/ambient", "v", "What does it show, mV?", AnswerKind.VALUE, unit=Unit.VOLT)
CHOICE = Question(0.0, "c/1", "c", "Which?", choices=(Choice("a", "this"), Choice("b", "that")))


def focused() -> QWidget:
    widget = QApplication.focusWidget()
    assert widget is not None
    return widget


def test_escape_gives_up_a_choice_that_a_person_began(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """F6 by mistake must not keep the run's own question away."""
    bench.show_view(question=CHOICE, next_label="")
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_F6)
    assert screen.answers.shown is not None
    assert screen.answers.shown.id == "own:supply"
    qtbot.keyClick(focused(), Qt.Key.Key_Escape)
    assert screen.answers.shown == CHOICE
    assert bench.done == []


def test_escape_gives_up_a_note_after_the_focus_has_gone(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_F3)
    screen.setFocus()
    qtbot.keyClick(screen, Qt.Key.Key_Escape)
    assert screen.answers.shown is None


@pytest.mark.parametrize("end", [Qt.Key.Key_Escape, Qt.Key.Key_Return])
def test_a_note_in_between_leaves_what_was_typed_for_the_run(
    end: Qt.Key, bench: FakeBench, shown: Show, qtbot: QtBot
) -> None:
    bench.show_view(question=VALUE, next_label="")
    screen = shown(bench)
    screen.answers.field.setFocus()
    qtbot.keyClicks(screen.answers.field, "13,")
    qtbot.keyClick(screen.answers.field, Qt.Key.Key_F3)
    qtbot.keyClicks(screen.answers.field, "buzz")
    qtbot.keyClick(screen.answers.field, end)
    assert screen.answers.shown == VALUE
    assert screen.answers.field.text() == "13,"


def test_another_question_does_not_get_what_was_typed_for_the_one_before(
    bench: FakeBench, shown: Show, qtbot: QtBot
) -> None:
    bench.show_view(question=VALUE, next_label="")
    screen = shown(bench)
    screen.answers.field.setFocus()
    qtbot.keyClicks(screen.answers.field, "13")
    qtbot.keyClick(screen.answers.field, Qt.Key.Key_F3)
    other = Question(0.0, "v/2", "v", "And now, mV?", AnswerKind.VALUE, unit=Unit.VOLT)
    bench.show_view(question=other, next_label="")
    screen.refresh()
    qtbot.keyClick(screen.answers.field, Qt.Key.Key_Escape)
    assert screen.answers.shown == other
    assert screen.answers.field.text() == ""


@pytest.mark.parametrize("after", [None, CHOICE])
def test_space_is_the_big_key_again_when_a_question_goes_away_by_itself(
    after: Question | None, bench: FakeBench, shown: Show, qtbot: QtBot
) -> None:
    """The focus must not fall from its field onto a key that Enter would press."""
    bench.show_view(question=VALUE, next_label="")
    screen = shown(bench)
    screen.answers.field.setFocus()
    bench.show_view(question=after, next_label="Next")
    screen.refresh()
    assert focused() is screen
    qtbot.keyClick(focused(), Qt.Key.Key_Return)
    qtbot.keyClick(focused(), Qt.Key.Key_Space)
    assert bench.done == [("next",)]


def test_space_is_the_big_key_again_when_an_answer_that_had_the_focus_goes_away(
    bench: FakeBench, shown: Show, qtbot: QtBot
) -> None:
    """A field that comes in its place takes letters only when somebody goes to it."""
    bench.show_view(question=CHOICE, next_label="")
    screen = shown(bench)
    key = next(b for b in screen.answers.findChildren(QWidget) if b.accessibleName() == "this")
    key.setFocus()
    bench.show_view(question=VALUE, next_label="Next")
    screen.refresh()
    qtbot.keyClick(focused(), Qt.Key.Key_Space)
    assert bench.done == [("next",)]


def test_an_answer_keeps_the_focus_while_the_big_key_says_another_value(
    bench: FakeBench, shown: Show, qtbot: QtBot
) -> None:
    """With every reading the words of the big key change; Tab must not have been in vain."""
    bench.show_view(question=CHOICE, next_label="Keep 10.62 mV")
    screen = shown(bench)
    next(b for b in screen.answers.findChildren(QWidget) if b.accessibleName() == "that").setFocus()
    bench.show_view(question=CHOICE, next_label="Keep 10.63 mV")
    screen.refresh()
    assert focused().accessibleName() == "that"
    qtbot.keyClick(focused(), Qt.Key.Key_Return)
    assert bench.done == [("answer", "c/1", "b", "")]
