"""Files checked in the window: the sentences of `check`, all at once, again by one key."""

from __future__ import annotations

from pathlib import Path

import pytest
from fake_workshop import FakePapers, FakeWorkshop
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDesktopServices, QDropEvent
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from app.data_files import check_file
from app.windows.file_check_screen import FileCheckScreen
from app.windows.main_window import MainWindow

WRONG = 'format = 1\nid = "mine"\ntitle = "Mine"\npurpose = "x"\n\n[[step]]\nid = "a"\nkind = "confrm"\n'
UNIT = 'title = "Mine"\nserial = 7\n'


@pytest.fixture
def files(tmp_path: Path) -> list[Path]:
    """A procedure, an amplifier, a unit with mistakes; one that is fine, one no text, one that is gone."""
    texts = {
        "procedure.toml": WRONG,
        "amplifier.toml": 'format = 1\nmaker = "Kestrow"\nrail_volt = 42\n',
        "unit.toml": UNIT,
        "fine.toml": 'format = 1\nmaker = "a"\nmodel = "b"\noutput_stage = "pwm"\n'
        '[[channel]]\nname = "left"\n',
    }
    for name, text in texts.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "picture.toml").write_bytes(b"\x89PNG\xff\xfe\x00")
    return [*(tmp_path / name for name in texts), tmp_path / "picture.toml", tmp_path / "gone.toml"]


@pytest.fixture
def screen(qtbot: QtBot) -> FileCheckScreen:
    made = FileCheckScreen(FakePapers())
    qtbot.addWidget(made)
    made.resize(1280, 800)
    with qtbot.waitExposed(made):
        made.show()
    return made


def drop(screen: FileCheckScreen, paths: list[Path]) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    event = QDropEvent(
        QPointF(10, 10),
        Qt.DropAction.CopyAction,
        data,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    screen.dropEvent(event)


def test_the_sentences_are_those_of_the_command(screen: FileCheckScreen, files: list[Path]) -> None:
    drop(screen, files)
    for path, block in zip(files, screen.blocks, strict=True):
        command = check_file(path)
        said = [f"{path}: {line}" for line in block.lines] if not command.fine else [command.words]
        assert said == command.words.splitlines()
        shown = "\n".join(label.text() for label in block.findChildren(QLabel))
        for problem in command.problems:
            assert problem.sentence in shown
            assert problem.place in shown
    assert screen.state == "5 of 6 cannot be used yet."


def test_a_mistake_says_what_was_meant(screen: FileCheckScreen, files: list[Path]) -> None:
    screen.take(files[:2])
    assert any('did you mean "confirm"?' in line for line in screen.blocks[0].lines)
    assert any('did you mean "rail_volts"?' in line for line in screen.blocks[1].lines)


def test_one_key_looks_again_after_editing(screen: FileCheckScreen, files: list[Path], qtbot: QtBot) -> None:
    path = files[1]
    screen.take([path])
    assert screen.state == "1 of 1 cannot be used yet."
    path.write_text(files[3].read_text(encoding="utf-8"), encoding="utf-8")
    qtbot.keyClick(screen, Qt.Key.Key_F5)
    assert screen.state == "All fine: 1."


def test_a_dropped_folder_gives_its_data_files(screen: FileCheckScreen, files: list[Path]) -> None:
    drop(screen, [files[0].parent])
    assert {block.path for block in screen.blocks} == set(files[:-1])


def test_a_file_is_listed_once_and_can_be_taken_off(screen: FileCheckScreen, files: list[Path]) -> None:
    screen.take(files[:1])
    screen.take(files[:2])
    assert [block.path for block in screen.blocks] == files[:2]
    screen.blocks[0].away.emit(files[0])
    assert [block.path for block in screen.blocks] == files[1:2]


def test_only_an_amplifier_is_edited_in_the_form(screen: FileCheckScreen, files: list[Path]) -> None:
    screen.take(files)
    assert [not block.form_button.isHidden() for block in screen.blocks] == [
        False,
        True,
        False,
        True,
        False,
        False,
    ]


def test_a_file_of_any_size_is_answered(screen: FileCheckScreen, tmp_path: Path) -> None:
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * 900_000)
    screen.take([large])
    assert screen.blocks[0].lines == ["it is longer than 200000 characters; is it the right file?"]


def test_files_dropped_on_the_start_screen_are_checked(
    window: MainWindow, workshop: FakeWorkshop, files: list[Path], qtbot: QtBot
) -> None:
    window.start.dropped.emit(files[:1])
    assert window.papers.files is not None
    assert window.papers.files.isVisible()
    qtbot.keyClick(window.papers.files, Qt.Key.Key_Escape)
    assert window.start.isVisible()


def test_a_file_that_nothing_opens_is_told_of(
    screen: FileCheckScreen, files: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The key must not do nothing in silence."""
    monkeypatch.setattr(QDesktopServices, "openUrl", lambda url: False)
    screen.take(files[:1])
    screen.blocks[0].editor_button.click()
    assert "nothing that opens procedure.toml" in screen.state


def test_how_many_files_were_left_out_is_told(screen: FileCheckScreen, tmp_path: Path) -> None:
    screen.take([tmp_path / f"{n}.toml" for n in range(103)])
    assert len(screen.blocks) == 100
    assert screen.state == "Only 100 files are checked at once: 3 were left out."
