"""How many actions lie between the program's start and readings; what is known is not asked again."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from served_meters import served_meter

from app.bench.job_memory import in_lead_order
from app.settings import DeclaredInput, RememberedMeter, Settings, load_settings
from app.windows.main_window import MainWindow
from app.workshop import LocalWorkshop

AMPLIFIER, PROCEDURE = "Kestrow K-40", "warm-up"


def known(address: str, **more: object) -> Settings:
    """A workshop in which a meter has been used, its input declared, and the tour seen."""
    return Settings(
        meters=(RememberedMeter(name="bench meter", address=address),),
        inputs=(DeclaredInput(address=address, isolated=True),),
        tour_seen=True,
        **more,  # type: ignore[arg-type]
    )


@contextmanager
def started(settings: Settings, root: Path, qtbot: QtBot) -> Iterator[MainWindow]:
    """The program as a person finds it after its start, which is the first action."""
    window = MainWindow(LocalWorkshop(settings, root.parent / "settings.json", root))
    try:
        with qtbot.waitExposed(window):
            window.show()
        window.first_start()
        yield window
    finally:
        window.close_at_once()
        window.deleteLater()


def soon(holds: Callable[[], bool]) -> None:
    give_up = time.monotonic() + 20.0
    while not holds():
        assert time.monotonic() < give_up
        time.sleep(0.02)


def readings(window: MainWindow) -> int:
    """How many readings are on the screen."""
    assert window.working is not None
    assert window.question is None
    return sum(len(trace.values) for trace in window.working.bench.picture().traces)


def test_watch_takes_two_actions(session_root: Path, qtbot: QtBot) -> None:
    """Start the program, press Space: the remembered meter has the focus, and nothing is asked."""
    with served_meter() as address, started(known(address), session_root, qtbot) as window:
        assert QApplication.focusWidget() is window.start.meter_buttons[0]
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Space)
        soon(lambda: readings(window) > 0)


def test_a_known_amplifier_takes_two_actions(session_root: Path, qtbot: QtBot) -> None:
    """Amplifier, procedure, meter and lead are those of the last time: start, and one key."""
    with served_meter() as address:
        settings = known(address, last_amplifier=AMPLIFIER, last_procedure=PROCEDURE)
        with started(settings, session_root, qtbot) as window:
            qtbot.keyClick(window.start.job_button, Qt.Key.Key_Space)
            soon(lambda: readings(window) > 0)
            assert window.working is not None
            assert window.working.bench.picture().unit_name == AMPLIFIER


def test_a_guided_job_is_remembered_with_its_leads(session_root: Path, tmp_path: Path) -> None:
    """Next time the same amplifier and procedure stand there, and the meter where it was moved to."""
    path = tmp_path / "settings.json"
    with served_meter() as address:
        workshop = LocalWorkshop(known(address), path, session_root)
        bench = workshop.guided(AMPLIFIER, PROCEDURE)
        meter = next(iter(bench.meter_addresses()))
        bench.move_lead(meter, "1", "right bias")
        soon(lambda: any(lead.channel == "right bias" for lead in bench.snapshot().leads))
        bench.leave()
    kept = load_settings(path)[0]
    assert (kept.last_amplifier, kept.last_procedure) == (AMPLIFIER, PROCEDURE)
    assert kept.meters[0].channel == "right bias"


@pytest.mark.parametrize(
    ("read", "order"),
    [
        (("right bias", "left bias"), ["b", "a"]),
        (("left bias", "right bias"), ["a", "b"]),
        (("right bias", "right bias"), ["b", "a"]),
        (("left bias", "heatsink"), ["a", "b"]),
    ],
)
def test_meters_go_to_the_channels_that_they_read_last(read: tuple[str, str], order: list[str]) -> None:
    """However recently each was used."""
    meters = [RememberedMeter(name=n, address=f"sim{n}", channel=c) for n, c in zip("ab", read, strict=True)]
    found = in_lead_order(meters, ("left bias", "right bias"))
    assert [one.name for one in found] == order
