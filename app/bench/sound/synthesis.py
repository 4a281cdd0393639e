"""How each sound is made: a pure function of what it says. No device, no clock, no chance.

Guidance is smooth and even, alarms are rough and uneven, chimes are bells: they differ in rhythm and timbre,
not in loudness alone. All fundamentals lie between 300 and 1600 Hz: older ears and small loudspeakers have
them (ISO 24500: at most 2.5 kHz; ISO 7731: strong parts of a danger sound at 500 to 1500 Hz; both recalled -
check before quoting). The three regions of pitch lie an octave apart.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from app.bench.sound.heard import (
    Alarmed,
    GuidanceOver,
    Guiding,
    Heard,
    NeedsYou,
    Settled,
    Silent,
    lasts,
)
from procedures.events import Tier

Samples = NDArray[np.float64]

LOW_HZ, INSIDE_HZ, HIGH_HZ = 330.0, 660.0, 1320.0
SLOWEST, FASTEST = 1.25, 10.0  # pulses a second, far away and at the edge
STEADY_S = 0.5
LEARNT_S = 2.5
_EDGE_S = 0.006  # a tone that begins faster than that clicks
_GUIDING_LEVEL, _CHIME_LEVEL, _ALARM_LEVEL = 0.55, 0.6, 0.95
_FLUTTER_LOW, _FLUTTER_HIGH = 4.0, 12.0  # a second, inside but near an edge
_ROUGH_HZ = 70.0  # beating at this rate is heard as roughness
_PARTIALS = 9


def samples(heard: Heard, volume: float, rate: float) -> Samples:
    """The sound, shape (n,), within -1..1: one turn of a sound that lasts, else all of it.

    A turn may be repeated without a seam. `volume` 0..1 is what a person sets, `rate` samples a second.
    """
    loudness = min(max(volume, 0.0), 1.0) ** 2  # about even steps to an ear
    return _made(heard, float(rate)) * loudness


def long_enough(heard: Heard, volume: float, rate: float) -> Samples:
    """A sound as somebody has to hear it who learns it: with its rhythm. Shape (n,), within -1..1."""
    turn = samples(heard, volume, rate)
    times = max(1, round(LEARNT_S * rate / len(turn))) if lasts(heard) else 1
    return np.tile(turn, times)


@functools.lru_cache(maxsize=128)
def _made(heard: Heard, rate: float) -> Samples:
    match heard:
        case Guiding():
            made = _GUIDING_LEVEL * _guiding(heard, rate)
        case GuidanceOver():
            made = _GUIDING_LEVEL * _glide(INSIDE_HZ, LOW_HZ, 0.45, rate)
        case Settled():
            made = _CHIME_LEVEL * _bells(((0.0, 523.25), (0.16, 659.26), (0.32, 783.99)), 1.1, rate)
        case NeedsYou():
            made = _CHIME_LEVEL * _bells(((0.0, 783.99), (0.28, 523.25)), 1.1, rate)
        case Alarmed():
            made = _ALARM_LEVEL * _alarm(heard.tier, rate)
        case Silent():
            made = np.zeros(_count(0.1, rate))
    made.setflags(write=False)
    return made


# --- guidance ---------------------------------------------------------------------------------------------


def _guiding(heard: Guiding, rate: float) -> Samples:
    if abs(heard.offset) <= 1.0:
        return _steady(heard.offset, rate)
    pulses = SLOWEST * (FASTEST / SLOWEST) ** heard.nearness
    made = np.zeros(_count(1.0 / pulses, rate))
    # Pulses grow closer as the edge comes near, until they merge into the steady tone.
    sounding = _count((0.45 + 0.3 * heard.nearness) / pulses, rate)
    # Low is reedy, high is pure: a second sign of direction, made of odd partials that are no other pitch.
    partials = (1.0, 0.45, 0.2) if heard.offset < 0.0 else (1.0,)
    pitch = LOW_HZ if heard.offset < 0.0 else HIGH_HZ
    made[:sounding] = _tone(pitch, sounding, rate, partials) * _shape(sounding, rate)
    return made


def _steady(offset: float, rate: float) -> Samples:
    """One tone; towards an edge it flutters, slowly at the low one and fast at the high one."""
    count = _count(STEADY_S, rate)
    turn = np.arange(count) / count
    # Whole numbers of periods in a turn, so that it can be repeated.
    carrier = np.sin(2.0 * np.pi * round(INSIDE_HZ * STEADY_S) * turn)
    flutter = _FLUTTER_LOW if offset < 0.0 else _FLUTTER_HIGH
    depth = 0.6 * abs(offset)
    dips = 0.5 - 0.5 * np.cos(2.0 * np.pi * round(flutter * STEADY_S) * turn)
    return np.asarray(carrier * (1.0 - depth * dips))


def _glide(begin_hz: float, end_hz: float, seconds: float, rate: float) -> Samples:
    """A tone that sinks and fades."""
    count = _count(seconds, rate)
    turn = np.arange(count) / count
    pitch = begin_hz * (end_hz / begin_hz) ** turn
    tone = np.sin(2.0 * np.pi * np.cumsum(pitch) / rate)
    return np.asarray(tone * (1.0 - turn) * _shape(count, rate))


# --- chimes -----------------------------------------------------------------------------------------------


def _bells(notes: Sequence[tuple[float, float]], seconds: float, rate: float) -> Samples:
    """Notes (second, pitch) that ring out."""
    made = np.zeros(_count(seconds, rate))
    for begin_s, pitch in notes:
        first = round(begin_s * rate)
        count = len(made) - first
        ring = np.exp(-np.arange(count) / (0.22 * rate))
        made[first:] += _tone(pitch, count, rate, (1.0, 0.0, 0.18)) * ring * _shape(count, rate)
    return _full(made)


# --- alarms -----------------------------------------------------------------------------------------------

# Begin, length (both in seconds), pitch at the begin and at the end of each burst; then the whole length.
_BURSTS: dict[Tier, tuple[float, tuple[tuple[float, float, float, float], ...]]] = {
    Tier.LOOK: (
        1.2,
        tuple(
            (begin_s, 0.15, pitch, pitch)
            for begin_s, pitch in ((0.0, 740.0), (0.21, 554.0), (0.62, 740.0), (0.83, 554.0))
        ),
    ),
    Tier.ACT: (
        1.1,
        tuple((0.13 * n, 0.08, pitch, pitch) for n, pitch in enumerate((700.0, 1050.0) * 2 + (700.0,))),
    ),
    Tier.OFF: (0.36, ((0.0, 0.35, 500.0, 1500.0),)),
    Tier.LEAD: (1.6, ((0.0, 0.5, 587.0, 587.0), (0.6, 0.1, 880.0, 880.0), (0.76, 0.1, 880.0, 880.0))),
    Tier.BLIND: (
        1.5,
        ((0.0, 0.12, 700.0, 700.0), (0.4, 0.12, 620.0, 620.0), (0.8, 0.12, 540.0, 540.0)),
    ),
}


def _alarm(tier: Tier, rate: float) -> Samples:
    seconds, bursts = _BURSTS[tier]
    made = np.zeros(_count(seconds, rate))
    for begin_s, length_s, begin_hz, end_hz in bursts:
        first, count = round(begin_s * rate), min(_count(length_s, rate), len(made) - round(begin_s * rate))
        made[first : first + count] += _rough(begin_hz, end_hz, count, rate) * _shape(count, rate)
    return _full(made)


def _rough(begin_hz: float, end_hz: float, count: int, rate: float) -> Samples:
    """A harsh tone: many partials, beating."""
    pitch = np.linspace(begin_hz, end_hz, count)
    phase = 2.0 * np.pi * np.cumsum(pitch) / rate
    made = np.zeros(count)
    for partial in range(1, _PARTIALS + 1):
        if partial * max(begin_hz, end_hz) < 0.45 * rate:
            made += np.sin(partial * phase) / partial
    # Driven into its limit, as a horn is: nearly twice as loud at the same peak, and still beating.
    driven = np.tanh(1.6 * made)
    beat = 1.0 + 0.8 * np.sin(2.0 * np.pi * _ROUGH_HZ * np.arange(count) / rate)
    return np.asarray(driven * beat)


# --- parts ------------------------------------------------------------------------------------------------


def _count(seconds: float, rate: float) -> int:
    return max(1, round(seconds * rate))


def _tone(pitch: float, count: int, rate: float, partials: Sequence[float]) -> Samples:
    """A tone of odd partials, within -1..1."""
    phase = 2.0 * np.pi * pitch * np.arange(count) / rate
    made = np.zeros(count)
    for number, share in enumerate(partials):
        made += share * np.sin((2 * number + 1) * phase)
    return _full(made)


def _shape(count: int, rate: float) -> Samples:
    """Raised-cosine ends, so that nothing begins or ends with a click."""
    edge = min(_count(_EDGE_S, rate), count // 2)
    shape = np.ones(count)
    if edge > 0:
        rise = 0.5 - 0.5 * np.cos(np.pi * np.arange(edge) / edge)
        shape[:edge] = rise
        shape[count - edge :] = rise[::-1]
    return shape


def _full(made: Samples) -> Samples:
    """As loud as it goes within -1..1."""
    peak = float(np.max(np.abs(made)))
    return made / peak if peak > 0.0 else made
