"""What somebody called something is shown letter by letter: it makes no mark-up and no key of Alt."""

from __future__ import annotations

from collections.abc import Callable

from fake_bench import FakeBench, trimming_picture
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QPushButton
from pytestqt.qtbot import QtBot

from app.windows.chooser import GoButton
from app.windows.worded import Label, MessageBox, NameButton, table_item
from app.windows.working_screen import WorkingScreen
from procedures.events import Choice, Question

BOLD = "<b>Halden</b> <i>60</i>"


def test_a_label_shows_angle_brackets(qtbot: QtBot) -> None:
    label = Label(BOLD)
    qtbot.addWidget(label)
    plain = QLabel(BOLD)
    plain.setTextFormat(Qt.TextFormat.PlainText)
    qtbot.addWidget(plain)
    plain.setFont(label.font())
    assert label.text() == BOLD
    assert label.sizeHint().width() == plain.sizeHint().width()


def test_a_tip_shows_angle_brackets(qtbot: QtBot) -> None:
    """A tip knows nothing but mark-up: there the brackets are written out."""
    label = Label("x")
    qtbot.addWidget(label)
    label.setToolTip(BOLD)
    assert "&lt;b&gt;Halden" in label.toolTip()
    assert "&lt;b&gt;Halden" in table_item(BOLD).toolTip()
    label.setToolTip("5 < 7 & R")
    assert label.toolTip() == "5 < 7 & R"


def test_a_question_shows_angle_brackets(qtbot: QtBot) -> None:
    box = MessageBox()
    qtbot.addWidget(box)
    box.setText(BOLD)
    box.setInformativeText(BOLD)
    words = box.findChildren(QLabel)
    shown = [one for one in words if one.text() == BOLD]
    assert len(shown) == 2
    assert all(one.textFormat() is Qt.TextFormat.PlainText for one in shown)


def test_an_ampersand_in_an_answer_is_a_letter(
    shown: Callable[[FakeBench], WorkingScreen], qtbot: QtBot
) -> None:
    """And Alt with the letter behind it answers nothing."""
    bench = FakeBench(trimming_picture())
    choices = (Choice("both", "R&D lamp"), Choice("none", "none"))
    bench.show_view(question=Question(0.0, "q", "s", "Which?", choices=choices), next_label="")
    screen = shown(bench)
    key = next(one for one in screen.answers.findChildren(QPushButton) if "lamp" in one.text())
    assert key.text().startswith("R&&D lamp")
    assert key.shortcut().isEmpty()
    qtbot.keyClick(screen, Qt.Key.Key_D, Qt.KeyboardModifier.AltModifier)
    assert not any(done[0] == "answer" for done in bench.done)


def test_a_meter_with_an_ampersand_keeps_it(qtbot: QtBot) -> None:
    button = GoButton("R && D meter")
    qtbot.addWidget(button)
    assert button._words() == "R & D meter"
    named = NameButton("R & D")
    qtbot.addWidget(named)
    assert named.english() == "R & D"
    named.say_again()
    assert named.text() == "R && D"
