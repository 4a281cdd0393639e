"""The threads of a bench: they turn, force, and end when told to."""

from __future__ import annotations

import threading
from collections.abc import Sequence

from app.bench.conductor import Conductor
from app.bench.sleep import ComputerSleep, suspended_seconds
from app.bench.snapshot import SnapshotStore
from app.bench.turning import ConductorThread, DiskForcer
from app.records.session_folder import Entry
from drivers.clock import LifeClock
from procedures.events import Event, Input, Note
from procedures.leads import Leads
from procedures.view import RunView

VIEW = RunView(at_s=0.0, procedure="watch", title="Watch")


class HeardRun:
    """A run that says when it was fed a note."""

    def __init__(self) -> None:
        self.heard = threading.Event()

    def feed(self, fact: Input) -> Sequence[Event]:
        if isinstance(fact, Note):
            self.heard.set()
        return ()

    def next_deadline(self) -> float | None:
        return None

    def view(self) -> RunView:
        return VIEW


class Nowhere:
    """A record that keeps nothing."""

    def append(self, entries: Sequence[Entry]) -> None:
        pass

    def force_soon(self) -> None:
        pass


def test_what_is_posted_is_dealt_with_at_once_and_the_thread_ends() -> None:
    """A key is answered without waiting for the next quarter of a second."""
    run, clock = HeardRun(), LifeClock()
    conductor = Conductor(clock=clock, run=run, record=Nowhere(), store=SnapshotStore(VIEW), leads=Leads())
    thread = ConductorThread(conductor, clock)
    thread.start()
    conductor.post(Note(0.0, "hello"))

    assert run.heard.wait(10.0)
    assert thread.stop()
    assert conductor.idle


def test_what_is_posted_before_the_end_is_still_kept() -> None:
    """The last turn empties the inbox."""
    run, clock = HeardRun(), LifeClock()
    conductor = Conductor(clock=clock, run=run, record=Nowhere(), store=SnapshotStore(VIEW), leads=Leads())
    thread = ConductorThread(conductor, clock)
    thread.start()
    conductor.post(Note(0.0, "last words"))
    thread.stop()

    assert run.heard.is_set()
    assert conductor.idle


def test_a_disk_that_refuses_is_said_and_forgotten_when_it_takes_again() -> None:
    """Forcing goes on; the trouble is there as long as it lasts."""
    forced, refuse = threading.Semaphore(0), threading.Event()
    refuse.set()

    def force() -> None:
        forced.release()
        if refuse.is_set():
            raise OSError(5, "Input/output error")

    forcer = DiskForcer(force)
    forcer.start()
    forcer.soon()
    assert forced.acquire(timeout=10.0)
    refuse.clear()
    assert forcer.stop()

    assert forced.acquire(timeout=10.0)
    assert forcer.trouble == ""


def test_a_computer_that_is_awake_has_not_slept() -> None:
    """Two turns in a row are no break."""
    watch = ComputerSleep()

    assert watch.since_last_turn() is None
    assert watch.since_last_turn() is None
    before = suspended_seconds()
    assert before is None or before >= -0.1


def test_what_was_written_while_an_earlier_force_was_under_way_is_forced_before_the_end() -> None:
    """The last words come when the disk is busy with those before them."""
    begun, go_on = threading.Event(), threading.Event()
    forced: list[int] = []

    def force() -> None:
        forced.append(1)
        begun.set()
        go_on.wait(10.0)

    forcer = DiskForcer(force)
    forcer.start()
    forcer.soon()
    assert begun.wait(10.0)
    assert not forcer.stop(patience_s=0.0)  # it is busy still
    go_on.set()
    assert forcer.stop()

    assert len(forced) == 2
