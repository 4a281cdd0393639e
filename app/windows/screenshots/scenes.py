"""The screens of the pictures, each brought about by a simulated bench in stepped time."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QEvent
from PySide6.QtWidgets import QApplication, QWidget

from app.bench.live_bench import LiveBench
from app.bench.opening import SimulatedChoice, open_simulated
from app.bench.practised_hands import PractisedHands
from app.settings import Settings
from app.windows.application import make_application
from app.windows.theme import THEME, Look
from app.windows.working_screen import WorkingScreen
from drivers.clock import SteppedClock
from procedures.analysis.channel import AdviceKind
from procedures.events import Tier
from procedures.library import shipped_procedures
from procedures.view import RunView

PROCEDURE = "two-channel-bias-trim"
LONGEST_S = 4.0 * 3600.0
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


SCENES: dict[str, tuple[str, Moment]] = {
    "cautions": ("healthy", cautions),
    "warming-up": ("healthy", warming_up),
    "trimming": ("healthy", mid_trim),
    "alarm": ("runaway", switch_off),
    "finished": ("healthy", ended),
}


class Bench:
    """A simulated bench in stepped time with practised hands on it."""

    def __init__(self, unit: str, root: Path) -> None:
        procedure = shipped_procedures()[PROCEDURE]
        self.live: LiveBench = open_simulated(
            SimulatedChoice(unit=unit), procedure, root, SteppedClock(), Settings()
        )
        assert self.live.practice is not None
        hands = PractisedHands(self.live, self.live.practice, seed=1)
        self._turns = self.live.turns(hands)

    def until(self, moment: Moment) -> bool:
        """Go on to a moment; whether it came. A call to look is answered, as a person at the bench would."""

        def come() -> bool:
            view = self.live.snapshot().view
            for active in view.alarms:
                if active.alarm.tier is Tier.LOOK and not active.acknowledged:
                    self.live.acknowledge(active.alarm.id)
            return moment(view)

        return self._turns.run(come, LONGEST_S)


def take_all(folder: Path, size: tuple[int, int], only: str) -> list[Path]:
    """Make every picture in every look; the files that were written."""
    folder.mkdir(parents=True, exist_ok=True)
    app = make_application(["warmtrim"])
    taken: list[Path] = []
    with tempfile.TemporaryDirectory() as root:
        for name, (unit, moment) in SCENES.items():
            if not name.startswith(only):
                continue
            bench = Bench(unit, Path(root))
            try:
                if not bench.until(moment):
                    raise RuntimeError(f"the simulated unit {unit} never came to {name}")
                taken += _looks(app, folder / name, size, bench)
            finally:
                bench.live.leave()
    return taken


def _looks(app: QApplication, stem: Path, size: tuple[int, int], bench: Bench) -> list[Path]:
    files = []
    for look in (Look.LIGHT, Look.DARK, Look.CONTRAST):
        THEME.look = look
        THEME.apply(app)
        screen = WorkingScreen(bench.live)
        files.append(_grab(app, screen, stem, size))
        screen.close_down()
        screen.close()
        screen.deleteLater()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
    return files


def _grab(app: QApplication, screen: QWidget, stem: Path, size: tuple[int, int]) -> Path:
    """Show a screen at a size and keep its picture."""
    scale = float(os.environ.get("QT_SCALE_FACTOR", "1"))
    suffix = f"{size[0]}x{size[1]}" + (f"-{round(scale * 100)}" if scale != 1.0 else "")
    screen.resize(*size)
    screen.show()
    for _ in range(4):  # a layout that follows its contents needs a turn or two
        app.processEvents()
    path = stem.with_name(f"{stem.name}-{THEME.look.value.replace(' ', '-')}-{suffix}.png")
    screen.grab().save(str(path))
    return path
