"""What stands beside a figure: the strongest hum line and the shape of a residual, as hints."""

from __future__ import annotations

import numpy as np
import pytest

from drivers.audio.capture import Capture
from procedures.analysis.audio.orders import Order, Signal
from procedures.analysis.audio.taking import figures
from procedures.steps.signal_words import hum_words, shape_words

RATE = 48_000.0


def test_the_strongest_line_is_named_with_what_it_may_mean() -> None:
    said = hum_words({"hum_1": 1e-5, "hum_2": 2e-3, "hum_3": 1e-6})
    assert "2 times the mains frequency, 2.00 mV" in said
    assert "may be ripple" in said


def test_without_a_line_nothing_is_said() -> None:
    assert hum_words({"noise_volts": 1e-5}) == ""


def shaped(error: np.ndarray, tone: np.ndarray) -> str:
    order = Order(Signal.TONE, 2.0, 1000.0, 1.0, drives=("left",))
    noise = np.random.default_rng(3).normal(0.0, 1e-6, len(tone))
    return shape_words(figures(order, Capture(tone + error + noise, RATE, "left", 100.0, 24)))


@pytest.fixture
def tone() -> np.ndarray:
    return np.asarray(np.sqrt(2.0) * np.sin(2.0 * np.pi * 997.0 * np.arange(2 * int(RATE)) / RATE))


def test_a_dead_zone_lies_at_the_crossings(tone: np.ndarray) -> None:
    spikes = -np.clip(tone, -0.02, 0.02)
    narrow = spikes - np.dot(spikes, tone) / np.dot(tone, tone) * tone
    narrow = np.where(np.abs(tone) < 0.3, narrow, 0.1 * narrow)
    assert "at the zero crossings" in shaped(narrow, tone)


def test_cut_tops_lie_at_the_peaks(tone: np.ndarray) -> None:
    cut = np.clip(tone, -1.35, 1.35) - tone
    assert "at the peaks" in shaped(cut, tone)


def test_a_clean_tone_has_no_shape(tone: np.ndarray) -> None:
    assert shaped(np.zeros(len(tone)), tone) == ""
