"""The list of procedures: grouped by when they are wanted, found by typing, worked by keys."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fake_workshop import FakeWorkshop
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from app.known_lists import KnownLists
from app.settings import Settings
from app.windows.main_window import MainWindow
from app.windows.procedure_chooser import ProcedureChooser, ProcedureList
from app.windows.start_lists import Card
from app.workshop import LocalWorkshop
from procedures.library import WHEN, by_occasion, shipped_headings, shipped_procedures

OWN = (
    'format = 1\nid = "quick-look"\ntitle = "Quick look"\npurpose = "Smell, then look."\n'
    '[[step]]\nid = "a"\nkind = "confirm"\ntitle = "A"\ntext = "Look."\n'
)


class Listed(FakeWorkshop):
    """A workshop that offers what ships, and two procedures of its own."""

    def __init__(self, lists: KnownLists) -> None:
        super().__init__()
        self._lists = lists

    def procedures(self) -> tuple[Card, ...]:
        return self._lists.procedures()


@pytest.fixture
def root(tmp_path: Path) -> Path:
    own = tmp_path / "procedures"
    own.mkdir()
    (own / "quick.toml").write_text(OWN, encoding="utf-8")
    (own / "torn.toml").write_text('title = "To', encoding="utf-8")
    return tmp_path / "sessions"


@pytest.fixture
def window(qtbot: QtBot, root: Path) -> Iterator[MainWindow]:
    window = MainWindow(Listed(KnownLists(Settings, root)))
    with qtbot.waitExposed(window):
        window.show()
    yield window
    window.close_at_once()
    window.deleteLater()


@pytest.fixture
def chooser(window: MainWindow) -> ProcedureChooser:
    return window.start.procedure_chooser


def opened(chooser: ProcedureChooser, qtbot: QtBot, key: str = "") -> ProcedureList:
    chooser.setFocus()
    if key:
        qtbot.keyClicks(chooser, key)
    else:
        qtbot.keyClick(chooser, Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    assert chooser.popup is not None
    return chooser.popup


def test_every_shipped_procedure_is_listed_once() -> None:
    """In the order of the work; one that is named nowhere comes last."""
    named = [name for names in WHEN.values() for name in names]
    assert set(named) <= {heading.id for heading in shipped_headings()}
    listed = [heading.id for _, heading in by_occasion()]
    assert listed[: len(named)] == named
    assert sorted(listed) == sorted(shipped_procedures())


def test_groups_stand_in_the_order_of_the_work(chooser: ProcedureChooser, qtbot: QtBot) -> None:
    popup = opened(chooser, qtbot)
    headings = [line.title for line in popup.lines if line.index is None]
    assert headings == ["taking in", "finding", "adjusting", "proving", "all of it", "own"]
    assert popup.current is not None
    assert popup.current.title == "Two-channel bias trim"
    assert [line.title for line in popup.lines[-2:]] == ["Quick look", "torn"]
    popup.close()


def test_typing_finds_and_enter_chooses(chooser: ProcedureChooser, qtbot: QtBot) -> None:
    popup = opened(chooser, qtbot, "r")
    qtbot.keyClicks(popup.field, "elay cont")
    assert [line.title for line in popup.lines] == ["finding", "Protection relay contact"]
    qtbot.keyClick(popup.field, Qt.Key.Key_Return)
    assert chooser.currentData() == "relay-contact"
    assert chooser.popup is None or not chooser.popup.isVisible()


def test_a_group_and_a_purpose_are_found_too(chooser: ProcedureChooser, qtbot: QtBot) -> None:
    popup = opened(chooser, qtbot, "p")
    qtbot.keyClicks(popup.field, "roving")
    assert {line.title for line in popup.lines if line.index is None} == {"proving"}
    popup.field.setText("smell")
    assert "Quick look" in [line.title for line in popup.lines]
    popup.close()


def test_arrows_pass_over_the_headings(chooser: ProcedureChooser, qtbot: QtBot) -> None:
    popup = opened(chooser, qtbot)
    popup.field.setText("inspection")
    chosen = []
    for key in (Qt.Key.Key_Down, Qt.Key.Key_Up, Qt.Key.Key_Up):
        qtbot.keyClick(popup.field, key)
        assert popup.current is not None
        chosen.append(popup.current.index is not None)
    assert chosen == [True, True, True]
    qtbot.keyClick(popup.field, Qt.Key.Key_Escape)
    assert chooser.currentData() == "two-channel-bias-trim"


def test_what_is_not_there_is_said(chooser: ProcedureChooser, qtbot: QtBot) -> None:
    popup = opened(chooser, qtbot, "z")
    qtbot.keyClicks(popup.field, "zz")
    assert popup.lines == []
    qtbot.keyClick(popup.field, Qt.Key.Key_Return)
    assert popup.isVisible()
    popup.close()
    assert chooser.currentData() == "two-channel-bias-trim"


def test_a_click_chooses(chooser: ProcedureChooser, qtbot: QtBot) -> None:
    popup = opened(chooser, qtbot)
    popup.field.setText("soak")
    row = next(n for n, line in enumerate(popup.lines) if line.index is not None)
    place = popup.list.visualItemRect(popup.list.item(row)).center()
    qtbot.mouseClick(popup.list.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert chooser.currentData() == "soak"


def test_an_own_procedure_is_carried_out_and_a_torn_one_says_why(root: Path) -> None:
    workshop = LocalWorkshop(Settings(sessions_folder=str(root)), root.parent / "settings.json", root)
    own = {card.title: card.key for card in workshop.procedures() if card.group == "own"}
    bench = workshop.guided("Kestrow K-40", own["Quick look"])
    try:
        assert bench.picture().view.title == "Quick look"
    finally:
        bench.leave()
    with pytest.raises(ValueError, match=r"torn\.toml.*quotation mark|torn\.toml: .*not valid TOML"):
        workshop.guided("Kestrow K-40", own["torn"])
    assert [path.name for path in workshop.papers.broken()] == ["torn.toml"]
