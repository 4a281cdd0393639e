"""Every screen in German: what is shown, spoken by a screen reader or painted holds no English any more.

Two rules, so that neither can be passed by the other's gap. Whatever is looked up in the catalogue tells
what was not known of it (`app.language.listen`), painted words included. And whatever stands on a widget in
the end is looked through for English words, so that a text which was never looked up is found as well.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from fake_workshop import FakeWorkshop
from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QComboBox,
    QDialog,
    QLabel,
    QLineEdit,
    QListWidget,
    QPlainTextEdit,
    QTableWidget,
    QWidget,
)

from app import language
from app.data_files import check_text
from app.language.catalogue import Found
from app.language.template import HOLE
from app.windows.main_window import MainWindow
from app.windows.number_sign import NUMBER_SIGN
from app.windows.screenshots import places, scenes
from app.windows.screenshots.places import visit_places
from app.windows.screenshots.scenes import Bench, Job, ended, visit_all
from app.windows.screenshots.visitor import PutsAway
from app.windows.theme import THEME, Look
from app.windows.worded import Verbatim, speak
from app.windows.working_screen import WorkingScreen
from drivers.simulated.units import load_unit, shipped_units
from procedures.view import RunView

# Names, standard terms and what a person or a file wrote: the same in every language.
NAMES = re.compile(
    r"""
    Warmtrim | English | Deutsch | Letter | A4 | ohm | degC
    | (?:Kestrow|Brinefold|Orlend|Tessen|Unnamed|amplifier|Fenrow)\b(?:(?!,[ ]serial).)*
    | (?:Bench|Second)[ ]meter.* | left[ ]bias.* | right[ ]bias.* | L=.* | R=.*
    | No[ ]sound:[ ]this[ ]is[ ]a[ ]test.* | No[ ]sound | this | a[ ]test | TCPIP.* | .*\.toml | /.* | IMM
    | Customer[ ]Example | no[ ]telephone | calls[ ]after[ ]six | cold,[ ]at[ ]low[ ]volume
    | (?:.*[ ])?Smells[ ]hot.* | (?:.*[ ])?The[ ]left[ ]channel[ ]drops[ ]out[ ]when[ ]it[ ]is[ ]quiet.*
    | music[ ]at[ ]low[ ]level,[ ]cold | mains | relay[ ]drop | left | at[ ]1[ ]A,[ ]unsteady
    | Contact[ ]of[ ]the[ ]protection[ ]relay.* | relay[ ]replaced | worn[ ]contact | the[ ]shelf
    | 24[ ]V[ ]2[ ]c/o.* | RL1
    | .*the[ ]sense[ ]input[ ]of[ ]the[ ]protection.*
    | Trimmers[ ]are[ ]reached[ ]from[ ]above.* | (?:invented|service)[ ].*
    """,
    re.VERBOSE,
)
QUOTED = re.compile(r'"[^"]*"|„[^“]*“')  # what stands in a file, or may stand there
# Screens that need no session and are there at once; all others are read with the pictures.
QUICK = ("start-told", "target", "amplifier", "amplifier-7", "amplifier-new", "check-files-wrong", "settings")
QUICK += ("recovery", "tour", "end-asked", "own-note", "own-supply", "own-lead", "job-sheet-customer")
# Words that are English alone: they stand in the sentences of the program and in none of their German.
_WORD = re.compile(r"[A-Za-zÄÖÜäöüß][a-zäöüß]{2,}")


def english_words() -> frozenset[str]:
    """Every word of the program's English that no German sentence of it has."""
    known = language.sentences("de")
    ours = {word.lower() for text in known for word in _WORD.findall(HOLE.sub(" ", text))}
    theirs = {word.lower() for text in known.values() for word in _WORD.findall(HOLE.sub(" ", text))}
    return frozenset(ours - theirs)


def texts_of(widget: QWidget) -> Iterator[str]:
    """What a widget shows or tells a screen reader."""
    yield widget.toolTip()
    yield widget.accessibleName()
    yield widget.accessibleDescription()
    if widget.isWindow():
        yield widget.windowTitle()
    if isinstance(widget, QLabel | QAbstractButton):
        yield widget.text()
    elif isinstance(widget, QLineEdit | QPlainTextEdit):
        yield widget.placeholderText()
    elif isinstance(widget, QComboBox):
        yield from (widget.itemText(n) for n in range(widget.count()))
    elif isinstance(widget, QListWidget):
        for n in range(widget.count()):
            yield widget.item(n).text()
            yield str(widget.item(n).data(Qt.ItemDataRole.AccessibleTextRole) or "")
    elif isinstance(widget, QTableWidget):
        cells = [(r, c) for r in range(widget.rowCount()) for c in range(widget.columnCount())]
        yield from (item.text() for r, c in cells if (item := widget.item(r, c)) is not None)


@dataclass
class Reader(PutsAway):
    """Looks at screens in place of a camera, and keeps what it reads there that is English."""

    app: QApplication
    english: frozenset[str]
    size: tuple[int, int] = (1280, 800)
    where: str = ""
    seen: list[str] = field(default_factory=list)
    found: dict[str, str] = field(default_factory=dict)

    def heard(self, text: str, found: Found) -> None:
        """Keep what was looked up and is not known, unless it is a name."""
        left = [part for part in found.unknown if not NAMES.fullmatch(part)]
        if left and not NAMES.fullmatch(text):
            self.found.setdefault(text, f"{self.where}: not known {left} in {text!r}")

    def room(self) -> tuple[int, int]:
        """How large a window is."""
        return self.size

    def wear(self, look: Look) -> None:
        """Colours do not matter here."""

    def take(self, name: str, screen: QWidget) -> None:
        """Read a screen."""
        self.where = name
        screen.resize(*self.size)
        screen.show()
        self._read(name, screen)

    def take_dialog(self, name: str, dialog: QDialog | None) -> None:
        """Read a dialog."""
        assert dialog is not None
        self.where = name
        self._read(name, dialog)
        dialog.close()

    def _read(self, name: str, screen: QWidget) -> None:
        for _ in range(3):
            self.app.processEvents()
        screen.grab()  # painted words are looked up as they are painted
        self.seen.append(name)
        for widget in (screen, *screen.findChildren(QWidget)):
            if isinstance(widget, Verbatim):
                continue
            for text in filter(None, texts_of(widget)):
                self._look_through(text.replace("&", ""))

    def _look_through(self, text: str) -> None:
        for line in re.split(r"\n|   |  ·  | · |: |; ", QUOTED.sub("", text)):
            odd = [word for word in _WORD.findall(line) if word.lower() in self.english]
            if odd and not NAMES.fullmatch(line.strip()) and not NAMES.fullmatch(text):
                self.found.setdefault(text, f"{self.where}: English {odd} in {text!r}")


@pytest.fixture
def reader(qapp: QApplication, monkeypatch: pytest.MonkeyPatch) -> Iterator[Reader]:
    """Somebody who reads German, in one look: its colours hold no words."""
    monkeypatch.setattr(scenes, "LOOKS", (Look.LIGHT,))
    monkeypatch.setattr(places, "LOOKS", (Look.LIGHT,))
    THEME.look = Look.LIGHT
    speak("de")
    one = Reader(qapp, english_words())
    language.listen(one.heard)
    yield one
    language.listen(None)
    NUMBER_SIGN.take("point")
    speak("en")


def test_the_rule_finds_what_it_is_there_for(reader: Reader) -> None:
    """A text that was never looked up, and one that is not known."""
    raw = QLabel("Nothing to check yet.")
    reader.take("raw", raw)
    assert any("Nothing to check yet." in line for line in reader.found.values())
    language.worded("The left channel has turned blue.")
    assert any("turned blue" in line for line in reader.found.values())
    before = len(reader.found)
    german = QLabel(language.worded("Nothing to check yet."))
    reader.take("german", german)
    assert len(reader.found) == before
    for widget in (raw, german):
        reader.put_away(widget)


def test_a_whole_bias_service_is_in_german(reader: Reader, tmp_path: Path) -> None:
    """From the cautions to the last word: each instruction, question and verdict, and cursors."""
    bench = Bench(Job("healthy", "two-channel-bias-trim", ()), tmp_path)
    screen = WorkingScreen(bench.live)
    told: set[object] = set()

    def look(view: RunView) -> bool:
        now = (view.step, view.instruction, view.question, view.alarms != ())
        if now not in told:
            told.add(now)
            screen.refresh()
            reader.take(f"service, step {view.step}", screen)
        return ended(view)

    try:
        assert bench.until(look)
        for deed in ("cursor", "cursor-earlier", "cursor", "others"):
            screen.deeds.action(deed).trigger()
            screen.refresh()
            reader.take(f"service, {deed}", screen)
    finally:
        screen.close_down()
        reader.put_away(screen)
        bench.live.leave()
    assert len(told) >= 15
    assert not reader.found, "\n".join(reader.found.values())


def test_the_screens_around_a_job_are_in_german(reader: Reader, tmp_path: Path) -> None:
    """Forms with what is to be put right, files that cannot be used, dialogs, questions at the bench."""
    root = tmp_path / "sessions"
    root.mkdir()
    visit_places(reader, root, list(QUICK))
    assert not reader.found, "\n".join(reader.found.values())


def test_what_is_wrong_with_a_file_is_in_german(reader: Reader) -> None:
    """Every file of the tests that cannot be used, each with all that is said of it."""
    broken = tomllib.loads((Path(__file__).parents[1] / "broken_files.toml").read_text(encoding="utf-8"))
    for case in broken["broken"]:
        reader.where = case["what"]
        for problem in check_text(case["text"], "mine.toml").problems:
            language.worded(problem.sentence)
    assert not reader.found, "\n".join(reader.found.values())


def test_what_a_simulated_unit_is_brought_in_for_is_in_german(reader: Reader) -> None:
    """The list to practise with: the product is named, and the words beside it are German."""
    window = MainWindow(FakeWorkshop())
    reader.take("start", window)
    for unit in map(load_unit, shipped_units()):
        name = f"{unit.maker} {unit.model}"
        language.pass_names([name])
        language.worded(f"{name} – {unit.brought_in or unit.title}")
    reader.put_away(window)
    left = [line for text, line in reader.found.items() if "Halden" not in text]
    assert not left, "\n".join(left)


@pytest.mark.long
def test_every_pictured_screen_is_in_german(reader: Reader) -> None:
    """The set of which pictures are made, brought about by jobs on the simulated bench."""
    visit_all(reader)
    assert len(set(reader.seen)) >= 60
    assert not reader.found, "\n".join(reader.found.values())
