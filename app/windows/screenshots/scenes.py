"""The screens of the pictures, each brought about by a simulated bench in stepped time."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
from PySide6.QtCore import QEvent, QSize
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication, QDialog, QWidget

from app.bench.live_bench import LiveBench
from app.bench.opening import SimulatedChoice, open_simulated
from app.bench.practice_unit import SimulatedHands
from app.bench.practised_hands import PractisedHands
from app.settings import RememberedMeter, Settings
from app.windows.application import make_application
from app.windows.dialog_fit import fit_dialog
from app.windows.main_window import MainWindow
from app.windows.theme import THEME, Look
from app.windows.working_screen import WorkingScreen
from app.workshop import LocalWorkshop
from drivers.clock import SteppedClock
from procedures.analysis.channel import AdviceKind
from procedures.events import Supply, Tier
from procedures.library import shipped_procedures
from procedures.view import RunView

LONGEST_S = 4.0 * 3600.0
SWITCHED_S = 10.0
Moment = Callable[[RunView], bool]


def mid_trim(view: RunView) -> bool:
    """A trimmer is being turned warm, and the program says how far."""
    wanted = any(a.channel == view.focus and a.kind is AdviceKind.TURN for a in view.advice)
    return wanted and view.at_s > 600.0 and not any(not a.acknowledged for a in view.alarms)


def warming_up(view: RunView) -> bool:
    """Twelve minutes after power-on."""
    return view.power_on_s is not None and view.at_s - view.power_on_s > 720.0


def switch_off(view: RunView) -> bool:
    """The alarm that says to switch the mains off."""
    return any(a.alarm.tier is Tier.OFF and not a.acknowledged for a in view.alarms)


def cautions(view: RunView) -> bool:
    """The very first screen of a job."""
    return view.step == "cautions"


def ended(view: RunView) -> bool:
    """The run is over."""
    return view.ended is not None


def distortion_seen(view: RunView) -> bool:
    """The distortion at half power was measured, and its residual is on the screen."""
    return view.step == "distortion" and any("half power, right" in r.name for r in view.recorded)


def at_step(name: str) -> Moment:
    """A step has begun, so that what the one before it showed still stands."""
    return lambda view: view.step == name


@dataclass(frozen=True, slots=True)
class Job:
    """A simulated unit, what is done with it, and what is pictured of it in the order of its coming.

    Without hands the unit is only switched on and watched.
    """

    unit: str
    procedure: str
    handed: bool
    moments: tuple[tuple[str, Moment], ...]


JOBS = (
    Job(
        "healthy",
        "two-channel-bias-trim",
        True,
        (("cautions", cautions), ("warming-up", warming_up), ("trimming", mid_trim), ("finished", ended)),
    ),
    Job("runaway", "watch", False, (("alarm", switch_off),)),
    Job(
        "starved_bias",
        "verification",
        True,
        (
            ("verification-response", at_step("crosstalk")),
            ("verification-residual", distortion_seen),
            ("verification-power", at_step("cool-down")),
        ),
    ),
)
OTHERS = ("start", "look-back", "review", "target", "amplifier", "check-files", "settings")
LOOKS = (Look.LIGHT, Look.DARK, Look.CONTRAST)
METERS = (
    RememberedMeter(name="Bench meter", address="TCPIP0::192.168.1.20::hislip0::INSTR", channel="left bias"),
    RememberedMeter(
        name="Second meter", address="TCPIP0::192.168.1.21::hislip0::INSTR", channel="right bias"
    ),
)


class Bench:
    """A simulated bench in stepped time, with practised hands on it or merely switched on."""

    def __init__(self, job: Job, root: Path) -> None:
        procedure = shipped_procedures()[job.procedure]
        choice = SimulatedChoice(unit=job.unit)
        self.live: LiveBench = open_simulated(choice, procedure, root, SteppedClock(), Settings())
        practice = self.live.practice
        assert isinstance(practice, SimulatedHands)
        hands = [PractisedHands(self.live, practice, seed=1)] if job.handed else []
        self._turns = self.live.turns(*hands)
        if not job.handed:
            self._turns.run(lambda: False, SWITCHED_S)
            practice.switch(Supply.MAINS)
            self.live.supply(Supply.MAINS)

    def until(self, moment: Moment) -> bool:
        """Go on to a moment; whether it came. A call to look is answered, as a person at the bench would."""

        def come() -> bool:
            view = self.live.snapshot().view
            for active in view.alarms:
                if active.alarm.tier is Tier.LOOK and not active.acknowledged:
                    self.live.acknowledge(active.alarm.id)
            return moment(view)

        return self._turns.run(come, LONGEST_S)


class Visitor(Protocol):
    """Whoever looks at the screens: takes pictures of them, or examines them."""

    def wear(self, look: Look) -> None:
        """Take up a look, before a screen is made."""
        ...

    def take(self, name: str, screen: QWidget) -> object:
        """Look at a screen."""
        ...

    def take_dialog(self, name: str, dialog: QDialog | None) -> object:
        """Look at a dialog that is open, and close it."""
        ...

    def put_away(self, screen: QWidget) -> None:
        """Done with a screen."""
        ...


@dataclass(frozen=True, slots=True)
class Camera:
    """Where the pictures go, and how large they are."""

    app: QApplication
    folder: Path
    size: tuple[int, int]

    def take(self, name: str, screen: QWidget) -> Path:
        """Show a screen in the look in force and keep its picture."""
        screen.resize(*self.size)
        screen.show()
        return self._keep(name, screen)

    def take_dialog(self, name: str, dialog: QDialog | None) -> Path | None:
        """Keep the picture of a dialog, no larger than the window would be, and close it."""
        if dialog is None:
            return None
        fit_dialog(dialog, QSize(*self.size))
        path = self._keep(name, dialog)
        dialog.close()
        return path

    def _keep(self, name: str, screen: QWidget) -> Path:
        scale = float(os.environ.get("QT_SCALE_FACTOR", "1"))
        suffix = f"{self.size[0]}x{self.size[1]}" + (f"-{round(scale * 100)}" if scale != 1.0 else "")
        for _ in range(4):  # a layout that follows its contents needs a turn or two
            self.app.processEvents()
        path = self.folder / f"{name}-{THEME.look.value.replace(' ', '-')}-{suffix}.png"
        _few_colours(screen.grab().toImage()).save(str(path))
        return path

    def put_away(self, screen: QWidget) -> None:
        """Close a screen and let Qt delete it."""
        screen.close()
        screen.deleteLater()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)

    def wear(self, look: Look) -> None:
        """Take up a look."""
        THEME.look = look
        THEME.apply(self.app)


def _few_colours(image: QImage) -> QImage:
    """The picture with its 256 most used colours: plenty for flat drawing, and a third of the size."""
    plain = image.convertToFormat(QImage.Format.Format_RGB32)
    dots = np.frombuffer(plain.constBits(), dtype=np.uint32).reshape(
        plain.height(), plain.bytesPerLine() // 4
    )
    colours, counts = np.unique(dots[:, : plain.width()], return_counts=True)
    table = [int(c) for c in colours[np.argsort(counts)[::-1][:256]]]
    return plain.convertToFormat(QImage.Format.Format_Indexed8, table)


def take_all(folder: Path, size: tuple[int, int], only: str) -> None:
    """Make every picture in every look."""
    folder.mkdir(parents=True, exist_ok=True)
    visit_all(Camera(make_application(["warmtrim"]), folder, size), only)


def visit_all(camera: Visitor, only: str = "") -> None:
    """Bring about every screen in every look and show it to a visitor."""
    with tempfile.TemporaryDirectory() as root:
        others = [name for name in OTHERS if name.startswith(only)]
        for job in JOBS:
            wanted = [name for name, _ in job.moments if name.startswith(only)]
            if wanted or others:
                _picture_job(camera, Path(root), job, wanted)
        _picture_others(camera, Path(root), others)


def _picture_job(camera: Visitor, root: Path, job: Job, wanted: list[str]) -> None:
    """Carry a job out and picture its moments."""
    bench = Bench(job, root)
    try:
        for name, moment in job.moments:
            if not bench.until(moment):
                raise RuntimeError(f"the simulated unit {job.unit} never came to {name}")
            if name in wanted:
                for look in LOOKS:
                    camera.wear(look)
                    screen = WorkingScreen(bench.live)
                    camera.take(name, screen)
                    screen.close_down()
                    camera.put_away(screen)
    finally:
        bench.live.leave()


def _picture_others(camera: Visitor, root: Path, wanted: list[str]) -> None:
    """The screens before and after a job, with the sessions that the jobs have left."""
    settings = Settings(sessions_folder=str(root), meters=METERS)
    workshop = LocalWorkshop(settings, root / "settings.json", root)
    for look in LOOKS if wanted else ():
        camera.wear(look)
        window = MainWindow(workshop)
        for name in wanted:
            if name == "look-back":
                window.show_sessions()
            elif name == "review":
                window.show_sessions()
                finished = next(line for line in workshop.shelf.sessions() if line.finished)
                window.show_bench(workshop.shelf.open(finished.key))
            elif name == "target":
                window.papers.show_targets("")
            elif name == "amplifier":
                window.papers.edit("Kestrow K-40")
                assert window.papers.form is not None
                window.papers.form.list.setCurrentRow(2)
            elif name == "check-files":
                window.papers.check_files()
            if name == "settings":
                window.look_key.settings.open()
                camera.take_dialog(name, window.look_key.settings.sheet)
            else:
                camera.take(name, window)
            if name == "review" and window.working is not None:
                window.working.deeds.show_all()
                camera.take_dialog("keys", window.working.deeds.sheet)
            window.leave_bench()
            window.show_start()
        window.close_at_once()
        camera.put_away(window)
