"""The simulated output stage distorts, clips and hums as the equations say."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from drivers.audio.capture import Capture
from drivers.simulated.audio_stage import AudioStage
from procedures.analysis.audio.distortion import distortion
from procedures.analysis.audio.hum import hum

RATE = 192_000.0
QUIET = AudioStage(noise_volts=0.0, hum_volts={}, offset_volts=0.0)


def played(stage: AudioStage, watts: float, hz: float = 1000.0, load_ohm: float = 8.0) -> Capture:
    time = np.arange(38_400) / RATE
    peak = math.sqrt(2 * watts * 8.0) / stage.gain
    return Capture(stage.output(peak * np.sin(2 * np.pi * hz * time), RATE, load_ohm), RATE)


def thd(stage: AudioStage, watts: float, hz: float = 1000.0) -> float:
    return distortion(played(stage, watts, hz), band_hz=(20.0, 90e3), harmonics=30).thd


@pytest.mark.parametrize(
    ("idle_amperes", "watts", "percent"),
    # Time-domain solution of the same loop by Runge-Kutta; Re 0.27 ohm, 8 ohm, T(1 kHz) 200.
    [(0.005, 1, 0.023), (0.025, 1, 0.0060), (0.005, 10, 0.0136), (0.025, 10, 0.0049), (0.025, 50, 0.0035)],
)
def test_crossover_distortion_follows_the_bias(idle_amperes: float, watts: float, percent: float) -> None:
    assert 100 * thd(replace(QUIET, idle_amperes=idle_amperes), watts) == pytest.approx(percent, rel=0.15)


def test_distortion_has_a_valley_near_26_millivolts_across_each_resistor() -> None:
    # Oliver 1971: optimum where each emitter resistor drops about 26 mV: 26.7 mV / 0.27 ohm = 99 mA.
    grid = np.geomspace(0.02, 0.5, 25)
    best = min(grid, key=lambda amperes: thd(replace(QUIET, idle_amperes=float(amperes)), 50.0))
    assert 0.06 < best < 0.16


def test_feedback_helps_less_at_ten_kilohertz() -> None:
    stage = replace(QUIET, idle_amperes=0.005)
    assert thd(stage, 10.0, 10_000.0) > 4 * thd(stage, 10.0)


def test_output_is_cut_at_the_sagging_rail() -> None:
    # Closed form: (42 - 2.5) / (1 + 0.35 / (8 pi)) V.
    assert QUIET.clip_volts(8.0) == pytest.approx(38.957, abs=1e-3)
    assert QUIET.clip_volts(math.inf) == pytest.approx(39.5)
    assert np.max(played(QUIET, 150.0).volts) <= QUIET.clip_volts(8.0)


def test_the_current_limit_cuts_into_a_low_load() -> None:
    assert replace(QUIET, current_limit_amperes=4.0).clip_volts(4.0) == pytest.approx(16.0)


def test_a_relay_contact_takes_its_share_under_load_only() -> None:
    worn = replace(QUIET, relay_ohm=0.36)
    loaded = np.std(played(worn, 1.0).volts) / np.std(played(QUIET, 1.0).volts)
    assert loaded == pytest.approx((8 + 0.04) / (8 + 0.40), rel=1e-6)
    free = np.std(played(worn, 1.0, load_ohm=math.inf).volts)
    assert free == pytest.approx(np.std(played(QUIET, 1.0, load_ohm=math.inf).volts))


def test_hum_and_offset_are_there_without_a_signal() -> None:
    stage = replace(AudioStage(), hum_volts={2: 2e-3}, offset_volts=0.012)
    silent = Capture(stage.output(np.zeros(96_000), 48_000.0, 8.0), 48_000.0)
    found = hum(silent, 50.0)
    assert found.strongest is not None
    assert found.strongest.multiple == 2
    assert found.strongest.tone.volts == pytest.approx(2e-3 / math.sqrt(2), rel=0.02)
    assert np.mean(silent.volts) == pytest.approx(0.012, abs=1e-4)
