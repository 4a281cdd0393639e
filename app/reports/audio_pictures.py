"""What a verification shows as pictures: spectrum, residual, response against its rating, power, bias.

Each is made of captures or of the figures that the journal keeps, so a past session draws the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache

import numpy as np

from app.reports.curve_picture import Axis, Curve, CurvePicture, Limit
from app.reports.trace_picture import PRACTISED
from drivers.audio.capture import Capture
from drivers.simulated.audio_stage import AudioStage
from procedures.analysis.audio.distortion import distortion
from procedures.analysis.audio.level import watts
from procedures.analysis.audio.orders import Signal
from procedures.analysis.audio.residual import Residual, residual
from procedures.analysis.audio.spectrum import spectrum
from procedures.analysis.audio.taken import Taken
from procedures.ratings import Ratings
from procedures.steps.signal_words import AT_CROSSINGS, AT_PEAKS, TELLS_GAIN

_FLOOR_DB = -160.0


def spectrum_picture(captures: Sequence[Capture]) -> CurvePicture:
    """The lines of the newest captures in dB re the strongest, over frequency. Raises CannotMeasure."""
    curves, high = [], 1000.0
    for capture in captures:
        lines = spectrum(capture)
        strongest = max(float(lines.power.max()), 1e-300)
        decibels = 10.0 * np.log10(np.maximum(lines.power / strongest, 1e-18))
        curves.append(Curve(capture.channel or "recording", lines.hz[1:], decibels[1:]))
        high = max(high, capture.rate_hz / 2.0)
    seconds = max((capture.seconds for capture in captures), default=0.0)
    return CurvePicture(
        "Spectrum",
        f"{seconds:.3g} s, seven-term window, dB below the strongest line",
        Axis("frequency, Hz", 10.0, high, logarithmic=True),
        Axis("dB", _FLOOR_DB, 5.0),
        tuple(curves),
        watermark=PRACTISED if any(capture.practice for capture in captures) else "",
    )


def residual_picture(captures: Sequence[Capture]) -> CurvePicture:
    """What is left of one period without the fundamental, in its per mille. Raises CannotMeasure."""
    curves, most, words = [], 1e-6, []
    for capture in captures:
        found = residual(capture)
        shares = 1000.0 * found.volts / found.tone.amplitude
        most = max(most, float(np.abs(shares).max()))
        curves.append(Curve(capture.channel or "recording", found.degrees, shares))
        words.append(f"{capture.channel}: {_shape(found)}")
    wave = np.sin(np.radians(np.arange(0.0, 361.0, 2.0)))
    curves.append(Curve("signal, not to scale", np.arange(0.0, 361.0, 2.0), 0.9 * most * wave))
    return CurvePicture(
        "Residual",
        "; ".join(words),
        Axis("degrees of the signal", 0.0, 360.0, step=45.0),
        Axis("‰ of the signal", -1.1 * most, 1.1 * most),
        tuple(curves),
        remark="Little bias: the gain falls at 0, 180 and 360 degrees; much: it rises there. "
        "Clipping: spikes at 90 and 270.",
    )


def _shape(found: Residual) -> str:
    if found.crossing_share >= AT_CROSSINGS:
        said = f"{100 * found.crossing_share:.0f} % at the crossings"
        if abs(found.crossing_gain) < TELLS_GAIN:
            return said
        falls = found.crossing_gain < 0.0
        return f"{said}, gain {'falls (little bias)' if falls else 'rises (much bias)'}"
    if found.peaks_share >= AT_PEAKS:
        return f"{100 * found.peaks_share:.0f} % at the peaks"
    return "spread over the period"


def response_picture(taken: Iterable[Taken], ratings: Ratings) -> CurvePicture | None:
    """The response of the newest stepped tones against its rating; None where none was measured."""
    by_output = _tones(taken)
    curves = []
    for output, levels in by_output.items():
        if len(levels) < 8 or not any(abs(hz / 1000.0 - 1.0) < 0.02 for hz in levels):
            continue
        reference = levels[min(levels, key=lambda hz: abs(math.log(hz / 1000.0)))]
        hz = np.array(sorted(levels))
        decibels = np.array([20.0 * math.log10(max(levels[f], 1e-12) / reference) for f in hz])
        curves.append(Curve(output, hz, decibels))
    if not curves:
        return None
    limits: tuple[Limit, ...] = ()
    rated = "no rating"
    if ratings.response_db is not None:
        low, high, within = ratings.low_hz or 20.0, ratings.high_hz or 20e3, ratings.response_db
        limits = (Limit(low, high, within, True, "rating"), Limit(low, high, -within, False))
        rated = f"rated {low:g} Hz to {high / 1000:g} kHz within ±{within:g} dB"
    span = max(
        1.0, 1.3 * max(float(np.abs(curve.y).max()) for curve in curves), 2.0 * (ratings.response_db or 0.0)
    )
    return CurvePicture(
        "Frequency response",
        f"stepped tones, re 1 kHz, {rated}",
        Axis("frequency, Hz", 10.0, 40_000.0, logarithmic=True),
        Axis("dB", -span, span),
        tuple(curves),
        limits,
    )


def _tones(taken: Iterable[Taken]) -> dict[str, dict[float, float]]:
    """Level over frequency by output, of tones with the newest drive that was stepped over frequency."""
    tones = [one for one in taken if one.order.signal is Signal.TONE and one.output in one.order.drives]
    counts: dict[float, set[float]] = {}
    for one in tones:
        counts.setdefault(one.order.volts, set()).add(one.order.hz)
    stepped = [volts for volts, hertz in counts.items() if len(hertz) >= 8]
    found: dict[str, dict[float, float]] = {}
    for one in tones:
        if stepped and one.order.volts == stepped[-1]:
            found.setdefault(one.output, {})[one.order.hz] = one.figures.get("volts", 0.0)
    return found


def power_picture(taken: Iterable[Taken], ratings: Ratings) -> CurvePicture | None:
    """Distortion with noise over power at 1 kHz; None where too few levels were measured."""
    points: dict[str, dict[float, float]] = {}
    for one in taken:
        order = one.order
        if order.signal is not Signal.TONE or order.hz != 1000.0 or not math.isfinite(order.load_ohm):
            continue
        if one.output in order.drives and "thd_plus_noise" in one.figures:
            name = f"{one.output}, {order.load_ohm:.3g} Ω"
            power = watts(one.figures.get("total_volts", 0.0), order.load_ohm)
            points.setdefault(name, {})[power] = 100.0 * one.figures["thd_plus_noise"]
    curves = tuple(
        Curve(name, np.array(sorted(found)), np.array([found[power] for power in sorted(found)]))
        for name, found in points.items()
        if len(found) >= 4
    )
    if not curves:
        return None
    highest = max(float(curve.x.max()) for curve in curves)
    limits = tuple(
        Limit(
            0.01,
            rated.watts,
            rated.distortion_percent,
            True,
            f"rated {rated.watts:g} W into {rated.load_ohm:g} Ω",
        )
        for rated in ratings.power
        if rated.distortion_percent is not None
    )
    return CurvePicture(
        "Distortion over power",
        "THD+N, 1 kHz, 22 Hz to 22 kHz",
        Axis("power, W", 0.1, max(10.0, 1.5 * highest), logarithmic=True),
        Axis("%", 0.0005, 30.0, logarithmic=True),
        curves,
        limits,
    )


def bias_picture(
    emitter_ohm: float,
    idle_amperes: Mapping[str, float],
    target_amperes: float | None,
    measured: Mapping[str, float],
) -> CurvePicture:
    """Distortion over idle current with these emitter resistors, and where this unit stands.

    The curves are a model's (emitter followers in a loop, 8 Ω), a ruler and no target; the points are the
    unit's own: `idle_amperes` and `measured` THD in percent at 1 W, by output.
    """
    grid = np.geomspace(0.003, 0.6, 24)
    curves = []
    for power in (1.0, 10.0, 50.0):
        shares = [100.0 * _model_thd(float(amperes), emitter_ohm, power) for amperes in grid]
        curves.append(Curve(f"model, {power:g} W", 1000.0 * grid, np.array(shares)))
    for output, amperes in idle_amperes.items():
        if output in measured:
            curves.append(Curve(f"{output}, 1 W", np.array([1000.0 * amperes]), np.array([measured[output]])))
    remark = (
        "Too little bias: distortion grows, most at low level. Far beyond the valley: gain doubles where "
        "both halves conduct, and heat grows with the current."
    )
    target = "no target"
    if target_amperes is not None:
        target = f"target {1000.0 * target_amperes:.3g} mA; a maker's figure below the valley is normal"
    return CurvePicture(
        "Distortion over bias",
        f"THD at 1 kHz, 8 Ω, emitter resistors of {emitter_ohm:g} Ω; {target}",
        Axis("idle current, mA", 3.0, 600.0, logarithmic=True),
        Axis("%", 0.0001, 0.2, logarithmic=True),
        tuple(curves),
        remark=remark,
        marked_x=1000.0 * target_amperes if target_amperes is not None else None,
        marked="target",
    )


@lru_cache(maxsize=256)
def _model_thd(idle_amperes: float, emitter_ohm: float, power: float) -> float:
    """THD of the modelled stage at a power into 8 ohm."""
    rate_hz, length = 192_000.0, 3_840
    stage = AudioStage(
        idle_amperes=idle_amperes, emitter_ohm=emitter_ohm, noise_volts=0.0, hum_volts={}, offset_volts=0.0
    )
    wave = math.sqrt(16.0 * power) / stage.gain * np.sin(2.0 * np.pi * 1000.0 * np.arange(length) / rate_hz)
    capture = Capture(stage.output(wave, rate_hz, 8.0), rate_hz)
    return distortion(capture, band_hz=(20.0, 90e3), harmonics=20).thd
