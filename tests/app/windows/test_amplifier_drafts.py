"""An amplifier form with mistakes in it is kept as a draft, which is no amplifier, and taken up again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from form_hands import shown
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton
from pytestqt.qtbot import QtBot

from app.amplifier_drafts import ENDING
from app.amplifier_shelf import AmplifierShelf
from app.windows.amplifier_fields import sections
from app.windows.amplifier_form import AmplifierForm
from app.windows.main_window import MainWindow
from procedures.library import shipped_amplifiers


@pytest.fixture
def window(opened: Callable[[], MainWindow]) -> MainWindow:
    return opened()


def _spoil(form: AmplifierForm) -> None:
    """A maker, and a number of pairs that is none."""
    assert form.page is not None
    first = sections(form.draft.channels)[0]
    maker = next(one for one in first.fields if one.place == ("maker",))  # type: ignore[union-attr]
    form.draft.put(("maker",), maker, "Halden")  # type: ignore[arg-type]
    form._check()


def _drafts(folder: Path) -> list[Path]:
    return sorted(folder.glob(f"*{ENDING}"))


def test_a_draft_survives_without_being_saved_and_is_no_amplifier(
    window: MainWindow, qtbot: QtBot, folder: Path
) -> None:
    """Written by itself soon after a change; the next time the form says that it is a draft."""
    window.papers.edit("")
    _spoil(shown(window))
    qtbot.waitUntil(lambda: bool(_drafts(folder)))
    assert set(AmplifierShelf(folder).all()) == set(shipped_amplifiers())
    assert AmplifierShelf(folder).broken() == ()

    window.papers.form = None  # as after a crash: nothing was asked, nothing saved
    window.papers.edit("")
    form = shown(window)
    assert form.draft.name == "Halden"
    assert "This is the draft of" in form.place
    assert "no amplifier until it is saved" in form.place

    keeping = window.papers.keeping
    assert keeping is not None
    qtbot.mouseClick(keeping.again, Qt.MouseButton.LeftButton)
    assert keeping.question is not None  # one key destroys nothing
    assert form.changed
    yes = next(one for one in keeping.question.buttons() if one.text() == "Throw it away")
    qtbot.mouseClick(yes, Qt.MouseButton.LeftButton)
    assert (form.draft.name, form.changed) == ("", False)
    assert _drafts(folder) == []


@pytest.mark.parametrize(("words", "left"), [("Keep it as a draft", 1), ("Leave without saving", 0)])
def test_leaving_keeps_a_draft_or_not(
    window: MainWindow, qtbot: QtBot, folder: Path, words: str, left: int
) -> None:
    """As the person says."""
    window.papers.edit("")
    form = shown(window)
    _spoil(form)
    form.back.emit()
    question = window.papers.question
    assert question is not None
    button = next(one for one in question.findChildren(QPushButton) if one.text() == words)
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: window.papers.form is None)
    assert len(_drafts(folder)) == left


@pytest.mark.parametrize("content", ["", "{", "[]", '{"kind": "amplifier draft"}', "\x00"])
def test_a_damaged_draft_is_set_aside(window: MainWindow, folder: Path, content: str) -> None:
    """The form begins as without it."""
    folder.mkdir(exist_ok=True)
    (folder / f"new{ENDING}").write_text(content)
    window.papers.edit("")
    assert "draft" not in shown(window).place
    assert _drafts(folder) == []
