"""A sound device as generator and recorder, on a stand-in for PortAudio within the test."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from drivers.audio import sound_device
from drivers.audio.fading import FadeOut
from drivers.audio.path import Stretch
from drivers.audio.refusal import AudioRefused
from drivers.audio.sound_device import DeviceNames, Scales, SoundDevicePath, listed_devices

pytest.importorskip("sounddevice", exc_type=(ImportError, OSError))

RATE = 48_000.0
DEVICES = [
    {"name": "Bench card", "max_input_channels": 2, "max_output_channels": 2, "default_samplerate": RATE},
    {"name": "Telephone", "max_input_channels": 1, "max_output_channels": 1, "default_samplerate": 8000.0},
]


class FakePortAudio:
    """Feeds what is played back, late and through a function, block by block."""

    class PortAudioError(Exception):
        """What PortAudio raises."""

    def __init__(self, through: Callable[[np.ndarray], np.ndarray] = lambda x: x, late: int = 700) -> None:
        self.default = SimpleNamespace(device=(0, 0))
        self.through = through
        self.late = late
        self.status: Any = None
        self.refusal = ""
        self.opened: dict[str, Any] = {}
        self.played: list[np.ndarray] = []
        self.before_block: Callable[[int], None] = lambda number: None

    def query_devices(self, number: int | None = None) -> Any:
        return DEVICES if number is None else DEVICES[number]

    def Stream(self, **wanted: Any) -> FakeStream:  # noqa: N802 - PortAudio's name
        if self.refusal:
            raise self.PortAudioError(self.refusal)
        self.opened = wanted
        return FakeStream(self, wanted)


class FakeStream:
    """Runs to its end when it is entered."""

    def __init__(self, system: FakePortAudio, wanted: dict[str, Any]) -> None:
        self._system = system
        self._wanted = wanted

    def __enter__(self) -> FakeStream:
        import sounddevice

        line = np.zeros((self._system.late, 2))
        try:
            for number in range(100_000):
                self._system.before_block(number)
                out = np.ones((512, 2), dtype=np.float32)  # PortAudio does not clear its buffers
                heard, line = line[:512], line[512:]
                if len(heard) < 512:
                    heard = np.vstack([heard, np.zeros((512 - len(heard), 2))])
                self._wanted["callback"](heard, out, 512, None, self._system.status)
                self._system.played.append(out.copy())
                line = np.vstack([line, self._system.through(out.astype(float))])
        except sounddevice.CallbackStop:
            self._system.played.append(out.copy())
        self._wanted["finished_callback"]()
        return self

    def __exit__(self, *_: object) -> None:
        """Nothing is held."""


def tone(volts: float, seconds: float = 0.5, hz: float = 1000.0) -> np.ndarray:
    return math.sqrt(2) * volts * np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE)


def path(system: FakePortAudio, **scales: float) -> SoundDevicePath:
    return SoundDevicePath(DeviceNames("bench"), Scales(**scales), RATE, library=system)


def test_samples_are_volts_by_the_scales_and_the_delay_is_taken_out() -> None:
    system = FakePortAudio(lambda x: 0.25 * x)
    used = path(system, output_volts=2.0, input_volts=4.0, divider=10.0)
    wave = tone(1.0)
    left, right = used.play(Stretch({"left": wave}, len(wave), settle=4800))
    # 1 V rms out is 0.707 peak of 2 V; a quarter of that sample is 4 V x 10 x 0.25 / 2 at the amplifier.
    assert np.std(left.volts) == pytest.approx(1.0 / 2.0 * 0.25 * 40.0, rel=1e-3)
    assert np.std(right.volts) == 0.0
    assert (left.channel, right.channel) == ("left", "right")
    assert left.full_scale_volts == 40.0
    assert len(left.volts) == len(wave) - 4800
    # Two periods of a tone look alike; the delay is right up to whole periods, here 700 + 512 - 48 n.
    assert used.latency_s * RATE % 48 == pytest.approx(700 % 48, abs=513 % 48)


def test_what_is_played_ends_in_silence() -> None:
    system = FakePortAudio()
    wave = tone(0.5)
    path(system).play(Stretch({"left": wave, "right": wave}, len(wave)))
    played = np.vstack(system.played)
    assert np.abs(played[len(wave) + 960 :]).max() == 0.0
    assert np.abs(np.diff(played[:, 0])).max() < 0.12  # no click: at most the tone's own slope


def test_silence_stops_it_at_once_and_refuses_the_measurement() -> None:
    system = FakePortAudio()
    used = path(system)
    system.before_block = lambda number: used.silence() if number == 5 else None
    wave = tone(0.5)
    with pytest.raises(AudioRefused, match="silenced before the measurement was complete"):
        used.play(Stretch({"left": wave}, len(wave)))
    assert np.abs(system.played[-1][-1]).max() == 0.0
    assert len(system.played) == 7  # 20 ms are less than two blocks


@pytest.mark.parametrize("hz", [20.0, 1000.0, 20_000.0])
def test_a_tone_that_is_stopped_fades_without_a_larger_step_than_its_own(hz: float) -> None:
    """Wherever in its turn it is stopped. Closed form: see `drivers.audio.fading`, from 18 Hz on."""
    wave = tone(0.5, hz=hz)
    own = np.abs(np.diff(wave)).max()
    for block in range(2, 9):
        system = FakePortAudio()
        used = path(system)
        system.before_block = lambda number, used=used, block=block: (
            used.silence() if number == block else None
        )
        with pytest.raises(AudioRefused):
            used.play(Stretch({"left": wave}, len(wave)))
        played = np.vstack(system.played)[:, 0]
        assert len(played) <= (block + 2) * 512
        assert np.abs(np.diff(np.append(played, 0.0))).max() <= own * (1.0 + 1e-5)


@pytest.mark.parametrize("hz", [20.0, 997.3])
def test_a_tone_that_is_over_fades_without_a_larger_step_than_its_own(hz: float) -> None:
    """Whatever stands in its last sample."""
    for samples in range(20_000, 20_012):
        wave = tone(0.5, hz=hz)[:samples]
        system = FakePortAudio()
        path(system).play(Stretch({"left": wave}, len(wave)))
        played = np.vstack(system.played)[:, 0]
        assert np.abs(played[len(wave) : len(wave) + 100]).max() > 0.0
        assert np.abs(np.diff(played)).max() <= np.abs(np.diff(wave)).max() * (1.0 + 1e-5)


def test_an_error_beside_a_tone_lets_it_fade(monkeypatch: pytest.MonkeyPatch) -> None:
    """The meter that was to read the tone refuses: the stream is left behind the fade, not in the tone."""

    class Played(FakeStream):
        """Plays in a thread, block by block, until it is told to stop."""

        def __enter__(self) -> Played:
            self._thread = threading.Thread(target=lambda: FakeStream.__enter__(self))
            self._thread.start()
            return self

        def __exit__(self, *_: object) -> None:
            self._thread.join()

    system = FakePortAudio()
    monkeypatch.setattr(system, "Stream", lambda **wanted: Played(system, wanted))
    playing, fades = threading.Event(), []
    monkeypatch.setattr(sound_device, "FadeOut", lambda rate: fades.append(FadeOut(rate)) or fades[0])

    def before_block(number: int) -> None:
        if number == 20:
            playing.set()
            fades[0].wanted.wait(5.0)

    system.before_block = before_block
    wave = tone(0.5, 5.0)

    def refuse() -> None:
        playing.wait(5.0)
        raise AudioRefused("The meter shows no AC volts.")

    with pytest.raises(AudioRefused, match="no AC volts"):
        path(system).play(Stretch({"left": wave}, len(wave)), refuse)
    played = np.vstack(system.played)[:, 0]
    assert len(played) < len(wave)
    assert np.abs(played).max() > 0.5
    assert np.abs(np.diff(np.append(played, 0.0))).max() <= np.abs(np.diff(wave)).max() * (1.0 + 1e-5)


def test_lost_samples_are_counted() -> None:
    system = FakePortAudio()
    system.status = SimpleNamespace(input_overflow=True, output_underflow=False, input_underflow=False)
    wave = tone(0.5)
    left, _ = path(system).play(Stretch({"left": wave}, len(wave)))
    assert left.dropouts > 0


def test_more_than_the_generator_gives_is_refused() -> None:
    wave = tone(2.0)
    with pytest.raises(
        AudioRefused, match=r"2\.83 V are asked of the generator, which gives 1 V at the most"
    ):
        path(FakePortAudio()).play(Stretch({"left": wave}, len(wave)))


def test_a_busy_device_is_one_sentence() -> None:
    system = FakePortAudio()
    used = path(system)
    system.refusal = "Device unavailable [PaErrorCode -9985]"
    with pytest.raises(AudioRefused, match=r"Bench card could not be used \(Device unavailable\); see that"):
        used.play(Stretch({}, 4800))


def test_a_device_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(
        AudioRefused, match='no recorder called "Grand" with 2 channels; there are: Bench card'
    ):
        SoundDevicePath(DeviceNames("Grand"), Scales(), RATE, library=FakePortAudio())


def test_devices_are_listed() -> None:
    assert listed_devices(FakePortAudio())[1] == ("Telephone", 1, 1, 8000.0)


def test_beside_a_signal_something_is_done_and_nothing_recorded() -> None:
    system = FakePortAudio()
    wave = tone(0.5)
    done: list[int] = []
    used = path(system)
    # The stand-in runs to its end at once: what takes longer than the signal is refused.
    with pytest.raises(AudioRefused, match="had ended before it was read"):
        used.play(Stretch({"left": wave}, len(wave), 4800), lambda: done.append(1))
    assert done == [1]


def test_a_refusal_beside_a_signal_stops_it() -> None:
    def refuse() -> None:
        raise AudioRefused("over its range")

    wave = tone(0.5)
    with pytest.raises(AudioRefused, match="over its range"):
        path(FakePortAudio()).play(Stretch({"left": wave}, len(wave), 4800), refuse)
