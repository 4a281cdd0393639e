"""Nets that hold for every test: no screen, no home folder, no network, nothing left running."""

from __future__ import annotations

import gc
import os
import socket
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import hypothesis
import pytest

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ["LC_ALL"] = "C.UTF-8"  # the same language and decimal sign on every desktop

# The same examples in every run, and no deadline: a test tells the same wherever and however busily it runs.
hypothesis.settings.register_profile("repeatable", derandomize=True, deadline=None)
hypothesis.settings.load_profile("repeatable")

# What a user's environment may say that changes behaviour.
_SWAYING = ("DISPLAY", "WAYLAND_DISPLAY", "QT_SCALE_FACTOR", "PYVISA_LIBRARY")


@pytest.fixture(autouse=True)
def _own_home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Give each test a home folder of its own, so that none reads or writes the user's."""
    home = tmp_path_factory.mktemp("home")
    for name in ("HOME", "USERPROFILE", "APPDATA", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(home))
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME", "XDG_STATE_HOME", "XDG_RUNTIME_DIR"):
        folder = home / name.lower()
        folder.mkdir(mode=0o700)
        monkeypatch.setenv(name, str(folder))
    for name in _SWAYING:
        monkeypatch.delenv(name, raising=False)


@pytest.fixture(autouse=True)
def _loopback_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """Refuse every connection that would leave this computer."""
    connect, connect_ex = socket.socket.connect, socket.socket.connect_ex

    def guarded(self: socket.socket, address: Any) -> None:
        _require_loopback(self, address)
        connect(self, address)

    def guarded_ex(self: socket.socket, address: Any) -> int:
        _require_loopback(self, address)
        return connect_ex(self, address)

    monkeypatch.setattr(socket.socket, "connect", guarded)
    monkeypatch.setattr(socket.socket, "connect_ex", guarded_ex)


@pytest.fixture(autouse=True)
def _no_loudspeaker(monkeypatch: pytest.MonkeyPatch) -> None:
    """No test is heard, or takes a sound output, of the computer that it runs on."""
    from app.bench.sound import devices

    def refused() -> Any:
        raise devices.NoSound("No sound: this is a test.")

    monkeypatch.setattr(devices, "_library", refused)


def _require_loopback(used: socket.socket, address: Any) -> None:
    if used.family not in (socket.AF_INET, socket.AF_INET6):
        return
    host = str(address[0])
    if not (host.startswith("127.") or host in ("::1", "localhost")):
        raise AssertionError(f"a test tried to reach {host}; only loopback is allowed")


@pytest.fixture(autouse=True)
def _no_thread_left() -> Iterator[None]:
    """Fail the test that leaves a thread running."""
    before = set(threading.enumerate())
    yield
    # A thread that was told to stop may need a moment; one that was not will not use it.
    patience = time.monotonic() + 2.0
    left = _threads_since(before)
    while left and time.monotonic() < patience:
        left[0].join(0.05)
        left = _threads_since(before)
    assert not left, f"threads left running: {[thread.name for thread in left]}"


def _threads_since(before: set[threading.Thread]) -> list[threading.Thread]:
    # A _DummyThread stands for a thread that Qt started; its own net is below.
    return [
        thread
        for thread in threading.enumerate()
        if thread not in before and thread.is_alive() and not isinstance(thread, threading._DummyThread)
    ]


@pytest.fixture(autouse=True, scope="session")
def _widgets_first(request: pytest.FixtureRequest) -> None:
    """Make the one Qt application a process may have the kind that windows need.

    A picture needs less and would make the lesser kind, which every window test after it refuses. Asked for
    by name here, so that tests without windows do not count as users of Qt.
    """
    request.getfixturevalue("qapp")


@pytest.fixture(autouse=True)
def _no_window_left(request: pytest.FixtureRequest) -> Iterator[None]:
    """Fail the test that leaves a window of ours, a running timer or a running QThread."""
    uses_qt = bool({"qapp", "qtbot"} & set(request.fixturenames))
    yield
    if uses_qt and "PySide6.QtWidgets" in sys.modules:
        left = _qt_left()
        # What is still there belongs to the session: the next look need not go through all of it again.
        gc.freeze()
        assert not left, f"left by the test: {left}"


def _qt_left() -> list[str]:
    from PySide6.QtCore import QEvent, QThread, QTimer
    from PySide6.QtWidgets import QApplication

    app = QApplication.instance()
    if not isinstance(app, QApplication):
        return []
    # processEvents alone does not delete what deleteLater() asked for.
    app.processEvents()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
    gc.collect()
    left = [
        f"window {type(widget).__name__}"
        for widget in QApplication.topLevelWidgets()
        if type(widget).__module__.startswith("app.") and widget.isVisible()
    ]
    for thing in gc.get_objects():
        # type(), because isinstance() asks weak proxies, whose referent may be gone.
        if issubclass(type(thing), QTimer) and _alive(thing) and thing.isActive():
            left.append(f"running timer of {type(thing.parent()).__name__}")
        elif (
            issubclass(type(thing), QThread)
            and _alive(thing)
            and thing is not app.thread()
            and thing.isRunning()
        ):
            left.append("running QThread")
    return left


def _alive(thing: Any) -> bool:
    import shiboken6

    return bool(shiboken6.isValid(thing))


@pytest.fixture
def session_root(tmp_path: Path) -> Path:
    """An empty folder to keep session folders in."""
    folder = tmp_path / "sessions"
    folder.mkdir()
    return folder
