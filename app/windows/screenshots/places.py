"""The screens and dialogs around a job, and how each is brought about.

Meters are simulated ones and are really looked at; what they are called and where they stand is invented.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtWidgets import QApplication, QDialog, QWidget

from app.bench.live_bench import LiveBench
from app.bench.opening import SimulatedChoice, open_simulated
from app.bench.practice_unit import SimulatedHands
from app.settings import RememberedMeter, Settings
from app.windows.main_window import MainWindow
from app.windows.ports import FoundMeters, Unfinished
from app.windows.recovery import RecoveryDialog
from app.windows.screenshots.sample_job import sample_job
from app.windows.screenshots.visitor import LOOKS, Visitor
from app.windows.sound_dialog import SoundDialog
from app.windows.start_lists import Card
from app.workshop import LocalWorkshop
from drivers.checking import CheckLine, check_meter
from drivers.clock import SteppedClock
from drivers.simulated.bench import SimulatedBench
from drivers.simulated.in_process import InProcessLink
from drivers.simulated.instrument import Multimeter
from drivers.simulated.multimeter import MODELS, MultimeterInput
from drivers.simulated.units import SURPRISE, load_unit
from procedures.events import Supply
from procedures.library import shipped_procedures

LONGEST_S = 120.0  # of a busy computer; a quick one needs a second
PAUSE_S = 0.005  # for the thread that is waited for
AT = "TCPIP0::192.168.1.20::hislip0::INSTR"
STREAM = "stream:ASRL/dev/ttyACM0::INSTR 115200"
METERS = (
    RememberedMeter(name="Bench meter", address=AT, channel="left bias"),
    RememberedMeter(
        name="Second meter", address="TCPIP0::192.168.1.21::hislip0::INSTR", channel="right bias"
    ),
)
LEFT_OPEN = Unfinished("left", "Two-channel bias trim, Kestrow K-40", "2026-01-05 09:41", Supply.MAINS, True)
AMPLIFIER_PARTS = ("model", "stage", "channel", "", "presets", "ratings", "offset", "notes")
BROKEN = """format = 1
maker = "Kestrow"
model = "K-41"
output_stage = "emitter folower"
pairs = 1
emitter_resistor = "0R27"
rail_volts = "fourty-two"
"""


class PicturedWorkshop(LocalWorkshop):
    """The workshop of this computer, but with simulated meters at invented addresses."""

    def search_meters(self) -> FoundMeters:
        """Two meters, and a bus without rights."""
        cards = (
            Card(AT, "HiSLIP", "Bench meter, input isolated from earth"),
            Card(STREAM, "serial port", "lines that come by themselves"),
            Card("USB0::0x1234::0x5678::FW000002::INSTR", "USB", "no right to use it"),
        )
        return FoundMeters(cards, ("GPIB: no driver is installed.",))

    def check_meter(self, address: str) -> tuple[CheckLine, ...]:
        """Look at a simulated multimeter."""
        clock = SteppedClock()
        bench = SimulatedBench(load_unit("healthy"), clock, 1)
        bench.move_probes("meter", "left bias")
        served = Multimeter(MultimeterInput(bench, "meter", next(iter(MODELS.values()))), clock)
        return check_meter(InProcessLink(served, address))


@dataclass(slots=True)
class Stage:
    """Where a place is brought about. `bench` is what is at the bench, to be left afterwards."""

    window: MainWindow
    workshop: PicturedWorkshop
    root: Path
    bench: LiveBench | None = None

    def until(self, come: Callable[[], object]) -> None:
        """Let what is done beside the window come back."""
        last = time.monotonic() + LONGEST_S
        while not come():
            if time.monotonic() > last:
                said = self.window.sessions.said if self.window.sessions is not None else ""
                raise RuntimeError(f"what was asked for beside the window did not come: {said}")
            QApplication.processEvents()
            time.sleep(PAUSE_S)


Place = Callable[[Stage], QWidget | None]


def _start(stage: Stage) -> QWidget:
    return stage.window


def _told(stage: Stage) -> QWidget:
    stage.window.complain(
        "The meter at TCPIP0::192.168.1.20::hislip0::INSTR does not answer: look at its cable."
    )
    return stage.window


def _lot(stage: Stage) -> QWidget:
    """Practice on a unit that nobody names."""
    box = stage.window.start.unit_chooser
    box.setCurrentIndex(max(box.findData(SURPRISE), 0))
    return stage.window


def _sessions(stage: Stage) -> QWidget:
    stage.window.show_sessions()
    return stage.window


def _unit(stage: Stage) -> QWidget | None:
    stage.window.show_sessions()
    sessions = stage.window.sessions
    assert sessions is not None
    assert sessions.deeds is not None
    sessions.deeds.unit.click()
    stage.until(lambda: "fit" in sessions.said)
    return stage.window


def _model(stage: Stage) -> QWidget | None:
    """What is known of the model that was trimmed first; there is most of it."""
    stage.window.show_sessions()
    assert stage.window.sessions is not None
    table = stage.window.sessions.table
    table.setCurrentRow(table.count() - 1)
    deeds = stage.window.sessions.deeds
    assert deeds is not None
    deeds.model.click()
    stage.until(lambda: deeds.model_sheet is not None)
    return deeds.model_sheet


def _laid(stage: Stage) -> QWidget | None:
    stage.window.show_sessions()
    assert stage.window.sessions is not None
    stage.window.sessions.table.selectAll()
    deeds = stage.window.sessions.deeds
    assert deeds is not None
    deeds.lay.click()
    stage.until(lambda: deeds.laid_sheet is not None)
    return deeds.laid_sheet


def _reviewed(stage: Stage) -> None:
    stage.window.show_sessions()
    finished = next(line for line in stage.workshop.shelf.sessions() if line.finished)
    stage.window.show_bench(stage.workshop.shelf.open(finished.key))


def _review(stage: Stage) -> QWidget:
    _reviewed(stage)
    return stage.window


def _keys(stage: Stage) -> QWidget | None:
    _reviewed(stage)
    assert stage.window.working is not None
    stage.window.working.deeds.show_all()
    return stage.window.working.deeds.sheet


def _assessed(stage: Stage) -> QWidget | None:
    _reviewed(stage)
    assert stage.window.working is not None
    stage.window.working.after_practice.look_back()
    return stage.window.working.after_practice.sheet


def _asked(stage: Stage) -> QWidget | None:
    """The question after practice, before it is told how it went."""
    from app.windows.assessment_sheet import AssessmentSheet, Practised

    finished = next(line for line in stage.workshop.shelf.sessions() if line.finished)
    bench = stage.workshop.shelf.open(finished.key)
    assert isinstance(bench, Practised)
    sheet = AssessmentSheet(bench, stage.window)
    sheet.open()
    return sheet


def _named(stage: Stage) -> QWidget | None:
    stage.window.show_sessions()
    assert stage.window.sessions is not None
    return stage.window.sessions.ask_name()


def _target(stage: Stage) -> QWidget:
    stage.window.papers.show_targets("")
    return stage.window


def _amplifier(row: int) -> Place:
    def show(stage: Stage) -> QWidget:
        stage.window.papers.edit("Kestrow K-40")
        form = stage.window.papers.form
        assert form is not None
        form.list.setCurrentRow(row)
        return stage.window

    return show


def _new_amplifier(stage: Stage) -> QWidget:
    stage.window.papers.edit("")
    return stage.window


def _files(stage: Stage) -> QWidget:
    stage.window.papers.check_files()
    return stage.window


def _wrong_files(stage: Stage) -> QWidget:
    broken, good = stage.root.parent / "kestrow-k-41.toml", stage.root.parent / "evening-trim.toml"
    broken.write_text(BROKEN, encoding="utf-8")
    procedure = Path(__file__).parents[3] / "procedures" / "library" / "warm-up.toml"
    good.write_bytes(procedure.read_bytes())
    stage.window.papers.check([broken, good])
    return stage.window


def _settings(stage: Stage) -> QWidget | None:
    stage.window.look_key.settings.open()
    return stage.window.look_key.settings.sheet


def _sound(stage: Stage) -> QWidget:
    from app.bench.sound.desk import SoundDesk

    desk = SoundDesk(stage.workshop.settings.sound, keep=stage.workshop.keep_sound)
    sheet = SoundDialog(desk, ("left bias", "right bias"), stage.window)
    sheet.open()
    return sheet


def _measuring(stage: Stage) -> QWidget | None:
    stage.window.audio_keys.open()
    return stage.window.audio_keys.dialog


def _meters(stage: Stage) -> QWidget | None:
    stage.window.start.find_meters.emit(AT)
    found = stage.window.meters
    assert found is not None
    stage.until(found.list.count)
    found.check()
    stage.until(found.table.rowCount)
    return found


def _meter_told(stage: Stage) -> QWidget | None:
    stage.window.start.find_meters.emit(STREAM)
    found = stage.window.meters
    assert found is not None
    found.tell()
    return found.told


def _earth(stage: Stage) -> QWidget | None:
    stage.window.gate.first(["typed"], bool)
    stage.until(lambda: stage.window.gate.dialog is not None)
    return stage.window.gate.dialog


def _recovery(stage: Stage) -> QWidget:
    dialog = RecoveryDialog(LEFT_OPEN, stage.window)
    dialog.open()
    return dialog


def _tour(stage: Stage) -> QWidget:
    stage.window.begin_tour()
    return stage.window


def _watching(stage: Stage) -> LiveBench:
    watch = shipped_procedures()["watch"]
    bench = open_simulated(SimulatedChoice(), watch, stage.root.parent / "aside", SteppedClock(), Settings())
    turns = bench.turns()
    turns.run(lambda: False, 10.0)
    assert isinstance(bench.practice, SimulatedHands)
    bench.practice.switch(Supply.MAINS)
    bench.supply(Supply.MAINS)
    turns.run(lambda: False, 60.0)
    stage.bench = bench
    stage.window.show_bench(bench)
    return bench


def _end_asked(stage: Stage) -> QWidget | None:
    _watching(stage)
    stage.window.ask_stop()
    return stage.window.question


def _own(deed: str) -> Place:
    """A question that a person begins by a key at the bench."""

    def show(stage: Stage) -> QWidget:
        _watching(stage)
        working = stage.window.working
        assert working is not None
        stage.window.resize(1280, 800)
        stage.window.show()
        working.refresh()
        working.deeds.action(deed).trigger()
        return stage.window

    return show


def _jobs(stage: Stage) -> QWidget | None:
    sample_job(stage.root)
    stage.window.job_keys.show_list()
    jobs = stage.window.job_keys.window
    assert jobs is not None
    stage.until(jobs.list.table.count)
    return jobs


def _sheet(section: str) -> Place:
    def show(stage: Stage) -> QWidget | None:
        jobs = _jobs(stage)
        window = stage.window.job_keys.window
        assert window is not None
        window.open_job(sample_job(stage.root))
        page = window.page
        assert page is not None
        stage.until(lambda: page.status)
        page.go_to(section)
        return jobs

    return show


def _new_sheet(stage: Stage) -> QWidget | None:
    stage.window.job_keys.new_job()
    return stage.window.job_keys.window


PLACES: dict[str, Place] = {
    "start": _start,
    "start-told": _told,
    "start-lot": _lot,
    "look-back": _sessions,
    "look-back-unit": _unit,
    "look-back-model": _model,
    "look-back-laid": _laid,
    "look-back-naming": _named,
    "review": _review,
    "keys": _keys,
    "assessment": _assessed,
    "assessment-asked": _asked,
    "target": _target,
    "amplifier": _amplifier(2),
    **{f"amplifier-{row}": _amplifier(row) for row in (0, 1, 4, 5, 6, 7)},
    "amplifier-new": _new_amplifier,
    "check-files": _files,
    "check-files-wrong": _wrong_files,
    "settings": _settings,
    "sound": _sound,
    "measuring": _measuring,
    "meters": _meters,
    "meters-told": _meter_told,
    "meters-earth": _earth,
    "recovery": _recovery,
    "tour": _tour,
    "end-asked": _end_asked,
    "own-note": _own("note"),
    "own-supply": _own("supply"),
    "own-lead": _own("lead"),
    "jobs": _jobs,
    **{
        f"job-sheet-{name}": _sheet(name)
        for name in ("customer", "complaint", "found", "work", "outcome", "sessions")
    },
    "job-sheet-new": _new_sheet,
}


def visit_places(visitor: Visitor, root: Path, wanted: list[str]) -> None:
    """Bring about the screens around a job, with the sessions that the jobs have left."""
    settings = Settings(
        sessions_folder=str(root), meters=METERS, archive=f"sqlite:///{root.parent}/archive.db"
    )
    for look in LOOKS if wanted else ():
        visitor.wear(look)
        for name in wanted:
            workshop = PicturedWorkshop(settings, root.parent / "settings.json", root)
            stage = Stage(MainWindow(workshop), workshop, root)
            stage.window.resize(*visitor.room())
            try:
                _show(visitor, name, stage)
            finally:
                _clear(visitor, stage)


def _show(visitor: Visitor, name: str, stage: Stage) -> None:
    place = PLACES[name](stage)
    if isinstance(place, QDialog):
        visitor.take_dialog(name, place)
    elif place is not None:
        visitor.take(name, place)


def _clear(visitor: Visitor, stage: Stage) -> None:
    stage.window.close_at_once()
    visitor.put_away(stage.window)
    if stage.bench is not None:
        stage.bench.leave()
