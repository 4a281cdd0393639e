"""Little and much bias are told apart by what the gain does where the signal crosses zero."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from drivers.audio.capture import Capture
from drivers.simulated.audio_stage import AudioStage
from procedures.analysis.audio.orders import Order, Signal
from procedures.analysis.audio.residual import Residual, residual
from procedures.analysis.audio.taking import figures
from procedures.steps.signal_words import shape_words

RATE = 96_000.0
Floats = NDArray[np.float64]
STAGE = AudioStage(noise_volts=40e-6, hum_volts={})


def of(volts: Floats) -> Residual:
    noise = np.random.default_rng(1).normal(0.0, 1e-6, len(volts))
    return residual(Capture(volts + noise, RATE))


def sine(hz: float = 997.0) -> Floats:
    return np.sin(2.0 * np.pi * hz * np.arange(round(1.6 * RATE)) / RATE)


# Closed form: straight through, the residual is a change of gain times the signal and has its sign.
@pytest.mark.parametrize(
    ("curve", "sign"),
    [
        (lambda x: np.sign(x) * np.maximum(np.abs(x) - 0.02, 0.0), -1),  # a dead zone
        (lambda x: np.sign(x) * np.maximum(np.abs(x) - 0.1, 0.0), -1),
        (lambda x: x - 0.01 * np.clip(x, -0.1, 0.1), -1),  # 1 % less gain near zero
        (lambda x: x + 0.01 * np.clip(x, -0.1, 0.1), 1),  # 1 % more
        (lambda x: x + 0.01 * np.clip(x, -0.3, 0.3), 1),
    ],
)
def test_the_sign_is_that_of_the_gain_at_the_crossings(curve: Callable[[Floats], Floats], sign: int) -> None:
    found = of(np.asarray(curve(sine())))
    assert sign * found.crossing_gain > 0.9
    assert 0.4 < found.crossing_share < 0.75


@pytest.mark.parametrize(
    ("curve", "sign"),
    [
        (lambda x: np.sign(x) * np.maximum(np.abs(x) - 0.05, 0.0) - x, -1),
        (lambda x: 0.01 * np.clip(x, -0.1, 0.1), 1),
    ],
)
def test_behind_a_loop_the_residual_is_its_derivative_and_keeps_the_sign(
    curve: Callable[[Floats], Floats], sign: int
) -> None:
    error = np.gradient(curve(sine()), 1.0 / RATE) / (2.0 * np.pi * 200e3)
    assert sign * of(sine() + error).crossing_gain > 0.4


def test_the_polarity_of_the_recorder_does_not_matter() -> None:
    double = sine() + 0.01 * np.clip(sine(), -0.2, 0.2)
    assert of(-double).crossing_gain == pytest.approx(of(double).crossing_gain, abs=1e-3)


@pytest.mark.parametrize("curve", [lambda x: np.clip(x, -0.9, 0.9), lambda x: x + 0.01 * x**2])
def test_cut_tops_and_a_second_harmonic_do_not_pass_for_crossover(
    curve: Callable[[Floats], Floats],
) -> None:
    found = of(np.asarray(curve(sine())))
    said = shape_words({"crossing_share": found.crossing_share, "peaks_share": found.peaks_share})
    assert "crossings" not in said


def told(idle_amperes: float, watts: float) -> str:
    stage = replace(STAGE, idle_amperes=idle_amperes)
    volts = stage.output(math.sqrt(16.0 * watts) / stage.gain * sine(1000.0), RATE, 8.0, 3)
    order = Order(Signal.TONE, 1.6, 1000.0, 0.1, drives=("left",), load_ohm=8.0)
    return shape_words(figures(order, Capture(volts, RATE, "left", 100.0, 24)))


# Emitter resistors of 0.27 Ω: the valley lies near 26 mV across each, 99 mA (Oliver 1971).
@pytest.mark.parametrize(("idle_amperes", "watts"), [(0.003, 1.0), (0.01, 1.0), (0.025, 10.0), (0.05, 50.0)])
def test_a_stage_below_the_valley_shows_falling_gain(idle_amperes: float, watts: float) -> None:
    assert "where the gain falls: as with little bias" in told(idle_amperes, watts)


@pytest.mark.parametrize(("idle_amperes", "watts"), [(0.2, 10.0), (0.3, 10.0), (0.2, 50.0), (0.45, 50.0)])
def test_a_stage_beyond_the_valley_shows_rising_gain(idle_amperes: float, watts: float) -> None:
    assert "where the gain rises: as with much bias" in told(idle_amperes, watts)


def test_a_session_without_the_sign_says_what_it_said() -> None:
    said = shape_words({"crossing_share": 0.8, "peaks_share": 0.02})
    assert said.endswith("crossover, of too little or of much bias")
