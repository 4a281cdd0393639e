"""The floor of the set-up: generator joined to recorder, and what comes back that nobody sent.

It is measured, said, kept with the choice of devices, and stated beside the figures of an amplifier.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.bench.audio.desk import tone_of
from app.settings import AudioChoice
from drivers.audio.capture import Capture
from drivers.audio.path import AudioPath, Stretch
from drivers.audio.sound_device import SoundDevicePath
from drivers.reading import Unit
from procedures.analysis.audio.distortion import distortion
from procedures.analysis.audio.orders import Order, Signal
from procedures.analysis.audio.weighting import Weighting, noise
from procedures.analysis.figures import figure

BELOW_FULL_DB = -3.0


@dataclass(frozen=True, slots=True)
class Floor:
    """What came back: a tone and silence for each output, and by how much the tone came late."""

    pairs: tuple[tuple[Capture, Capture], ...]
    late_s: float | None = None

    def sentences(self) -> tuple[str, ...]:
        """What the set-up itself adds, a sentence for each output; raises CannotMeasure."""
        return tuple(_words(played, silent) for played, silent in self.pairs)

    def kept_in(self, audio: AudioChoice, when: datetime) -> AudioChoice:
        """The choice with the worst output's figures; raises CannotMeasure."""
        tones = [distortion(played) for played, _ in self.pairs]
        return audio.model_copy(
            update={
                "floor_thd": max(max(found.thd, found.thd_floor) for found in tones),
                "floor_thd_plus_noise": max(found.thd_plus_noise for found in tones),
                "floor_noise_a_volts": max(noise(silent, Weighting.A).volts for _, silent in self.pairs),
                "floor_measured": when.date().isoformat(),
            }
        )


def floor_figures(audio: AudioChoice) -> Mapping[str, float]:
    """The kept floor as figures beside those of a capture; empty where none was measured."""
    named = {
        "setup_thd": audio.floor_thd,
        "setup_thd_plus_noise": audio.floor_thd_plus_noise,
        "setup_noise_a_volts": audio.floor_noise_a_volts,
    }
    return {name: value for name, value in named.items() if value is not None}


def measure_floor(
    path: AudioPath, output_volts: float, announce: Callable[[str], object] = lambda _: None
) -> Floor:
    """Play a tone 3 dB below full scale, then silence, for every output; `announce` is told the path's name.

    Raises:
        AudioRefused: it could not be played or recorded.
    """
    announce(path.name)
    volts = output_volts * 10.0 ** (BELOW_FULL_DB / 20.0) / math.sqrt(2.0)
    played = play_order(path, Order(Signal.TONE, 2.0, 1000.0, volts, drives=path.outputs))
    late_s = path.latency_s if isinstance(path, SoundDevicePath) else None
    silent = play_order(path, Order(Signal.SILENCE, 2.0))
    return Floor(tuple(zip(played, silent, strict=True)), late_s)


def play_order(path: AudioPath, order: Order) -> tuple[Capture, ...]:
    """Carry an order out on a path; raises AudioRefused."""
    wave = order.samples(path.rate_hz)
    waves = dict.fromkeys(order.drives, wave) if order.volts > 0.0 else {}
    settle = round(order.settle_s * path.rate_hz)
    return path.play(Stretch(waves, len(wave), settle, order.load_ohm, tone_of(order)))


def _words(played: Capture, silent: Capture) -> str:
    found, quiet = distortion(played), noise(silent, Weighting.A)
    share = 20.0 * math.log10(max(found.thd_plus_noise, 1e-12))
    return (
        f"{played.channel}: {figure(found.fundamental.volts)} came back, THD+N "
        f"{figure(100.0 * found.thd_plus_noise, Unit.PERCENT)} ({share:.1f} dB), noise {figure(quiet.volts)} "
        "A-weighted. No figure of an amplifier below this means anything."
    )
