from __future__ import annotations

from PySide6.QtGui import QKeySequence

from app.windows.actions import DEEDS, FOOT_KEYS


def test_every_deed_has_a_key_of_its_own() -> None:
    """Two shortcuts with one key would silence both."""
    keys = [QKeySequence(deed.keys).toString() for deed in DEEDS]
    assert all(keys)
    assert len(set(keys)) == len(keys)
    assert len({deed.name for deed in DEEDS}) == len(DEEDS)


def test_no_deed_takes_a_letter_or_space_from_a_text_field() -> None:
    """Bare letters, digits and Space belong to what is being written."""
    for deed in DEEDS:
        combination = QKeySequence(deed.keys)[0]
        if not combination.keyboardModifiers().value:
            assert combination.key() not in FOOT_KEYS
            assert not 0x20 <= combination.key().value < 0x7F, deed.name
