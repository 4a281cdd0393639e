"""Finding sessions as they are typed, a unit's visits, a model's figures, traces in one plot, imports."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from fake_workshop import FakePapers, FakeShelf
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from app.bench.snapshot import Trace
from app.papers import LocalPapers
from app.records.bundle import write_bundle
from app.records.history_facts import ModelHistory, Wanted
from app.records.session_folder import open_session
from app.windows.finding import Finding
from app.windows.laid_plot import line_pen
from app.windows.laid_sheet import LaidSheet
from app.windows.model_sheet import ModelSheet, Quantity
from app.windows.paper_ports import Laid
from app.windows.sessions_screen import SessionsScreen
from app.windows.start_lists import SessionLine
from app.workshop import RecordedSessions
from drivers.reading import Unit

SAMPLES = Path(__file__).resolve().parents[3] / "sample_sessions"


def line(key: str, title: str, outcome: str = "passed", **more: object) -> SessionLine:
    return SessionLine(key, title, "2026-02-11 14:05", "Look", 60.0, outcome, True, **more)  # type: ignore[arg-type]


@pytest.fixture
def papers() -> FakePapers:
    made = FakePapers()
    made.lines = (
        line("s3", "Halden 60 no. 0417", serial="0417", model="60"),
        line("far", "Halden 60 no. 0417", "failed", here=False, serial="0417", model="60"),
        line("s2", "Kestrow K-40"),
    )
    return made


@pytest.fixture
def screen(qtbot: QtBot, papers: FakePapers) -> Iterator[SessionsScreen]:
    made = SessionsScreen(FakeShelf(), papers=papers)
    made.resize(1200, 760)
    with qtbot.waitExposed(made):
        made.show()
    yield made
    made.close()
    made.deleteLater()


def click(qtbot: QtBot, widget: QWidget) -> None:
    qtbot.mouseClick(widget, Qt.MouseButton.LeftButton)


def titles(screen: SessionsScreen) -> list[str]:
    return [screen.table.item(row).text() for row in range(screen.table.count())]


def test_results_come_as_they_are_typed(screen: SessionsScreen, papers: FakePapers, qtbot: QtBot) -> None:
    """Without a key; and everything is there again when the blanks are emptied."""
    assert screen.search is not None
    assert screen.table.count() == 3
    qtbot.keyClicks(screen.search.words, "kest")
    qtbot.waitUntil(lambda: screen.said == "One session fits.")
    assert titles(screen)[0].startswith("Kestrow K-40")
    assert papers.asked[-1] == Wanted(words="kest")
    click(qtbot, screen.search.all)
    assert screen.table.count() == 3
    assert titles(screen)[0].startswith("Halden 60 no. 0417, 2026-02-11")


def test_what_nobody_has_is_said(screen: SessionsScreen, qtbot: QtBot) -> None:
    assert screen.search is not None
    qtbot.keyClicks(screen.search.words, "nowhere")
    qtbot.waitUntil(lambda: screen.said == "Nothing in the archive fits that.")
    assert screen.table.count() == 0


def test_a_day_that_is_none_is_a_sentence(screen: SessionsScreen, papers: FakePapers, qtbot: QtBot) -> None:
    """Days are this computer's, the last one included."""
    assert screen.search is not None
    qtbot.keyClicks(screen.search.since, "31.1.2026")
    qtbot.waitUntil(lambda: "“31.1.2026” is no day" in screen.said)
    assert papers.asked == []
    screen.search.since.setText("2026-01-31")
    screen.search.until.setText("2026-01-31")
    qtbot.waitUntil(lambda: screen.said == "3 sessions fit.")
    asked = papers.asked[-1]
    assert isinstance(asked.since, datetime)
    assert asked.until is not None
    assert (asked.until - asked.since).days == 1


def test_an_archive_that_is_away_is_a_sentence(
    screen: SessionsScreen, papers: FakePapers, qtbot: QtBot
) -> None:
    assert screen.search is not None
    papers.refusal = OSError("The archive cannot be used now.")
    qtbot.keyClicks(screen.search.model, "K")
    qtbot.waitUntil(lambda: screen.said == "The archive cannot be used now.")


def test_only_the_newest_question_is_answered(qtbot: QtBot) -> None:
    """However long the one before it takes."""
    finding, answers = Finding(screen_parent := QWidget()), []
    qtbot.addWidget(screen_parent)
    finding.found.connect(answers.append)
    gate = threading.Event()
    finding.ask(lambda: (gate.wait(20.0), "first")[1])
    finding.ask(lambda: "second")
    finding.ask(lambda: "third")
    gate.set()
    qtbot.waitUntil(lambda: answers == ["third"])


def test_a_units_visits_are_one_key_away(screen: SessionsScreen, papers: FakePapers, qtbot: QtBot) -> None:
    """Of a line from a header too: the archive knows its serial number."""
    assert screen.deeds is not None
    assert screen.search is not None
    click(qtbot, screen.deeds.unit)
    qtbot.waitUntil(lambda: screen.said == "2 sessions fit.")
    assert screen.search.serial.text() == "0417"
    assert papers.asked[-1] == Wanted(serial="0417", model="60")


def test_a_unit_without_a_serial_number_is_a_sentence(screen: SessionsScreen, qtbot: QtBot) -> None:
    assert screen.deeds is not None
    screen.table.setCurrentRow(1)
    click(qtbot, screen.deeds.unit)
    qtbot.waitUntil(lambda: "name its unit first" in screen.said)


def test_another_benchs_session_can_be_found_and_not_opened(screen: SessionsScreen, qtbot: QtBot) -> None:
    assert screen.search is not None
    assert screen.deeds is not None
    qtbot.keyClicks(screen.search.words, "failed")
    qtbot.waitUntil(lambda: screen.table.count() == 1)
    assert not screen.deeds.lay.isEnabled()
    with qtbot.assertNotEmitted(screen.open_session):
        qtbot.keyClick(screen.table, Qt.Key.Key_Return)
    assert "ask there for its bundle" in screen.said


def history() -> ModelHistory:
    from app.records.history import spread

    left = {"left bias": spread([0.0131, 0.0135, 0.0138]), "right bias": spread([0.0134])}
    settled = {"left bias": spread([900.0, 1200.0])}
    return ModelHistory("60", 3, left, {}, settled, (("alarm: look", 2),), units=2, unnumbered=1)


def test_a_models_figures_are_drawn_and_said(
    screen: SessionsScreen, papers: FakePapers, qtbot: QtBot
) -> None:
    """The count of units and the spread in words, for those who hear them too."""
    assert screen.deeds is not None
    papers.history = history()
    click(qtbot, screen.deeds.model)
    qtbot.waitUntil(lambda: screen.deeds is not None and screen.deeds.model_sheet is not None)
    sheet = screen.deeds.model_sheet
    assert isinstance(sheet, ModelSheet)
    assert sheet.words == "60: 3 sessions of 2 units; 1 without a serial number."
    said = [tube.accessibleName() for tube in sheet.tubes]
    # closed form: quartiles of 13.1, 13.5, 13.8 are 13.3 and 13.65
    assert said[0] == (
        "left bias: 3 times: the middle one 13.50 mV, half of them 13.30 to 13.65 mV, all 13.10 to 13.80 mV"
    )
    assert said[1] == "right bias: once: 13.40 mV"
    assert "15.0" in said[2]
    assert [row.accessibleName() for row in sheet.faults] == ["alarm: Look at the unit: in 2 of 3"]
    sheet.grab()
    sheet.accept()


def test_nothing_met_is_said(qtbot: QtBot) -> None:
    sheet = ModelSheet(ModelHistory("60", 1, {}, {}, {}, (), units=1), practice=True)
    qtbot.addWidget(sheet)
    assert sheet.words == "60: one session of one unit; practice counted too."
    assert sheet.tubes == []
    sheet.grab()


def test_a_quantity_below_nothing_has_no_minus(qtbot: QtBot) -> None:
    from app.records.history import spread

    assert Quantity("left bias", spread([-0.00001]), 100.0, "%", 1).words == "once: 0.0 %"


def trace(channel: str, seconds: list[float], millivolts: list[float]) -> Trace:
    joined = np.ones(len(seconds), dtype=np.bool_)
    return Trace(channel, Unit.VOLT, np.array(seconds), np.array(millivolts) / 1000.0, joined, np.empty(0))


def test_traces_are_laid_over_each_other(screen: SessionsScreen, papers: FakePapers, qtbot: QtBot) -> None:
    """Several lines of the list, one plot, a name for each."""
    assert screen.deeds is not None
    some = trace("left bias", [-5.0, 1.0, 600.0], [0.0, 9.0, 13.0])
    papers.traces = {
        "s3": Laid("Halden 60 no. 0417", "2026-02-11", (some, trace("right bias", [1.0, 9.0], [12.0, 13.0]))),
        "s2": Laid("", "2026-02-11", (some,), from_power_on=False, practice=True),
    }
    screen.table.item(1).setSelected(True)
    assert not screen._open_button.isEnabled()
    click(qtbot, screen.deeds.lay)
    qtbot.waitUntil(lambda: screen.deeds is not None and screen.deeds.laid_sheet is not None)
    sheet = screen.deeds.laid_sheet
    assert isinstance(sheet, LaidSheet)
    assert [legend.words for legend in sheet.legends] == [
        "2026-02-11 · Halden 60 no. 0417",
        "2026-02-11 · not named · practice · power-on not told: from the start of the session",
    ]
    assert sheet.channel.currentData() == "left bias"
    assert sheet.plot.accessibleName().startswith("2 traces")
    sheet.grab()
    sheet.channel.setCurrentIndex(1)
    assert sheet.plot.accessibleName().startswith("1 traces")
    sheet.grab()
    sheet.accept()


def test_eight_lines_differ_by_hue_and_dashes() -> None:
    told = {(line_pen(n).color().name(), tuple(line_pen(n).dashPattern())) for n in range(8)}
    assert len(told) == 8


def drop(screen: SessionsScreen, *paths: Path) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    buttons = (Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier)
    enter = QDragEnterEvent(QPoint(9, 9), Qt.DropAction.CopyAction, data, *buttons)
    screen.dragEnterEvent(enter)
    assert enter.isAccepted()
    screen.dropEvent(QDropEvent(QPointF(9.0, 9.0), Qt.DropAction.CopyAction, data, *buttons))


def test_a_dropped_bundle_is_imported_and_a_bad_one_is_a_sentence(
    screen: SessionsScreen, qtbot: QtBot
) -> None:
    """The one does not stop the other."""
    drop(screen, Path("bad.zip"), Path("good.zip"))
    qtbot.waitUntil(lambda: "Imported: good." in screen.said)
    assert "this is no whole bundle" in screen.said


def test_from_a_bundle_to_its_report_and_its_unit(session_root: Path, tmp_path: Path, qtbot: QtBot) -> None:
    """The whole way on real files: import, find, ask for the unit, lay its traces."""
    write_bundle(tmp_path / "b.zip", open_session(SAMPLES / "healthy-trim"))
    (tmp_path / "torn.zip").write_bytes((tmp_path / "b.zip").read_bytes()[:4000])
    screen = SessionsScreen(RecordedSessions(session_root), papers=LocalPapers(session_root))
    qtbot.addWidget(screen)
    screen.show()
    assert screen.deeds is not None
    assert screen.search is not None
    assert "no sessions" in screen.said
    screen.deeds.take_in(str(tmp_path / "torn.zip"), str(tmp_path / "b.zip"))
    qtbot.waitUntil(lambda: "Imported: 2026-01-05" in screen.said, timeout=20_000)
    assert "ask for it to be sent again" in screen.said
    assert screen.table.count() == 1

    screen.deeds.take_in(str(tmp_path / "b.zip"))
    qtbot.waitUntil(lambda: "was here already" in screen.said, timeout=20_000)
    click(qtbot, screen.deeds.unit)
    qtbot.waitUntil(lambda: screen.said == "One session fits.", timeout=20_000)
    assert screen.search.serial.text() == "K40-01127"
    click(qtbot, screen.deeds.lay)
    qtbot.waitUntil(lambda: screen.deeds is not None and screen.deeds.laid_sheet is not None, timeout=20_000)
    sheet = screen.deeds.laid_sheet
    assert sheet is not None
    assert "practice" in sheet.legends[0].words
    sheet.accept()


@pytest.mark.parametrize("text", ["9999-12-31", "0001-01-01"])
def test_a_day_at_the_end_of_all_calendars_breaks_nothing(
    text: str, screen: SessionsScreen, papers: FakePapers, qtbot: QtBot
) -> None:
    """It is looked for, or refused in a sentence."""
    assert screen.search is not None
    screen.search.until.setText(text)
    screen.search.ask()
    qtbot.waitUntil(lambda: "is no day" in screen.said or "fit" in screen.said)


def test_what_a_dialog_was_opened_for_is_what_is_named(
    screen: SessionsScreen, papers: FakePapers, qtbot: QtBot
) -> None:
    """Results of a search may take the list's place while the dialog is open: no other session is meant."""
    shelf = screen._shelf
    assert isinstance(shelf, FakeShelf)
    wanted = next(line.key for line in shelf.lines if line.here)
    screen.table.setCurrentRow([line.key for line in shelf.lines].index(wanted))
    dialog = screen.ask_name()
    assert dialog is not None
    assert screen.search is not None
    screen.search.words.setText("kest")
    qtbot.waitUntil(lambda: screen.said == "One session fits.")
    dialog.unit.setText("Halden 60 no. 9")
    dialog.accept()
    assert [done[1] for done in shelf.done if done[0] == "name"] == [wanted]


def test_a_session_whose_name_ends_in_dots_is_told_whole(screen: SessionsScreen) -> None:
    item = screen.table.item(0)
    assert item.toolTip() == item.text()


def test_in_a_low_window_all_sessions_can_be_had_again(screen: SessionsScreen, qtbot: QtBot) -> None:
    """The search has no room there; what it left out must not be lost for it."""
    assert screen.search is not None
    assert screen.deeds is not None
    screen.resize(427, 267)
    assert screen.search.isHidden()
    screen.deeds.unit_found.emit("0417", "60")
    qtbot.waitUntil(lambda: "fit" in screen.said)
    left = screen.table.count()
    gone: list[bool] = []
    screen.back.connect(lambda: gone.append(True))
    screen._back.click()
    assert screen.table.count() == 3 > left
    assert not gone
    screen._back.click()
    assert gone
