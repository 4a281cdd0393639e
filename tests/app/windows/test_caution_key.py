"""While the cautions are read, the big key says which key confirms them."""

from __future__ import annotations

from pytestqt.qtbot import QtBot

from app.windows.lettering import BigKey


def test_a_key_that_does_nothing_says_what_does(qtbot: QtBot) -> None:
    key = BigKey("Space")
    qtbot.addWidget(key)
    key.show_label("", "first read: Enter confirms")
    assert not key.isEnabled()
    assert key.accessibleName() == "first read: Enter confirms"
    key.show_label("Done")
    assert key.accessibleName() == "Done (Space)"
    key.show_label("")
    assert key.accessibleName() == "Nothing to do now"
