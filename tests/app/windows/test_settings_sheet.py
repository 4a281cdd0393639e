"""The sheet of settings: what is chosen is in force at once, kept, and reached by keys alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fake_bench import FakeBench, trimming_picture
from fake_workshop import FakeWorkshop
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app import language
from app.choices import ChoiceDesk
from app.settings import Settings, load_settings
from app.settings_file import SettingsFile
from app.windows.actions import DEEDS
from app.windows.foot_key import in_use, key_words
from app.windows.main_window import MainWindow
from app.windows.number_sign import NUMBER_SIGN, sign_of, signed
from app.windows.settings_sheet import SettingsSheet
from app.windows.theme import THEME, Look
from app.windows.worded import speak
from app.windows.wording import digits, plain, volts_from
from app.windows.working_screen import WorkingScreen


@pytest.fixture(autouse=True)
def _as_before(qapp: QApplication) -> Iterator[None]:
    yield
    NUMBER_SIGN.take("point")
    THEME.look = Look.LIGHT
    THEME.apply(qapp)


@pytest.fixture
def sheet(window: MainWindow, qtbot: QtBot) -> SettingsSheet:
    """The sheet, opened by its key from the start screen."""
    qtbot.keyClick(window.start, Qt.Key.Key_Comma, Qt.KeyboardModifier.ControlModifier)
    made = window.look_key.settings.sheet
    assert made is not None
    assert made.isVisible()
    return made


def test_the_sheet_opens_from_the_start_screen_by_its_button_too(window: MainWindow, qtbot: QtBot) -> None:
    window.start.settings_button.setFocus()
    qtbot.keyClick(window.start.settings_button, Qt.Key.Key_Space)
    made = window.look_key.settings.sheet
    assert made is not None
    made.close()


def test_shades_are_taken_up_and_kept(sheet: SettingsSheet, workshop: FakeWorkshop, qtbot: QtBot) -> None:
    """Arrow keys choose; nothing has to be confirmed."""
    sheet.look.setFocus()
    qtbot.keyClick(sheet.look, Qt.Key.Key_End)
    assert THEME.look is Look.CONTRAST
    assert workshop.choices.now.appearance == "high contrast"
    sheet.close()


def test_another_language_is_spoken_at_once_and_kept(sheet: SettingsSheet, workshop: FakeWorkshop) -> None:
    sheet.language.setCurrentIndex(sheet.language.findData("de"))
    assert workshop.choices.now.language == "de"
    assert language.chosen() == "de"
    assert sheet.notice.text() == ""
    sheet.close()


def test_what_cannot_be_kept_is_said(sheet: SettingsSheet, workshop: FakeWorkshop) -> None:
    workshop.choices.trouble = "In use now, but not kept: the disk is full."
    sheet.sign.setCurrentIndex(sheet.sign.findData("comma"))
    assert "disk is full" in sheet.notice.text()
    sheet.close()


# --- decimal sign ----------------------------------------------------------------------------------


def test_the_comma_reaches_every_number_of_the_working_screen(window: MainWindow) -> None:
    window.show_bench(FakeBench(trimming_picture()))
    working = window.working
    assert working is not None
    keys = window.look_key.settings
    keys.open()
    made = keys.sheet
    assert made is not None
    made.sign.setCurrentIndex(made.sign.findData("comma"))
    row = working.rows["left bias"]
    shown = [row.figures.text, *row.words, working.instruction]
    assert all("." not in text.rstrip(".") for text in shown), shown
    assert "13,2 mV" in working.instruction
    picture = row.level.picture
    assert picture is not None
    assert picture.low_words == "12,93"
    made.sign.setCurrentIndex(made.sign.findData("point"))
    assert "13.2 mV" in working.instruction
    made.close()


def test_addresses_versions_and_dates_keep_their_points() -> None:
    """Only a number with one point in it is a number."""
    NUMBER_SIGN.take("comma")
    told = "TCPIP::192.0.2.10::5025::SOCKET, firmware 1.02.3, 2026-01-05, p1.5"
    assert signed(told) == told
    assert signed("Turn it to 13.82 mV; ±0.4, ×1.5 (12.5).") == "Turn it to 13,82 mV; ±0,4, ×1,5 (12,5)."
    assert (digits(0.01294), plain(0.01294)) == (" 12,94", "12,9 mV")


def test_what_is_shown_can_be_typed_back() -> None:
    for choice in ("point", "comma", "system"):
        NUMBER_SIGN.take(choice)
        assert volts_from(plain(0.0129)) == pytest.approx(0.0129)
    assert sign_of("system") in ".,"


# --- foot switch -----------------------------------------------------------------------------------


def _learn(sheet: SettingsSheet, qtbot: QtBot, key: Qt.Key) -> None:
    sheet.foot.learn.setFocus()
    qtbot.keyClick(sheet.foot.learn, Qt.Key.Key_Space)
    assert "Press the pedal now" in sheet.foot.words
    qtbot.keyClick(sheet, key)


def test_a_learned_key_does_what_space_does(window: MainWindow, qtbot: QtBot, seconds: object) -> None:
    bench = FakeBench(trimming_picture())
    window.show_bench(bench)
    working = window.working
    assert working is not None
    qtbot.keyClick(working, Qt.Key.Key_B)
    assert bench.done == []
    qtbot.keyClick(working, Qt.Key.Key_Comma, Qt.KeyboardModifier.ControlModifier)
    made = window.look_key.settings.sheet
    assert made is not None
    _learn(made, qtbot, Qt.Key.Key_B)
    assert "B" in made.foot.words
    made.close()
    working.setFocus()
    qtbot.keyClick(working, Qt.Key.Key_B)
    assert bench.done == [("next",)]


def test_the_learned_key_is_known_at_the_next_start(
    shown: Callable[[FakeBench], WorkingScreen], tmp_path: Path
) -> None:
    kept = tmp_path / "settings.json"
    settings = Settings()

    def take(fresh: Settings) -> None:
        nonlocal settings
        settings = fresh

    assert (
        ChoiceDesk(lambda: settings, take, SettingsFile(kept, settings)).choose(
            foot_key="B", decimal_sign="comma"
        )
        == ""
    )
    again, trouble = load_settings(kept)
    assert (again.foot_key, again.decimal_sign, trouble) == ("B", "comma", "")


def test_a_key_in_use_is_refused_with_its_use(
    sheet: SettingsSheet, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """Two meanings on one pedal could end a run."""
    _learn(sheet, qtbot, Qt.Key.Key_F12)
    assert "F12 is in use already: Stop" in sheet.notice.text()
    assert workshop.choices.now.foot_key == ""
    _learn(sheet, qtbot, Qt.Key.Key_Space)
    assert "already" in sheet.notice.text()
    _learn(sheet, qtbot, Qt.Key.Key_Escape)
    assert sheet.isVisible()
    assert sheet.notice.text() == ""
    sheet.close()


def test_no_key_of_the_table_can_be_learned() -> None:
    for deed in DEEDS:
        assert in_use(deed.keys), deed
    for key in ("Tab", "Return", "Esc", "Up", "7", ",", "Alt+S", "Ctrl+1", "F1"):
        assert in_use(key), key
    for key in ("B", "Shift+B", "code 164"):
        assert not in_use(key), key


def test_a_learned_key_can_be_forgotten(sheet: SettingsSheet, workshop: FakeWorkshop, qtbot: QtBot) -> None:
    _learn(sheet, qtbot, Qt.Key.Key_B)
    assert workshop.choices.now.foot_key == "B"
    sheet.foot.forget.click()
    assert workshop.choices.now.foot_key == ""
    sheet.close()


# --- head of the report ------------------------------------------------------------------------------


def test_the_head_of_the_report_is_written_and_kept(
    sheet: SettingsSheet, workshop: FakeWorkshop, qtbot: QtBot, tmp_path: Path
) -> None:
    picture = tmp_path / "mark.png"
    QImage(8, 8, QImage.Format.Format_RGB32).save(str(picture))
    sheet.head.name.setFocus()
    qtbot.keyClicks(sheet.head.name, "Halden Audio Bench")
    sheet.head.address.setPlainText("1 Sample Lane\nExample")
    sheet.head.picture.setText(str(picture))
    sheet.close()
    head = workshop.choices.now.letterhead
    assert head.name == "Halden Audio Bench"
    assert head.address == "1 Sample Lane\nExample"
    assert head.picture == str(picture)


def test_a_picture_that_cannot_be_read_is_refused(sheet: SettingsSheet, workshop: FakeWorkshop) -> None:
    sheet.head.picture.setText("/nowhere/mark.png")
    sheet.head.picture.editingFinished.emit()
    assert "no picture that can be read" in sheet.notice.text()
    assert workshop.choices.now.letterhead.picture == ""
    sheet.head.picture.clear()
    sheet.close()


def test_that_the_head_of_the_report_cannot_be_kept_is_said(
    sheet: SettingsSheet, workshop: FakeWorkshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And it stays to be read."""
    monkeypatch.setattr(workshop.choices, "choose", lambda **changes: "Not kept: the disk is full.")
    sheet.head.name.setText("Halden Workshop")
    sheet.head.name.editingFinished.emit()
    assert sheet.notice.text() == "Not kept: the disk is full."


@pytest.mark.parametrize(
    ("kept", "german"),
    [("Ctrl+Home", "Strg+Pos1"), ("Shift+Space", "Umschalt+Leertaste"), ("code 164", "Code 164")],
)
def test_a_key_has_its_german_name_in_a_german_sentence(kept: str, german: str, qapp: QApplication) -> None:
    speak("de")
    try:
        said = language.worded(f"The pedal's own key does it too: {key_words(kept)}.")
    finally:
        speak("en")
    assert said == f"Die eigene Taste des Pedals tut es auch: {german}."


def test_a_key_that_no_sentence_names_does_not_keep_one_english(qapp: QApplication) -> None:
    speak("de")
    try:
        said = language.worded(f"The pedal's own key does it too: {key_words('Media Next')}.")
    finally:
        speak("en")
    assert said == "Die eigene Taste des Pedals tut es auch: Media Next."
