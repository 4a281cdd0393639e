"""While the cautions are read, the big key says which key confirms them."""

from __future__ import annotations

from pytestqt.qtbot import QtBot

from app.windows.lettering import BigKey


def test_a_key_that_does_nothing_says_what_does(qtbot: QtBot) -> None:
    key = BigKey("Space")
    qtbot.addWidget(key)
    key.show_label("", "when you have read them", "Enter")
    assert not key.isEnabled()
    assert key.accessibleName() == "when you have read them (Enter)"
    assert key.cap == "Enter"
    key.show_label("Done")
    assert key.cap == "Space"
    assert key.accessibleName() == "Done (Space)"
    key.show_label("")
    assert key.accessibleName() == "Nothing to do now"
