"""Hands at the amplifier form: fields found by their place, typed into, and what stands beneath them."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit, QMessageBox, QWidget
from pytestqt.qtbot import QtBot

from app.windows.amplifier_draft import places_of
from app.windows.amplifier_fields import Place, sections
from app.windows.amplifier_form import AmplifierForm
from app.windows.chooser import Chooser
from app.windows.main_window import MainWindow


def shown(window: MainWindow) -> AmplifierForm:
    assert window.papers.form is not None
    return window.papers.form


def at(form: AmplifierForm, *place: str | int) -> QWidget:
    """The editor at a place, in whatever section it is."""
    found = on_page(form, place)
    if found is not None:
        return found
    titles = sections(form.draft.channels)
    form.list.setCurrentRow(next(n for n, one in enumerate(titles) if place in places_of(one, form.draft)))
    found = on_page(form, place)
    assert found is not None
    return found


def on_page(form: AmplifierForm, place: Place) -> QWidget | None:
    assert form.page is not None
    editors = [row.editor for row in form.page.rows.values()]
    editors += [editor for rows in form.page.lists for editor in rows.editors]
    return next((editor.widget for editor in editors if editor.place == place), None)


def typed(form: AmplifierForm, qtbot: QtBot, place: Place, text: str) -> None:
    widget = at(form, *place)
    if isinstance(widget, Chooser):
        widget.setCurrentIndex(widget.findData(text))
        return
    if isinstance(widget, QLineEdit):
        widget.selectAll()
        qtbot.keyClick(widget, Qt.Key.Key_Delete)
    qtbot.keyClicks(widget, text)


def said(form: AmplifierForm, *place: str | int) -> str:
    """The sentence beneath a field."""
    at(form, *place)
    assert form.page is not None
    return form.page.rows[place].said


def press(window: MainWindow, qtbot: QtBot, role: QMessageBox.ButtonRole) -> None:
    box = window.papers.question
    assert box is not None
    button = next(b for b in box.buttons() if box.buttonRole(b) is role)
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def describe(form: AmplifierForm, qtbot: QtBot) -> None:
    """Fill in the least that makes an amplifier."""
    for place, text in (
        (("maker",), "Kestrow"),
        (("model",), "K-50"),
        (("output_stage",), "emitter follower"),
    ):
        typed(form, qtbot, place, text)
