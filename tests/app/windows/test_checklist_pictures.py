"""A photograph of a checklist: copied to the session by its file, shown small, printed in the report."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.bench.live_bench import LiveBench
from app.bench.long_review import LongReview, recall
from app.bench.opening import SimulatedChoice, open_simulated
from app.bench.restoring import restore
from app.bench.review_bench import ReviewBench
from app.records.attachments import ATTACHMENTS
from app.records.checking import check_session
from app.records.session_folder import open_session
from app.reports.gathering import Visit, Wanted, write_report
from app.settings import Settings
from app.windows.working_screen import WorkingScreen
from drivers.clock import SteppedClock
from procedures.observed import Inspected
from procedures.procedure import load_procedure
from procedures.replay import compare

CONTROL = Qt.KeyboardModifier.ControlModifier
LOOK = """
format = 1
id = "look"
title = "Look"
purpose = "Look at two things."
channels = ["left bias"]
[[step]]
id = "board"
kind = "inspect"
title = "The board"
[[step.item]]
id = "joints"
text = "The joints shine."
[[step.item]]
id = "relay"
text = "The relay sits straight."
"""


class Person:
    """Works the screen by keys."""

    def __init__(self, live: LiveBench, screen: WorkingScreen, qtbot: QtBot) -> None:
        self.live, self.screen, self.qtbot = live, screen, qtbot
        self._turns = live.turns()

    def wait(self) -> None:
        self._turns.run(lambda: False, 2.0)
        self.screen.refresh()

    def choose(self, number: int) -> None:
        self.qtbot.keyClick(self.screen, Qt.Key(Qt.Key.Key_0.value + number), CONTROL)
        self.wait()

    def type(self, text: str) -> None:
        field = self.screen.answers.field
        field.setText(text)
        self.qtbot.keyClick(field, Qt.Key.Key_Return)

    @property
    def asked(self) -> str:
        shown = self.screen.answers.shown
        return shown.text if shown is not None else ""


@pytest.fixture
def live(session_root: Path) -> Iterator[LiveBench]:
    bench = open_simulated(SimulatedChoice(), load_procedure(LOOK), session_root, SteppedClock(), Settings())
    yield bench
    bench.leave()


@pytest.fixture
def person(live: LiveBench, qtbot: QtBot) -> Iterator[Person]:
    screen = WorkingScreen(live, seconds=lambda: 0.0)
    screen.resize(1280, 800)
    with qtbot.waitExposed(screen):
        screen.show()
    person = Person(live, screen, qtbot)
    person.wait()
    if screen.cautions.isVisible():
        qtbot.keyClick(screen.cautions.focusWidget() or screen, Qt.Key.Key_Return)
        person.wait()
    yield person
    screen.close_down()
    screen.close()
    screen.deleteLater()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)


def _picture(path: Path, shade: str = "#335577") -> Path:
    image = QImage(2000, 1500, QImage.Format.Format_RGB32)
    image.fill(QColor(shade))
    assert image.save(str(path))
    return path


def test_a_picture_is_attached_shown_and_printed(
    person: Person, live: LiveBench, qtbot: QtBot, tmp_path: Path
) -> None:
    """By its file, typed; the original may go, the copy stays, and the record comes out the same."""
    assert "joints shine" in person.asked
    person.choose(5)
    pictures = person.screen.answers.pictures
    assert pictures.choose.isVisible()
    source = _picture(tmp_path / "the board.png")
    person.type(f'"{source}"')
    qtbot.waitUntil(lambda: bool(list((live.record.folder / ATTACHMENTS).iterdir())))
    qtbot.waitUntil(lambda: pictures.isVisible() and person.wait() is None and bool(pictures.thumbnails))
    qtbot.waitUntil(lambda: not pictures.thumbnails[0].pixmap.isNull())
    source.unlink()
    assert not pictures.choose.isVisible()
    person.choose(2)
    person.type("dull at Q7")
    person.wait()
    person.choose(5)
    person.type("IMG 0042")
    person.wait()
    person.choose(3)
    live.leave()

    session = open_session(live.record.folder)
    first, second = (one for one in session.journal.facts if isinstance(one, Inspected))
    assert (live.record.folder / ATTACHMENTS / first.photograph).is_file()
    assert (first.words, second.photograph) == ("dull at Q7", "IMG 0042")
    assert compare(session.journal.header, session.journal.facts).same
    assert check_session(live.record.folder).agrees

    page = tmp_path / "report.html"
    assert not [
        one for one in write_report(Visit((session,)), Settings(), Wanted(), html=page) if "Miss" in one
    ]
    html = page.read_text(encoding="utf-8")
    assert "Photographs" in html
    assert "data:image/jpeg" in html
    assert "The joints shine (wrong: dull at Q7)" in html

    (live.record.folder / ATTACHMENTS / first.photograph).unlink()
    assert not check_session(live.record.folder).agrees
    said = write_report(Visit((session,)), Settings(), Wanted(), pdf=tmp_path / "report.pdf")
    assert any("cannot be shown" in one for one in said)


def test_what_is_no_picture_is_one_sentence(
    person: Person, live: LiveBench, qtbot: QtBot, tmp_path: Path
) -> None:
    """And the question stays; nothing is copied. One that nobody asked for is told too."""
    answers = person.screen.answers
    answers.pictures.take([str(tmp_path / "dropped.png")])
    assert "No picture is asked for now" in answers.trouble
    (tmp_path / "folder").mkdir()
    (tmp_path / "words.png").write_text("no picture")
    (tmp_path / "empty.png").write_bytes(b"")
    person.choose(5)
    for wrong in ("folder", "words.png", "empty.png", "none.png", "n" * 300):
        person.type(str(tmp_path / wrong))
        qtbot.waitUntil(lambda told=wrong: told[:9] in answers.trouble)  # type: ignore[misc]
        assert answers.pictures.choose.isVisible()
    assert not list((live.record.folder / ATTACHMENTS).iterdir())


def test_several_pictures_of_a_thing_are_kept_and_shown_when_one_looks_back(
    person: Person, live: LiveBench, qtbot: QtBot, tmp_path: Path
) -> None:
    """Each of them, small, where nothing is asked; the report prints them all."""
    kept = live.record.folder / ATTACHMENTS
    for number, shade in enumerate(("#335577", "#775533"), start=1):
        person.choose(5)
        person.type(str(_picture(tmp_path / f"{number}.png", shade)))
        qtbot.waitUntil(lambda count=number: len(list(kept.iterdir())) == count)  # type: ignore[misc]
        qtbot.waitUntil(lambda: person.wait() is None and "joints shine" in person.asked)
    person.choose(3)
    person.choose(3)
    live.leave()
    session = open_session(live.record.folder)
    first = next(one for one in session.journal.facts if isinstance(one, Inspected))
    assert len(first.photographs) == 2
    assert compare(session.journal.header, session.journal.facts).same

    for bench in (ReviewBench(restore(session), "a unit"), LongReview(recall(session.folder), "a unit")):
        past = WorkingScreen(bench, seconds=lambda: 0.0)
        qtbot.addWidget(past)
        past.resize(1280, 800)
        with qtbot.waitExposed(past):
            past.show()
        past.refresh()
        pictures = past.answers.pictures
        shown = pictures.thumbnails
        assert [small.path for small in shown] == [kept / name for name in first.photographs]
        assert all(small.isVisible() for small in shown)
        assert not pictures.choose.isVisible()
        assert not past.answers.field.isVisible()
        qtbot.waitUntil(lambda now=shown: all(not one.pixmap.isNull() for one in now))  # type: ignore[misc]
        past.close_down()

    page = tmp_path / "report.html"
    write_report(Visit((session,)), Settings(), Wanted(), html=page)
    assert page.read_text(encoding="utf-8").count("data:image/jpeg") == 2
