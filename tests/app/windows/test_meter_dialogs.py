"""Finding and checking a meter, and the question that is asked once before it is used."""

from __future__ import annotations

import threading

import pytest
from fake_workshop import FakeWorkshop
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from app.bench.told_words import ToldMeter
from app.windows import errand
from app.windows.main_window import MainWindow
from app.windows.meter_dialogs import InputDialog, MetersDialog
from app.windows.number_sign import NUMBER_SIGN
from app.windows.told_dialog import ToldDialog
from drivers.checking import CheckLine

ADDRESS = "TCPIP0::192.168.1.20::hislip0::INSTR"
QUESTION = "Is its input isolated from earth?"


def click(qtbot: QtBot, widget: QWidget) -> None:
    qtbot.mouseClick(widget, Qt.MouseButton.LeftButton)


def _type_address(window: MainWindow, qtbot: QtBot) -> None:
    qtbot.keyClicks(window.start.address_field, ADDRESS)
    qtbot.keyClick(window.start.address_field, Qt.Key.Key_Return)


def _asked(window: MainWindow) -> InputDialog:
    assert window.gate.dialog is not None
    return window.gate.dialog


@pytest.mark.parametrize("isolated", [True, False])
def test_a_new_meter_is_asked_about_before_it_is_used(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot, isolated: bool
) -> None:
    """The answer is kept first; then the meter is opened, or refused with the reason."""
    workshop.questions[ADDRESS] = QUESTION
    _type_address(window, qtbot)
    assert workshop.done == []

    dialog = _asked(window)
    click(qtbot, dialog.isolated if isolated else dialog.earthed)

    assert workshop.done == [("declared", ADDRESS, isolated), ("address", ADDRESS)]
    assert window.working is not None


def test_whoever_does_not_know_declares_nothing(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """The refusal that follows says why, on the start screen."""
    workshop.questions[ADDRESS] = QUESTION
    workshop.refusal = ValueError("The input of the meter counts as earthed.")
    _type_address(window, qtbot)
    click(qtbot, _asked(window).unknown)

    assert workshop.done == [("address", ADDRESS)]
    assert window.start.trouble == "The input of the meter counts as earthed."


def test_escape_is_not_an_answer(window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot) -> None:
    workshop.questions[ADDRESS] = QUESTION
    _type_address(window, qtbot)
    qtbot.keyClick(_asked(window), Qt.Key.Key_Escape)

    assert ("declared", ADDRESS, True) not in workshop.done


def test_a_known_meter_is_not_asked_about(window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot) -> None:
    _type_address(window, qtbot)

    assert workshop.done == [("address", ADDRESS)]


def test_each_meter_of_a_job_is_asked_about(window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot) -> None:
    workshop.questions |= {"m1": QUESTION, "m2": QUESTION}
    click(qtbot, window.start.job_button)
    click(qtbot, _asked(window).isolated)
    click(qtbot, _asked(window).isolated)

    assert [what[:2] for what in workshop.done] == [
        ("declared", "m1"),
        ("declared", "m2"),
        ("guided", "halden60"),
    ]


def test_a_typed_value_comes_before_the_question(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """A display counts as isolated until somebody says otherwise; then the leads have to come off."""
    workshop.questions["typed"] = QUESTION
    qtbot.keyClicks(window.start.value_field, "13,2")
    qtbot.keyClick(window.start.value_field, Qt.Key.Key_Return)
    assert window.working is not None
    click(qtbot, _asked(window).earthed)

    assert ("declared", "typed", False) in workshop.done
    assert "Take the leads off" in window.working.said
    assert [what for what in workshop.bench.done if what[0] == "note" and "leads off" in str(what[1])]


# --- finding and checking ---------------------------------------------------------------------------------


def _dialog(window: MainWindow, qtbot: QtBot) -> MetersDialog:
    click(qtbot, window.start.find_button)
    dialog = window.meters
    assert dialog is not None
    qtbot.waitUntil(lambda: dialog.list.count() > 0)
    return dialog


def test_what_is_there_can_be_chosen(window: MainWindow, qtbot: QtBot) -> None:
    """And a bus that could not be searched is named."""
    dialog = _dialog(window, qtbot)

    assert dialog.state.text() == "USB: needs libusb."
    dialog.list.itemClicked.emit(dialog.list.item(0))
    assert dialog.address.text() == "GPIB0::22::INSTR"


def test_a_check_is_a_table_and_one_sentence(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    workshop.checked = (
        CheckLine("identity", "Fenrow,6120,FW1,1.0", True),
        CheckLine("mains hum", "less than one period", False),
        CheckLine("range", "0.1 V"),
    )
    dialog = _dialog(window, qtbot)
    dialog.address.setText(ADDRESS)
    click(qtbot, dialog.check_button)
    qtbot.waitUntil(lambda: dialog.table.rowCount() == 3)

    row = [dialog.table.item(1, column) for column in range(3)]
    assert [cell.text() for cell in row if cell is not None] == ["mains hum", "bad", "less than one period"]
    assert dialog.state.text() == "Against a bias measurement speaks: mains hum."
    assert dialog.check_button.isEnabled()


def test_a_check_has_the_decimal_sign_in_force_but_not_in_what_a_meter_answered(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """The version in an identity is no number."""
    workshop.checked = (CheckLine("identity", "Fenrow,6120,FW1,1.04", True), CheckLine("range", "0.1 V"))
    dialog = _dialog(window, qtbot)
    dialog.address.setText(ADDRESS)
    NUMBER_SIGN.take("comma")
    try:
        click(qtbot, dialog.check_button)
        qtbot.waitUntil(lambda: dialog.table.rowCount() == 2)
    finally:
        NUMBER_SIGN.take("point")
    found = [dialog.table.item(row, 2) for row in range(2)]
    assert [cell.text() for cell in found if cell is not None] == ["Fenrow,6120,FW1,1.04", "0,1 V"]


def test_a_wrong_address_is_a_sentence(window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot) -> None:
    workshop.checked = ValueError("'10.0.0.1' is a network address without the VISA words around it")
    dialog = _dialog(window, qtbot)
    click(qtbot, dialog.check_button)
    assert "Type an address first" in dialog.state.text()
    dialog.address.setText("10.0.0.1")
    click(qtbot, dialog.check_button)
    qtbot.waitUntil(lambda: "VISA words" in dialog.state.text())

    assert dialog.table.rowCount() == 0


def test_the_meter_can_be_watched_from_there(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    dialog = _dialog(window, qtbot)
    dialog.address.setText(ADDRESS)
    click(qtbot, dialog.watch_button)

    assert workshop.done == [("address", ADDRESS)]
    assert window.working is not None


# --- telling about a meter ---------------------------------------------------------------------------------


def _telling(window: MainWindow, qtbot: QtBot) -> ToldDialog:
    dialog = _dialog(window, qtbot)
    dialog.address.setText("stream:ASRL/dev/ttyACM0::INSTR")
    click(qtbot, dialog.tell_button)
    assert dialog.told is not None
    return dialog.told


def test_a_pattern_is_told_by_keys_alone(window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot) -> None:
    """From field to field by Tab, kept by Enter."""
    dialog = _telling(window, qtbot)
    dialog.channels.setFocus()
    for words in ("left bias", "L=(?P<left>.+)", "mV", "0,5", "3", "0.1"):
        qtbot.keyClicks(dialog.focusWidget(), words)
        qtbot.keyClick(dialog.focusWidget(), Qt.Key.Key_Tab)
    qtbot.keyClick(dialog.ground, Qt.Key.Key_Space)
    qtbot.keyClick(dialog, Qt.Key.Key_Return)

    address = "stream:ASRL/dev/ttyACM0::INSTR"
    told = ToldMeter(address, True, False, "left bias", "L=(?P<left>.+)", "mV", "0,5", "3", "0.1", True)
    assert workshop.done == [("told", told)]
    assert window.meters is not None
    assert window.meters.state.text() == f"Kept with {address}, for the next time that it is used."


def test_a_refusal_keeps_what_was_typed(window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot) -> None:
    dialog = _telling(window, qtbot)
    dialog.pattern.setText("(?P<left")
    workshop.refusal = ValueError("the pattern for lines cannot be used")
    click(qtbot, dialog.keep_button)

    assert dialog.isVisible()
    assert dialog.trouble.text() == "the pattern for lines cannot be used"
    assert dialog.pattern.text() == "(?P<left"
    click(qtbot, dialog.leave_button)
    assert workshop.done == []


def test_a_display_has_no_lines(window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot) -> None:
    workshop.told = ToldMeter("typed", display=True, percent="0.5")
    dialog = _telling(window, qtbot)

    assert dialog.percent.text() == "0.5"
    assert not any(field.isVisible() for field in (dialog.channels, dialog.pattern, dialog.unit))


def test_what_cannot_be_told_of_is_a_sentence(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    workshop.told = ValueError("simulated: there is nothing to tell about it")
    dialog = _dialog(window, qtbot)
    click(qtbot, dialog.tell_button)
    assert "Type an address first" in dialog.state.text()
    dialog.address.setText("simulated")
    click(qtbot, dialog.tell_button)
    assert dialog.state.text() == "simulated: there is nothing to tell about it"


def test_a_dialogue_that_was_closed_does_not_mind_a_late_answer(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    dialog = _dialog(window, qtbot)
    dialog.address.setText(ADDRESS)
    dialog.check()
    dialog.reject()
    qtbot.wait(20)

    assert window.isVisible()


def test_a_meter_that_is_slow_to_say_who_it_is_does_not_hold_up_the_window(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is said that it is asked; then the work begins."""
    monkeypatch.setattr(errand, "AT_ONCE_S", 0.01)
    window.gate._slow.setInterval(1)
    answers = threading.Event()

    def question(address: str) -> str:
        answers.wait(20.0)
        return ""

    monkeypatch.setattr(workshop, "input_question", question)
    window.start.watch_address.emit(ADDRESS)
    qtbot.waitUntil(lambda: "is asked who it is" in window.start.trouble)
    assert window.working is None

    answers.set()
    qtbot.waitUntil(lambda: window.working is not None)
    assert workshop.done == [("address", ADDRESS)]
    assert window.start.trouble == ""


def test_why_a_meter_cannot_be_asked_is_said(
    window: MainWindow, workshop: FakeWorkshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In one sentence, and nothing begins."""

    def question(address: str) -> str:
        raise ValueError("'nowhere' is no address")

    monkeypatch.setattr(workshop, "input_question", question)
    window.start.watch_address.emit("nowhere")
    assert window.start.trouble == "'nowhere' is no address"
    assert workshop.done == []


def test_what_a_check_found_stays_when_the_search_ends_after_it(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A search takes seconds; that something speaks against the meter must not be wiped out by its end."""
    searched = threading.Event()
    found = workshop.search_meters

    def search() -> object:
        searched.wait(20.0)
        return found()

    monkeypatch.setattr(workshop, "search_meters", search)
    workshop.checked = (CheckLine("resolution", "10 mV", False),)
    window.start.find_meters.emit("simulated")
    dialog = window.meters
    assert dialog is not None
    dialog.check()
    qtbot.waitUntil(lambda: "speaks: resolution" in dialog.state.text())
    assert "Looking for meters" in dialog.state.text()
    searched.set()
    qtbot.waitUntil(lambda: dialog.list.count() > 0)
    assert dialog.state.text().splitlines() == [
        "Against a bias measurement speaks: resolution.",
        "USB: needs libusb.",
    ]
    dialog.reject()
