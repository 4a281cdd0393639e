"""Every screen by keys alone, with a name for everything, and with room for all its words at every scale."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from fake_bench import AS_FOUND, HIGH, FakeBench, FakePractice, trimming_picture
from fake_workshop import FakeWorkshop
from PySide6.QtCore import QSize
from PySide6.QtWidgets import (
    QApplication,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QWidget,
)
from pytestqt.qtbot import QtBot
from walked_screens import Walker, cut, nameless, out_of_reach, visit_main_window

from app.windows.dialog_fit import fit_dialog
from app.windows.main_window import MainWindow
from app.windows.number_sign import NUMBER_SIGN
from app.windows.recovery import RecoveryDialog
from app.windows.screenshots import places, scenes
from app.windows.screenshots.places import LEFT_OPEN, PLACES
from app.windows.screenshots.scenes import JOBS, visit_all
from app.windows.screenshots.visitor import LOOKS
from app.windows.theme import GLOVE_MM, LEGIBLE_MM, THEME, Look, legible_letter, millimetres
from app.windows.worded import Dialog, speak
from app.windows.working_screen import WorkingScreen
from procedures.events import Choice, Question, RunEnded, Tier
from procedures.steps.before_work import BEFORE_WORK_ID
from procedures.view import ActiveAlarm

Show = Callable[[FakeBench], WorkingScreen]
# Logical sizes: 1280 by 800 and 1920 by 1080 as they are, at 200 % and at 300 %.
SCALES = {
    1.0: ((1280, 800), (1920, 1080)),
    2.0: ((960, 540), (640, 400)),
    3.0: ((427, 267), (640, 360)),
}
STORY = "Left bias reads 41.2 mV, 3.1 times its target, rising 12 mV/min; 5.1 W per device (limit 4.0 W)."
CAUTIONS = Question(
    0.0,
    "cautions",
    BEFORE_WORK_ID,
    "\n".join(f"Caution {n}: both test points are live, and heatsinks get hot enough." for n in range(8)),
    choices=(Choice("read", "I have read them"),),
)


@pytest.fixture(autouse=True)
def _as_before(qapp: QApplication) -> Iterator[None]:
    yield
    THEME.look = Look.LIGHT
    THEME.apply(qapp)
    NUMBER_SIGN.take("point")  # the German walk leaves a comma


def states() -> dict[str, FakeBench]:
    """The working screen as it looks in the course of a job."""
    made = {"trimming": FakeBench(trimming_picture(practice=True, speed=10.0), FakePractice())}
    for tier in Tier:
        bench = made[f"alarm {tier}"] = FakeBench(trimming_picture())
        bench.show_view(alarms=(ActiveAlarm(replace(HIGH, tier=tier, text=STORY)),), question=AS_FOUND)
    bench = made["seen"] = FakeBench(trimming_picture(practice=True), FakePractice())
    bench.show_view(alarms=(ActiveAlarm(HIGH, acknowledged=True),), question=AS_FOUND)
    bench = made["cautions"] = FakeBench(trimming_picture())
    bench.show_view(question=CAUTIONS, next_label="")
    bench = made["ended"] = FakeBench(trimming_picture())
    bench.show_view(ended=RunEnded(1260.0, True, "Every step was carried out."), next_label="")
    return made


@pytest.mark.parametrize("scale", SCALES)
def test_the_working_screen_has_room_in_every_state(scale: float, qapp: QApplication) -> None:
    """Nothing is cut, nothing lies on something else, nothing is beyond the edge."""
    walker = Walker(qapp, scale, SCALES[scale])
    walker.wear(Look.LIGHT)
    for name, bench in states().items():
        screen = WorkingScreen(bench)
        walker.take(name, screen)
        screen.close_down()
        walker.put_away(screen)
    assert not walker.problems, "\n".join(walker.problems)


@pytest.mark.parametrize("scale", SCALES)
def test_the_other_screens_have_room_and_are_worked_by_keys(scale: float, qapp: QApplication) -> None:
    """Start, past sessions, a target, the settings, all keys."""
    walker = Walker(qapp, scale, SCALES[scale])
    walker.wear(Look.LIGHT)
    window = MainWindow(FakeWorkshop())
    window.start.complain("The meter at TCPIP::192.0.2.10::INSTR does not answer: look at its cable.")
    visit_main_window(walker, window)
    assert not walker.problems, "\n".join(walker.problems)


@pytest.mark.long
@pytest.mark.parametrize("scale", SCALES)
def test_every_pictured_screen_can_be_walked(scale: float, qapp: QApplication) -> None:
    """The set of which pictures are made, brought about by jobs on the simulated bench."""
    walker = Walker(qapp, scale, SCALES[scale])
    visit_all(walker)
    pictured = {name for job in JOBS for name, _ in job.moments} | set(PLACES)
    assert set(walker.seen) == pictured
    assert len(walker.seen) >= len(pictured) * len(LOOKS)
    assert not walker.problems, "\n".join(dict.fromkeys(walker.problems))


@pytest.mark.long
@pytest.mark.parametrize("scale", [1.0, 2.0])
def test_every_pictured_screen_has_room_for_its_german(
    scale: float, qapp: QApplication, monkeypatch: pytest.MonkeyPatch
) -> None:
    """German words are longer; in one look, as colours take no room."""
    for module in (scenes, places):
        monkeypatch.setattr(module, "LOOKS", (Look.LIGHT,))
    walker = Walker(qapp, scale, SCALES[scale])
    speak("de")
    try:
        visit_all(walker)
    finally:
        speak("en")
    assert len(set(walker.seen)) >= 60
    assert not walker.problems, "\n".join(dict.fromkeys(walker.problems))


def test_the_walk_finds_what_is_wrong(qtbot: QtBot) -> None:
    """A cut label, a key without a name, keys on one another or touching, one that Tab leaves out."""
    screen = QWidget()
    qtbot.addWidget(screen)
    screen.resize(300, 100)
    label = QLabel("far too many words for so small a label", screen)
    label.setGeometry(0, 0, 60, 20)
    first, second = QPushButton("", screen), QPushButton("second", screen)
    first.setGeometry(80, 0, 100, 40)
    second.setGeometry(100, 10, 100, 40)
    second.setFocusPolicy(second.focusPolicy().ClickFocus)
    field, beside = QLineEdit(screen), QPushButton("…", screen)
    field.setGeometry(0, 60, 100, 30)
    beside.setGeometry(101, 60, 60, 30)
    area = QScrollArea(screen)
    area.setGeometry(200, 55, 90, 40)
    broad = QWidget()
    broad.setFixedSize(400, 10)
    area.setWidget(broad)
    with qtbot.waitExposed(screen):
        screen.show()
    problems = " ".join((*cut(screen), *nameless(screen), *out_of_reach(screen)))
    for found in (
        "cut: QLabel",
        "on one another",
        "no name: QPushButton",
        "does not reach: QPushButton “second”",
        "touching: QLineEdit",
        "scrolls sideways: QScrollArea",
    ):
        assert found in problems


# --- millimetres -----------------------------------------------------------------------------------


def test_what_is_pressed_with_gloves_on_is_20_mm_high(shown: Show) -> None:
    """People at the bench: 20 mm with gloves, 10 mm bare (common practice, no source)."""
    glove, bare = millimetres(GLOVE_MM), millimetres(10.0)
    bench = FakeBench(trimming_picture())
    bench.show_view(alarms=(ActiveAlarm(HIGH),), question=AS_FOUND)
    screen = shown(bench)
    answers = [b for b in screen.answers.findChildren(QPushButton) if b.isVisible()]
    assert answers
    for key in (screen.key, screen.banner.seen_button, *answers):
        assert key.height() >= glove - 1, key.text()
    for key in screen.findChildren(QPushButton):
        if key.isVisible():
            assert key.height() >= bare - 1, key.text()
    cautioned = FakeBench(trimming_picture())
    cautioned.show_view(question=CAUTIONS, next_label="")
    assert shown(cautioned).cautions.key.height() >= glove - 1


def test_millimetres_follow_the_dots_of_the_screen() -> None:
    """At twice the dots an inch twice the style pixels; a monitor that says nonsense is not believed."""
    THEME.measure(96.0)
    assert millimetres(20.0) == pytest.approx(75.6, abs=0.1)
    assert legible_letter() * 0.73 == pytest.approx(millimetres(LEGIBLE_MM))
    THEME.measure(48.0)
    assert millimetres(20.0) == pytest.approx(37.8, abs=0.1)
    for nonsense in (0.0, 3.0, 5000.0):
        THEME.measure(nonsense)
        assert 20.0 <= millimetres(20.0) <= 130.0


@pytest.mark.parametrize("tier", Tier)
def test_an_alarm_is_explained_in_letters_for_two_metres(tier: Tier, shown: Show) -> None:
    """16 minutes of arc at two metres are 9.3 mm (ISO 9241-303, recalled - check before quoting)."""
    bench = FakeBench(trimming_picture())
    bench.show_view(alarms=(ActiveAlarm(replace(HIGH, tier=tier, text=STORY)),))
    words = shown(bench).banner.explanation
    assert words.isVisible()
    assert words.text.startswith("Left bias reads 41.2 mV")
    assert words.height_for(words.width(), legible_letter() * 0.97) <= words.height()


# --- dialogs ---------------------------------------------------------------------------------------


def test_a_dialog_is_never_larger_than_its_screen(qtbot: QtBot) -> None:
    """What has no room scrolls; one that fits is left as it is."""
    dialog = Dialog()
    qtbot.addWidget(dialog)
    row = QHBoxLayout(dialog)
    for n in range(6):
        key = QPushButton(f"key number {n}", dialog)
        key.setMinimumSize(120, 400)
        row.addWidget(key)
    assert not fit_dialog(dialog, QSize(2000, 1000))
    assert fit_dialog(dialog, QSize(411, 219))
    with qtbot.waitExposed(dialog):
        dialog.show()
    assert dialog.width() <= 411
    assert dialog.height() <= 219
    assert all(key.isVisible() for key in dialog.findChildren(QPushButton))


def test_a_dialog_that_is_narrower_than_it_would_be_is_higher_where_there_is_room(
    qtbot: QtBot, qapp: QApplication
) -> None:
    """What wraps takes more lines; the last key must not have to be scrolled to."""
    THEME.apply(qapp)
    speak("de")
    try:
        dialog = RecoveryDialog(LEFT_OPEN, None)
        qtbot.addWidget(dialog)
        dialog.show()
        assert fit_dialog(dialog, QSize(560, 760))
    finally:
        speak("en")
    area = dialog.findChild(QScrollArea)
    assert isinstance(area, QScrollArea)
    QApplication.processEvents()
    page = area.widget().layout()
    assert page is not None
    assert page.totalHeightForWidth(area.viewport().width()) <= area.viewport().height()
