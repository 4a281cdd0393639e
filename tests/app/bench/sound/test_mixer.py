"""One stream out of changing sounds: no click, the rhythm kept, silence when nobody renews it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from listening import RATE, largest_step, loudness, pulses

from app.bench.sound.heard import Alarmed, GuidanceOver, Guiding, Heard, NeedsYou, Settled, Silent
from app.bench.sound.mixer import Lasting, Mixer
from app.bench.sound.synthesis import Samples, samples
from procedures.events import Tier

BLOCK = 480


def _heard(mixer: Mixer, seconds: float, block: int = BLOCK) -> Samples:
    return np.concatenate([mixer.fill(block) for _ in range(round(seconds * RATE / block))])


def _last(mixer: Mixer, heard: Heard, lease_s: float | None = None) -> None:
    ending = samples(GuidanceOver(), 1.0, RATE) if lease_s is not None else None
    mixer.last(Lasting(samples(heard, 1.0, RATE), lease_s, ending))


SMOOTH = [*(Guiding(offset) for offset in (-20.0, -1.5, 0.0, 1.0, 20.0)), Silent()]
SOUNDS = [*SMOOTH, Alarmed(Tier.ACT)]


@given(
    changes=st.lists(st.tuples(st.sampled_from(SOUNDS), st.integers(1, 60), st.booleans()), max_size=12),
    block=st.sampled_from([64, 441, 1024]),
)
def test_whatever_changes_nothing_clicks_or_clips(changes: list[tuple[Heard, int, bool]], block: int) -> None:
    """At any change, at any moment, with a cue between: the wave goes on without a jump, within -1..1."""
    mixer, pieces = Mixer(RATE), []
    for heard, blocks, cue in changes:
        _last(mixer, heard)
        if cue:
            mixer.say(samples(Settled(), 1.0, RATE))
        pieces += [mixer.fill(block) for _ in range(blocks)]
    made = np.concatenate([np.zeros(1), *pieces]) if pieces else np.zeros(1)

    # An alarm is steep by itself; a change between all others may add its fade and nothing more.
    among = SOUNDS if any(isinstance(heard, Alarmed) for heard, _, _ in changes) else SMOOTH
    allowed = max(largest_step(samples(heard, 1.0, RATE)) for heard in [*among, Settled()])
    assert largest_step(made) <= allowed + 1.0 / (0.008 * RATE)
    assert np.abs(made).max() <= 1.0


def test_a_smooth_tone_stays_smooth_across_changes_of_distance() -> None:
    """No change makes a step larger than the tones' own (closed form: 2 pi f a / rate)."""
    mixer, pieces = Mixer(RATE), []
    for offset in (0.0, 1.0, 0.5, 1.5, 4.0, -3.0, -1.0, 0.0):
        _last(mixer, Guiding(offset))
        pieces.append(_heard(mixer, 0.13))

    assert largest_step(np.concatenate(pieces)) <= 0.55 * 2.0 * np.pi * 1320.0 / RATE + 0.55 / (0.008 * RATE)


def test_the_rhythm_goes_on_when_the_distance_changes_a_little() -> None:
    """Four changes a second do not turn two pulses a second into four."""
    mixer, pieces = Mixer(RATE), []
    for n in range(32):
        _last(mixer, Guiding(20.0 + 0.1 * (n % 2)))
        pieces.append(_heard(mixer, 0.25))

    assert pulses(np.concatenate(pieces)) == pytest.approx(
        pulses(np.resize(samples(Guiding(20.0), 1.0, RATE), 8 * RATE)), rel=0.05
    )


def test_the_same_tone_is_not_disturbed_by_being_said_again() -> None:
    """Inside the window the phase is kept, so that new readings are not heard as flutter."""
    mixer, pieces = Mixer(RATE), []
    for n in range(20):
        _last(mixer, Guiding(0.25 * (n % 2)))
        pieces.append(_heard(mixer, 0.25))
    swing = loudness(np.concatenate(pieces)[RATE // 10 :], RATE, 0.02)

    assert swing.min() > 0.75 * swing.max()


def test_a_change_is_heard_with_the_next_block() -> None:
    """From silence to a tone within one block and its fade: far less than 100 ms."""
    mixer = Mixer(RATE)
    _last(mixer, Silent())
    _heard(mixer, 0.2)
    _last(mixer, Guiding(0.0))

    assert np.sqrt(np.mean(mixer.fill(BLOCK) ** 2)) > 0.1


def test_what_lasts_makes_room_for_what_is_said_once_and_returns() -> None:
    """A chime is heard alone."""
    mixer, chime = Mixer(RATE), samples(NeedsYou(), 1.0, RATE)
    _last(mixer, Guiding(0.0))
    _heard(mixer, 0.5)
    mixer.say(chime)
    during = _heard(mixer, 1.1)
    after = _heard(mixer, 0.3)

    shift = round(0.008 * RATE)
    assert np.allclose(during[shift : shift + 20000], chime[:20000])
    assert loudness(after[RATE // 10 :]).min() > 0.3


def test_guidance_that_nobody_renews_ends_and_is_heard_to_end() -> None:
    """After the lease: the ending, then silence; renewed, it is back."""
    mixer = Mixer(RATE)
    _last(mixer, Guiding(0.0), lease_s=1.0)
    assert loudness(_heard(mixer, 0.9))[4:].min() > 0.3

    ended = _heard(mixer, 1.0)
    assert loudness(ended).max() > 0.2
    assert not _heard(mixer, 1.0).any()

    mixer.renew()
    assert loudness(_heard(mixer, 0.5))[4:].min() > 0.3


def test_renewed_in_time_it_goes_on() -> None:
    """A lease is kept by renewing it."""
    mixer = Mixer(RATE)
    _last(mixer, Guiding(0.0), lease_s=1.0)
    for _ in range(5):
        assert _heard(mixer, 0.8).any()
        mixer.renew()
    assert loudness(_heard(mixer, 0.5)).min() > 0.3


def test_an_alarm_cuts_short_what_is_being_said() -> None:
    """`hush` fades within some milliseconds and drops what waits."""
    mixer = Mixer(RATE)
    for _ in range(3):
        mixer.say(samples(Settled(), 1.0, RATE))
    _heard(mixer, 0.2)
    mixer.hush()
    made = _heard(mixer, 0.5)

    assert not made[round(0.02 * RATE) :].any()
    assert largest_step(made) < 0.2
