"""The AC voltmeter of an audio desk: opened when it is first needed, its bandwidth put beside its volts."""

from __future__ import annotations

from collections.abc import Callable

from drivers.audio.level_meter import AcBand, LevelMeter
from drivers.audio.refusal import AudioRefused
from procedures.analysis.audio.orders import Order


class LevelReading:
    """One meter. Used by one thread at a time."""

    def __init__(self, open_meter: Callable[[], LevelMeter] | None) -> None:
        self._open_meter = open_meter
        self._meter: LevelMeter | None = None

    def read(self, output: str, order: Order) -> tuple[dict[str, float], str]:
        """Figures and conditions of one output, `order` being what stands there. Raises AudioRefused."""
        if self._meter is None:
            if self._open_meter is None:
                raise AudioRefused("This bench has no AC voltmeter.")
            self._meter = self._open_meter()
        volts, band = self._meter.read(output), self._meter.band
        driven = f"{1000 * order.volts:.4g} mV in" if order.volts > 0.0 else "driven by hand"
        return {"ac_volts": volts} | figures_of(
            band
        ), f"AC volts of {self._meter.name}, {band.words()}; {driven}"

    def close(self) -> None:
        """Let go of the meter."""
        if self._meter is not None:
            self._meter.close()
            self._meter = None


def figures_of(band: AcBand) -> dict[str, float]:
    """What is declared of a meter, as figures beside its reading; what nobody has said is missing."""
    responding = {"true rms": 1.0, "average": 0.0}.get(band.responding)
    named = {
        "ac_low_hz": band.low_hz,
        "ac_high_hz": band.high_hz,
        "ac_true_rms": responding,
        "ac_of_reading": band.of_reading or None,
    }
    return {name: value for name, value in named.items() if value is not None}
