"""In every language: no letter and no key is two things on one screen, and a key that is named works."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fake_bench import AS_FOUND, FakeBench, FakePractice, trimming_picture
from fake_workshop import FakeWorkshop
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot
from walked_keys import KeyWalker
from walked_screens import visit_main_window

from app import language
from app.windows.actions import DEEDS
from app.windows.key_row import key_words
from app.windows.main_window import MainWindow
from app.windows.screenshots import places, scenes
from app.windows.theme import Look
from app.windows.worded import Button, speak
from app.windows.working_screen import WorkingScreen

LANGUAGES = [one.code for one in language.available()]


@pytest.fixture(params=LANGUAGES)
def spoken(request: pytest.FixtureRequest, qapp: QApplication) -> Iterator[str]:
    """The language of the window."""
    speak(request.param)
    yield request.param
    speak("en")


def test_the_screens_at_work_have_each_key_once(spoken: str, qapp: QApplication) -> None:
    """The working screen with a question and in practice, start, settings, past sessions, a target."""
    walker = KeyWalker(qapp)
    for name, practice in (("trimming", False), ("practice", True)):
        bench = FakeBench(trimming_picture(practice=practice), FakePractice() if practice else None)
        bench.show_view(question=AS_FOUND)
        screen = WorkingScreen(bench)
        walker.take(name, screen)
        screen.close_down()
        walker.put_away(screen)
    window = MainWindow(FakeWorkshop())
    visit_main_window(walker, window)
    assert not walker.problems, "\n".join(walker.problems)


@pytest.mark.long
def test_every_pictured_screen_has_each_key_once(
    spoken: str, qapp: QApplication, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The set of which pictures are made."""
    for module in (scenes, places):
        monkeypatch.setattr(module, "LOOKS", (Look.LIGHT,))
    walker = KeyWalker(qapp)
    scenes.visit_all(walker)
    assert len(walker.seen) >= 14
    assert not walker.problems, "\n".join(dict.fromkeys(walker.problems))


def test_caps_and_sentences_name_a_key_alike(qapp: QApplication) -> None:
    """Of every deed; a key has one name in German."""
    speak("de")
    keys = language.plain_text("de").keys
    for deed in DEEDS:
        wanted = "+".join(keys.get(part, part) for part in deed.keys.split("+"))
        assert language.worded(key_words(deed)) == wanted
    speak("en")


def test_the_walk_finds_a_letter_and_a_key_that_are_two_things(qtbot: QtBot, qapp: QApplication) -> None:
    """And a key that is named and does nothing."""
    screen = QWidget()
    qtbot.addWidget(screen)
    for text in ("&Save", "&Stop", "Ctrl+K  away", "Ctrl+J  back", "again"):
        button = Button(text, screen)
        if "&" not in text:
            button.setShortcut("Ctrl+J")
    walker = KeyWalker(qapp)
    walker.take("wrong", screen)

    assert walker.problems == [
        "wrong: Alt+S is two things: &Save, &Stop",
        "wrong: Ctrl+J is two things: button Ctrl+K  away, button Ctrl+J  back, button again",
        "wrong: Ctrl+K does nothing, named by “Ctrl+K  away”",
    ]
