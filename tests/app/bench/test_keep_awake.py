"""The computer is asked to stay awake while a run is on, and where it cannot be asked that is said."""

from __future__ import annotations

import subprocess
import threading
from collections.abc import Sequence

import pytest

from app.bench.keep_awake import CANNOT, KeptAwake, command_for


class FakeHeld:
    """A program that runs until it is ended."""

    def __init__(self) -> None:
        self.code: int | None = None

    def poll(self) -> int | None:
        return self.code

    def terminate(self) -> None:
        self.code = -15

    def wait(self, timeout: float | None = None) -> int:
        if self.code is None:
            raise subprocess.TimeoutExpired("it", timeout or 0.0)
        return self.code


def everything(name: str) -> str:
    return f"/usr/bin/{name}"


@pytest.mark.parametrize(
    ("platform", "program"), [("linux", "systemd-inhibit"), ("darwin", "caffeinate"), ("plan9", "")]
)
def test_each_system_has_its_own_program(platform: str, program: str) -> None:
    command = command_for(platform, everything)
    assert command[0].endswith(program) if program else command == []


def test_it_is_held_until_the_end_and_the_second_end_does_nothing() -> None:
    held, asked = FakeHeld(), []

    def start(command: Sequence[str]) -> FakeHeld:
        asked.append(list(command))
        return held

    awake = KeptAwake("linux", everything, start)
    assert awake.begin() == ""
    assert awake.holding
    assert "--what=sleep:idle" in asked[0]
    awake.end()
    awake.end()
    assert held.code == -15
    assert not awake.holding


def test_where_it_cannot_be_asked_that_is_said() -> None:
    assert KeptAwake("linux", lambda name: None).begin() == CANNOT

    gone = FakeHeld()
    gone.code = 1
    assert KeptAwake("linux", everything, lambda command: gone).begin() == CANNOT

    def refused(command: Sequence[str]) -> FakeHeld:
        raise OSError("no such program")

    assert KeptAwake("linux", everything, refused).begin() == CANNOT


def test_the_answer_is_awaited_beside_whoever_begins() -> None:
    """A refusal is told; an end that comes before the answer waits for it and lets go."""
    told: list[str] = []
    awake = KeptAwake("linux", lambda name: None)
    awake.begin_beside(told.append)
    awake.end()
    assert told == [CANNOT]

    held = FakeHeld()
    awake = KeptAwake("linux", everything, lambda command: held)
    awake.begin_beside(told.append)
    awake.end()
    assert told == [CANNOT]
    assert held.code == -15


def test_on_windows_the_request_lives_in_its_own_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    """There it belongs to the thread: one that ends at once would take it along."""
    asked: list[tuple[bool, threading.Thread]] = []
    made = threading.Event()

    def stays(wanted: bool) -> bool:
        asked.append((wanted, threading.current_thread()))
        made.set()
        return True

    monkeypatch.setattr("app.bench.keep_awake._windows_stays_awake", stays)
    awake = KeptAwake("win32")
    awake.begin_beside(pytest.fail)
    assert made.wait(5.0)
    assert asked[0][1].is_alive()
    awake.end()

    assert [wanted for wanted, _ in asked] == [True, False]
    assert asked[0][1] is asked[1][1] is not threading.current_thread()
