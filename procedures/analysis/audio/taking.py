"""From the captures of one order to the plain figures that a run decides on and a journal keeps.

Names of figures: volts (the tone, rms), total_volts (22 Hz to 22 kHz), thd, thd_floor, thd_plus_noise, h2 to
h5 (fractions; only those in the band), hz, offset_volts; of long records crossing_share and peaks_share (of
the residual's power) and crossing_gain (below zero where the gain falls at the crossings); of silence
noise_volts, noise_a_volts, noise_468_volts and hum_1 to hum_10 (volts); of two tones by_order and by_lines,
or second and third; of a sweep db_20 to db_20000.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from drivers.audio.capture import Capture
from procedures.analysis.audio.distortion import BAND_HZ, distortion_of
from procedures.analysis.audio.hum import hum
from procedures.analysis.audio.intermodulation import difference, modulation
from procedures.analysis.audio.level import offset_volts
from procedures.analysis.audio.orders import Order, Signal
from procedures.analysis.audio.residual import residual
from procedures.analysis.audio.response import swept, third_octaves
from procedures.analysis.audio.spectrum import spectrum
from procedures.analysis.audio.weighting import Weighting, noise_of

_SHAPE_S, _TELLS = 1.5, 3.0
LOW_TONE_HZ = 1000.0
"""Below this the first of two tones belongs to the modulation method."""


def figures(order: Order, capture: Capture, mains_hz: float = 50.0) -> dict[str, float]:
    """All figures of one channel's capture (without the settling time).

    Raises:
        CannotMeasure: nothing can be had from it, with the reason in one sentence.
    """
    match order.signal:
        case Signal.SILENCE:
            return _silence(capture, mains_hz)
        case Signal.TONE:
            return _tone(order, capture)
        case Signal.TWO_TONES:
            return _two_tones(order, capture)
        case Signal.SWEEP:
            return _sweep(order, capture)


def said_conditions(order: Order, capture: Capture) -> str:
    """Under what the figures were taken, in one line."""
    load = "no load" if math.isinf(order.load_ohm) else f"{order.load_ohm:.4g} Ω"
    played = {
        Signal.SILENCE: "no signal",
        Signal.TONE: f"{order.hz:.6g} Hz, {1000 * order.volts:.4g} mV in",
        Signal.TWO_TONES: f"{order.hz:.6g} and {order.second_hz:.6g} Hz, {1000 * order.volts:.4g} mV in",
        Signal.SWEEP: f"sweep, {1000 * order.volts:.4g} mV in",
    }[order.signal]
    driven = " and ".join(order.drives) if order.drives else "none"
    band = f"{BAND_HZ[0]:g} Hz to {min(BAND_HZ[1], capture.rate_hz / 2) / 1000:g} kHz"
    remarks = "".join(f"; {remark}" for remark in capture.remarks)
    return (
        f"{played}, driven: {driven}, {load}; {band}; {capture.seconds:.3g} s at "
        f"{capture.rate_hz / 1000:g} kHz, seven-term window{remarks}"
    )


def _tone(order: Order, capture: Capture) -> dict[str, float]:
    lines = spectrum(capture)
    common = {
        "total_volts": noise_of(lines).volts,
        "offset_volts": offset_volts(capture),
    }
    if capture.channel not in order.drives:
        # Crosstalk: the tone may lie under the noise, and is asked for at the driven frequency only.
        tone = lines.tone(order.hz)
        return common | {"volts": tone.volts, "floor_volts": tone.noise_volts}
    found = distortion_of(lines, near_hz=order.hz)
    return (
        common
        | _shape(capture, found.thd > _TELLS * found.thd_floor)
        | {
            "volts": found.fundamental.volts,
            "hz": found.fundamental.hz,
            "thd_plus_noise": found.thd_plus_noise,
            **({"thd": found.thd, "thd_floor": found.thd_floor} if found.harmonics else {}),
            **{f"h{n}": share for n in range(2, 6) if (share := found.order(n)) is not None},
        }
    )


def _shape(capture: Capture, tells: bool) -> dict[str, float]:
    """Where in the period the residual lies, of a long record whose residual stands out of the noise."""
    if not tells or capture.seconds < _SHAPE_S:
        return {}
    left = residual(capture)
    return {
        "crossing_share": left.crossing_share,
        "peaks_share": left.peaks_share,
        "crossing_gain": left.crossing_gain,
    }


def _silence(capture: Capture, mains_hz: float) -> dict[str, float]:
    lines = spectrum(capture)
    found = hum(capture, mains_hz)
    return {
        "offset_volts": offset_volts(capture),
        "noise_volts": noise_of(lines).volts,
        "noise_a_volts": noise_of(lines, Weighting.A).volts,
        "noise_468_volts": noise_of(lines, Weighting.BS468).volts,
        "hum_volts": found.volts,
        **{f"hum_{line.multiple}": line.tone.volts for line in found.lines},
    }


def _two_tones(order: Order, capture: Capture) -> dict[str, float]:
    if order.hz < LOW_TONE_HZ:
        low = modulation(capture, order.hz, order.second_hz)
        return {"by_order": low.by_order, "by_lines": low.by_lines, "floor": low.floor}
    high = difference(capture, order.hz, order.second_hz)
    return {"second": high.second, "third": high.third, "floor": high.floor}


def _sweep(order: Order, capture: Capture) -> dict[str, float]:
    sent = order.samples(capture.rate_hz)[-len(capture.volts) :]
    wanted: Sequence[float] = [hz for hz in third_octaves() if hz < 0.42 * capture.rate_hz]
    response = swept(sent, capture, wanted)
    named = {f"db_{hz:.5g}": db for hz, db in zip(response.hz, response.decibels, strict=True)}
    return {"gain": response.reference_gain, **named}
