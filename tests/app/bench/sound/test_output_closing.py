"""An output that is closed while it sounds fades first; one that is gone holds up nobody."""

from __future__ import annotations

import threading
from typing import Any

import numpy as np
import pytest

from app.bench.sound import devices
from app.bench.sound.devices import OutputDevice, PortAudio

RATE = 48_000.0
TURN = 48  # samples of 1 kHz


class FakeStream:
    """Asks for block after block in a thread of its own until it is closed."""

    latency = 0.0

    def __init__(self, wanted: dict[str, Any], *, gone: bool) -> None:
        self._callback = wanted["callback"]
        self.active = not gone
        self.played: list[np.ndarray] = []
        self.begun = threading.Event()
        self._closed = threading.Event()
        self._thread = threading.Thread(target=self._run)

    def start(self) -> None:
        self._thread.start()

    def close(self, *, ignore_errors: bool) -> None:
        self._closed.set()
        self._thread.join()

    def _run(self) -> None:
        while self.active and not self._closed.is_set():
            block = np.ones((256, 2), dtype=np.float32)
            self._callback(block, 256, None, None)
            self.played.append(block)
            self.begun.set()
            self._closed.wait(0.0005)  # else the other threads get no turn


class FakePortAudio:
    """As much of the library as an output needs."""

    PortAudioError = RuntimeError

    def __init__(self, *, gone: bool = False) -> None:
        self._gone = gone

    def OutputStream(self, **wanted: Any) -> FakeStream:  # noqa: N802 - PortAudio's name
        self.stream = FakeStream(wanted, gone=self._gone)
        return self.stream


def _opened(monkeypatch: pytest.MonkeyPatch, system: FakePortAudio) -> devices.OpenOutput:
    monkeypatch.setattr(devices, "_library", lambda: system)
    place = iter(range(0, 10**9, 256))

    def fill(count: int) -> np.ndarray:
        return np.sin(2 * np.pi * (next(place) + np.arange(count)) / TURN)

    return PortAudio().open(OutputDevice(0, "out", rate=RATE), fill)


def test_what_is_heard_fades_before_the_output_is_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    """No step is larger than the tone's own, 2 pi / 48 at the most (closed form)."""
    system = FakePortAudio()
    output = _opened(monkeypatch, system)
    assert system.stream.begun.wait(5.0)
    output.close()
    played = np.vstack(system.stream.played)[:, 0]
    assert np.abs(played).max() > 0.5
    assert np.abs(np.diff(np.append(played, 0.0))).max() <= 2 * np.pi / TURN


def test_an_output_that_is_gone_is_closed_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    system = FakePortAudio(gone=True)
    output = _opened(monkeypatch, system)
    output.close()
    assert system.stream.played == []
