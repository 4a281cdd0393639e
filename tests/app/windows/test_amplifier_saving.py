"""The amplifier form saved and left, and a file with mistakes mended in it."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from form_hands import describe, press, said, shown, typed
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox
from pytestqt.qtbot import QtBot

from app.amplifier_shelf import AmplifierShelf
from app.windows.amplifier_form import AmplifierForm
from app.windows.main_window import MainWindow
from procedures.library import shipped_amplifiers

KEY = "Kestrow K-40"
Edit = Callable[[str], AmplifierForm]


@pytest.fixture
def window(opened: Callable[[], MainWindow]) -> MainWindow:
    return opened()


@pytest.fixture
def fresh(window: MainWindow, qtbot: QtBot) -> AmplifierForm:
    """A new amplifier, begun from the start screen."""
    qtbot.mouseClick(window.start.prepare.new_button, Qt.MouseButton.LeftButton)
    return shown(window)


# --- saving and leaving -------------------------------------------------------------------------------------


@pytest.mark.parametrize("key", list(shipped_amplifiers()))
def test_a_shipped_amplifier_is_copied_whole(
    window: MainWindow, qtbot: QtBot, folder: Path, key: str
) -> None:
    window.papers.edit(key)
    form = shown(window)
    assert "a copy of your own is saved" in form.place
    typed(form, qtbot, ("notes",), "A note.")
    qtbot.keyClick(form, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    before, made = shipped_amplifiers()[key], AmplifierShelf(folder).all()[key]
    assert made.model_copy(update={"notes": before.notes}) == before
    assert any("A note." in note for note in made.notes)


def test_what_cannot_be_used_is_not_saved(fresh: AmplifierForm, qtbot: QtBot, folder: Path) -> None:
    qtbot.keyClick(fresh, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    assert fresh.state == "Not saved: 3 things to put right first; F8 goes from one to the next."
    assert not folder.exists()


def test_leaving_asks_only_about_what_would_be_lost(
    window: MainWindow, fresh: AmplifierForm, qtbot: QtBot
) -> None:
    qtbot.keyClick(fresh, Qt.Key.Key_Escape)
    assert window.start.isVisible()
    assert window.papers.question is None


def test_unsaved_changes_are_asked_about(window: MainWindow, qtbot: QtBot, folder: Path) -> None:
    window.papers.edit(KEY)
    form = shown(window)
    typed(form, qtbot, ("rail_volts",), "44")
    qtbot.keyClick(form, Qt.Key.Key_Escape)
    assert window.papers.question is not None
    assert window.papers.question.text() == f"What you changed in {KEY} is not saved."
    press(window, qtbot, QMessageBox.ButtonRole.RejectRole)
    assert window.papers.form is form
    qtbot.keyClick(form, Qt.Key.Key_Escape)
    press(window, qtbot, QMessageBox.ButtonRole.AcceptRole)
    assert window.papers.form is None
    assert window.start.isVisible()
    assert AmplifierShelf(folder).all()[KEY].rail_volts == 44.0


def test_changes_can_be_given_up(window: MainWindow, qtbot: QtBot, folder: Path) -> None:
    window.papers.edit(KEY)
    form = shown(window)
    typed(form, qtbot, ("rail_volts",), "high")
    qtbot.keyClick(form, Qt.Key.Key_Escape)
    press(window, qtbot, QMessageBox.ButtonRole.DestructiveRole)
    assert window.start.isVisible()
    assert not folder.exists()


def test_closing_the_window_asks_too(window: MainWindow, qtbot: QtBot) -> None:
    window.papers.edit(KEY)
    typed(shown(window), qtbot, ("rail_volts",), "44")
    window.close()
    assert window.isVisible()
    press(window, qtbot, QMessageBox.ButtonRole.DestructiveRole)
    assert not window.isVisible()


def test_another_file_of_the_same_name_is_replaced_only_when_asked(
    window: MainWindow, fresh: AmplifierForm, qtbot: QtBot, folder: Path
) -> None:
    AmplifierShelf(folder).keep(shipped_amplifiers()[KEY])
    describe(fresh, qtbot)
    typed(fresh, qtbot, ("model",), "K-40")
    qtbot.keyClick(fresh, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    press(window, qtbot, QMessageBox.ButtonRole.RejectRole)
    assert AmplifierShelf(folder).all()[KEY] == shipped_amplifiers()[KEY]
    qtbot.keyClick(fresh, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    press(window, qtbot, QMessageBox.ButtonRole.AcceptRole)
    assert AmplifierShelf(folder).all()[KEY].rail_volts is None
    assert "rail_volts = 42" in (folder / "kestrow-k-40.toml.before").read_text(encoding="utf-8")


def test_another_name_makes_another_amplifier(window: MainWindow, qtbot: QtBot, folder: Path) -> None:
    AmplifierShelf(folder).keep(shipped_amplifiers()[KEY])
    window.papers.edit(KEY)
    form = shown(window)
    typed(form, qtbot, ("model",), "K-40 B")
    qtbot.keyClick(form, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    assert form.state.endswith(f"{KEY} stays as it was.")
    assert {KEY, "Kestrow K-40 B"} <= set(AmplifierShelf(folder).all())


def test_a_folder_that_cannot_be_written_is_one_sentence(
    window: MainWindow, qtbot: QtBot, folder: Path
) -> None:
    folder.write_text("a file where the folder should be", encoding="utf-8")
    window.papers.edit(KEY)
    form = shown(window)
    typed(form, qtbot, ("rail_volts",), "44")
    qtbot.keyClick(form, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    assert form.state.startswith("Not saved: ")
    assert form.changed


# --- a file with mistakes -----------------------------------------------------------------------------------

BROKEN = """# From the bench book.
format = 1
maker = "Kestrow"
model = "K-41"
output_stage = "emiter follower"
rail_volt = 42
note = { odd = true }

[[channel]]
name = "left bias"
test_point = "pair in series"
target_milliamperes = "25 mA"
tolerance_percent = 10
"""


def test_a_file_with_mistakes_is_mended_in_the_form(
    opened: Callable[[], MainWindow], qtbot: QtBot, folder: Path
) -> None:
    folder.mkdir()
    path = folder / "mine.toml"
    path.write_text(BROKEN, encoding="utf-8")
    window = opened()
    assert window.start.prepare.broken == "Cannot be used: mine.toml"
    qtbot.mouseClick(window.start.prepare.check_button, Qt.MouseButton.LeftButton)
    files = window.papers.files
    assert files is not None
    qtbot.mouseClick(files.blocks[0].form_button, Qt.MouseButton.LeftButton)
    form = shown(window)
    assert '"emiter follower" is not known; did you mean "emitter follower"?' in said(form, "output_stage")
    typed(form, qtbot, ("output_stage",), "emitter follower")
    typed(form, qtbot, ("channel", 0, "target_milliamperes"), "25")
    form.list.setCurrentRow(0)
    for what in ("rail_volt", "note"):
        assert form.page is not None
        assert form.page.leave_out.text() == f"Leave out “{what}”"
        qtbot.mouseClick(form.page.leave_out, Qt.MouseButton.LeftButton)
    typed(form, qtbot, ("emitter_resistor",), "0R27")
    qtbot.keyClick(form, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    qtbot.keyClick(form, Qt.Key.Key_Escape)
    assert files.state == "All fine: 1."
    assert tomllib.loads(path.read_text(encoding="utf-8"))["emitter_resistor"] == "0R27"
    assert "# From the bench book." in path.with_name("mine.toml.before").read_text(encoding="utf-8")
