"""What each sound is, told from its samples alone: by an ear in noise, a dull ear, and one ear."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from listening import RATE, dulled, flutter, largest_step, loudness, noisy, pitch, pulses, roughness, spectrum

from app.bench.sound.heard import (
    FARTHEST,
    Alarmed,
    GuidanceOver,
    Guiding,
    Heard,
    NeedsYou,
    Settled,
    Silent,
    lasts,
)
from app.bench.sound.synthesis import Samples, long_enough, samples
from procedures.events import Tier

Ear = Callable[[Samples], Samples]
GUIDING = [Guiding(offset) for offset in (-40.0, -8.0, -1.6, -1.0, -0.5, 0.0, 0.5, 1.0, 1.6, 8.0, 40.0)]
ALARMS = [Alarmed(tier) for tier in Tier]
EVERY: list[Heard] = [*GUIDING, GuidanceOver(), Settled(), NeedsYou(), *ALARMS, Silent()]


def _for(heard: Heard, seconds: float = 4.0, volume: float = 1.0) -> Samples:
    turn = samples(heard, volume, RATE)
    return np.resize(turn, round(seconds * RATE))


@pytest.mark.parametrize("rate", [8000.0, 22050.0, 44100.0, 96000.0])
def test_no_sound_clips_and_none_is_faint(rate: float) -> None:
    """Every sound stays within -1..1 at full volume, at any rate; only silence is silent."""
    for heard in EVERY:
        made = samples(heard, 1.0, rate)

        assert made.ndim == 1
        assert np.all(np.isfinite(made))
        peak = float(np.abs(made).max())
        assert 0.5 < peak <= 1.0 or (heard == Silent() and peak == 0.0), heard


def test_a_turn_can_be_repeated_without_a_click() -> None:
    """Across the seam no step is larger than within; what is said once begins and ends at nothing."""
    for heard in EVERY:
        made = samples(heard, 1.0, RATE)
        first, last = float(made[0]), float(made[-1])

        seam = abs(first - last) if lasts(heard) else max(abs(first), abs(last))
        assert seam <= largest_step(made) + 1e-9, heard
        # closed form: a sine of amplitude a and frequency f steps by 2 pi f a / rate at the most.
        if not isinstance(heard, Alarmed):
            assert largest_step(made) <= 2.0 * np.pi * 2700.0 / RATE, heard


def test_the_same_state_gives_the_same_samples_and_volume_scales_them() -> None:
    """A pure function: nothing is remembered; a lower volume is softer, none is silence."""
    for heard in EVERY:
        full, half = samples(heard, 1.0, RATE), samples(heard, 0.5, RATE)
        assert np.array_equal(full, samples(heard, 1.0, RATE))
        assert np.allclose(half, full * 0.25)
        assert not samples(heard, 0.0, RATE).any()
        assert np.array_equal(samples(heard, 7.0, RATE), full)


def test_fundamentals_are_where_older_ears_hear() -> None:
    """The strongest part lies below 2.5 kHz (ISO 24500, recalled - check before quoting)."""
    for heard in (*GUIDING, *ALARMS, Settled(), NeedsYou(), GuidanceOver()):
        frequencies, amplitudes = spectrum(long_enough(heard, 1.0, RATE))

        assert 300.0 < frequencies[np.argmax(amplitudes)] < 2500.0, heard


def test_the_strong_parts_of_an_alarm_lie_between_500_and_1500_hz() -> None:
    """More than half of an alarm's power (ISO 7731, recalled - check before quoting)."""
    for alarm in ALARMS:
        frequencies, amplitudes = spectrum(long_enough(alarm, 1.0, RATE))
        band = (frequencies > 480.0) & (frequencies < 1600.0)

        assert np.sum(amplitudes[band] ** 2) > 0.5 * np.sum(amplitudes**2), alarm


# --- guidance ---------------------------------------------------------------------------------------------


def _plain(heard: Samples) -> Samples:
    return heard


def _noisy_and_dull(heard: Samples) -> Samples:
    return noisy(dulled(heard))


EARS = [_plain, noisy, dulled, _noisy_and_dull]


@pytest.mark.parametrize("ear", EARS)
def test_direction_is_heard_by_any_ear(ear: Ear) -> None:
    """Low, inside and high lie a minor third apart (1.19) or more, in noise, and without all above 2 kHz."""
    pitches = {heard: pitch(ear(_for(heard))) for heard in GUIDING}
    low = [p for heard, p in pitches.items() if heard.offset < -1.0]
    inside = [p for heard, p in pitches.items() if abs(heard.offset) <= 1.0]
    high = [p for heard, p in pitches.items() if heard.offset > 1.0]

    assert min(inside) > 1.19 * max(low)
    assert min(high) > 1.19 * max(inside)


@pytest.mark.parametrize("ear", EARS)
@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_distance_is_heard_as_a_pulse_rate_that_merges_into_a_steady_tone(ear: Ear, side: float) -> None:
    """The nearer the faster, an octave of rate between far, near and at the edge; inside nothing pulses."""
    rates = [pulses(ear(_for(Guiding(side * size), 6.0))) for size in (40.0, 9.0, 2.2)]

    assert rates[0] == pytest.approx(1.25, rel=0.1)
    assert rates[1] > 1.7 * rates[0]
    assert rates[2] > 1.7 * rates[1]
    assert pulses(ear(_for(Guiding(0.0), 6.0))) == 0.0


def test_inside_the_edges_are_told_from_the_middle_and_from_each_other() -> None:
    """One steady tone in the middle; it flutters towards an edge, faster at the high one."""
    depths = [flutter(_for(Guiding(offset))) for offset in (0.0, 0.5, 1.0)]
    assert depths[0] < 0.05
    assert depths[2] > depths[1] > 0.2

    def swings(offset: float) -> int:
        swing = loudness(_for(Guiding(offset), 1.0))
        return int(np.argmax(np.abs(np.fft.rfft(swing - swing.mean()))))

    assert (swings(-1.0), swings(1.0)) == (4, 12)


@given(reading=st.floats(0.0, 100.0), wanted=st.floats(1.0, 50.0), half=st.floats(0.01, 2.0))
def test_the_sound_of_a_reading_never_lies_about_its_side(reading: float, wanted: float, half: float) -> None:
    """However distances are rounded: inside is inside, low is low, high is high."""
    heard = Guiding.at(reading, wanted, half)
    offset = (reading - wanted) / half

    if abs(offset) <= 1.0:
        assert abs(heard.offset) <= 1.0
        assert heard.offset == pytest.approx(offset, abs=0.1251)
    else:
        assert heard.offset * offset > 1.0
        assert 1.0 < abs(heard.offset) <= FARTHEST


def test_small_noise_does_not_change_the_sound() -> None:
    """Readings that differ by a twentieth of the half-width mostly sound the same."""
    heard = {Guiding.at(13.0 + 0.005 * n, 12.0, 0.1) for n in range(-5, 6)}

    assert len(heard) <= 2


# --- alarms and chimes ------------------------------------------------------------------------------------


def test_alarms_are_rough_and_guidance_and_chimes_are_smooth() -> None:
    """Timbre tells an alarm from everything else, whatever its loudness."""
    smooth = (Guiding(-8.0), Guiding(0.0), Guiding(8.0), Settled(), NeedsYou(), GuidanceOver())

    for ear in (_plain, noisy, dulled):
        least = min(roughness(ear(long_enough(alarm, 1.0, RATE))) for alarm in ALARMS)
        most = max(roughness(ear(long_enough(other, 1.0, RATE))) for other in smooth)
        assert least > 2.5 * most, ear


def test_an_alarm_is_louder_than_what_it_interrupts() -> None:
    """While it sounds, at the same volume; but it is told by timbre and rhythm first."""
    guiding = max(float(loudness(_for(heard), RATE, 0.05).max()) for heard in GUIDING)

    for alarm in ALARMS:
        assert loudness(_for(alarm), RATE, 0.05).max() > 1.1 * guiding, alarm


def _rhythm(heard: Heard, ear: Ear) -> Samples:
    """Loudness in pieces of 20 ms over three seconds, as a shape."""
    made = ear(np.resize(np.append(samples(heard, 1.0, RATE), np.zeros(0)), 3 * RATE))
    shape = loudness(made, RATE, 0.02)
    shape = shape - shape.mean()
    return np.asarray(shape / np.linalg.norm(shape))


@pytest.mark.parametrize("ear", [_plain, _noisy_and_dull])
def test_every_alarm_has_a_rhythm_of_its_own(ear: Ear) -> None:
    """However two alarms are laid over each other in time, their loudness does not agree."""
    shapes = {alarm.tier: _rhythm(alarm, ear) for alarm in ALARMS}

    for one, other in itertools.combinations(shapes, 2):
        turned = np.fft.irfft(np.fft.rfft(shapes[one]) * np.conj(np.fft.rfft(shapes[other])))
        assert np.max(turned) < 0.75, (one, other)


def test_the_most_urgent_alarm_leaves_no_pause() -> None:
    """Off sounds on and on; act and look leave room to think."""

    def sounding(tier: Tier) -> float:
        swing = loudness(_for(Alarmed(tier), 6.6))
        return float(np.mean(swing > 0.1 * swing.max()))

    assert sounding(Tier.OFF) > 0.9 > sounding(Tier.LOOK) > 0.3
    assert sounding(Tier.ACT) < 0.6


def test_settled_rises_and_the_call_falls() -> None:
    """Two chimes that are told apart by their direction."""

    def notes(heard: Heard) -> tuple[float, float]:
        made = samples(heard, 1.0, RATE)
        return pitch(made[: round(0.14 * RATE)]), pitch(made[round(0.6 * RATE) :])

    first, last = notes(Settled())
    assert last > 1.19 * first
    first, last = notes(NeedsYou())
    assert first > 1.19 * last
