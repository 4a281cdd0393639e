"""A simulated generator, digitiser and AC voltmeter with SCPI, joined through the simulated unit.

The generator's two outputs go to the unit's inputs, the digitiser's two inputs hang on its outputs behind a
divider, the voltmeter on one of them. Source of headers: SCPI 1999.0 volume 2. Not here: how they are
reached (`audio_bench`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from drivers.simulated.bench import CHANNELS
from drivers.simulated.command_set import CommandRefused
from drivers.simulated.driven_unit import DrivenUnit
from drivers.simulated.parameters import Floats
from drivers.simulated.scpi_table import TableCommand, TableInstrument, Tell, command, real

DIVIDER: Final = 20.0
BITS: Final = 24
_RANGES_PP: Final = (1.0, 10.0, 20.0)
_MOST_POINTS: Final = 1_000_000
_SETTLED_S: Final = 0.25  # played before a record, so that corners of the unit are past
_OPEN_INPUT_VOLTS: Final = 2e-7  # what the digitiser adds by itself, rms
_METER_RATE_HZ: Final = 192_000.0


@dataclass(slots=True)
class Cabling:
    """What stands between the instruments: the unit, the load that a person connected, where the meter is."""

    unit: DrivenUnit
    load_ohm: float = math.inf
    meter_on: str = CHANNELS[0]


class SimulatedGenerator(TableInstrument):
    """Two outputs of a sine, to which each may add a second. `switched` keeps every switching, for tests."""

    MOST_PP: Final = 20.0

    def __init__(self, serial: str = "FW000101") -> None:
        self.switched: list[tuple[int, bool]] = []
        self.reset()
        super().__init__("G20", serial, channels=2)

    def reset(self) -> None:
        """Everything off and small."""
        self._on = [False, False]
        self._hz = [1000.0, 1000.0]
        self._volts_pp = [0.1, 0.1]
        self._offset = [0.0, 0.0]
        self._adds = [False, False]
        self._second_hz = [100.0, 100.0]
        self._second_pp = [0.1, 0.1]

    @property
    def on(self) -> bool:
        """Whether any output is on."""
        return any(self._on)

    def waves(self, length: int, rate_hz: float) -> dict[str, Floats]:
        """What the outputs give, by the unit's input; those that are off are missing."""
        time = np.arange(length) / rate_hz
        return {CHANNELS[index]: self._wave(index, time) for index in range(2) if self._on[index]}

    def _wave(self, index: int, time: Floats) -> Floats:
        wave: Floats = 0.5 * self._volts_pp[index] * np.sin(2.0 * np.pi * self._hz[index] * time)
        if self._adds[index]:
            wave += 0.5 * self._second_pp[index] * np.sin(2.0 * np.pi * self._second_hz[index] * time)
        return wave + self._offset[index]

    def commands(self) -> Sequence[TableCommand]:
        """See `TableInstrument.commands`."""
        return (
            command("OUTPut[:STATe]", self._switch, lambda ch: str(int(self._on[ch - 1]))),
            command("OUTPut:LOAD", _only("INF", "INFINITY"), lambda _: "9.9E+37"),
            command("[SOURce:]FUNCtion[:SHAPe]", _only("SIN", "SINUSOID"), lambda _: "SIN"),
            command(
                "[SOURce:]FREQuency[:CW]",
                lambda ch, text: _put(self._hz, ch, real(text, 1e-3, 1e6)),
                lambda ch: f"{self._hz[ch - 1]:+.9E}",
            ),
            command(
                "[SOURce:]SUM[:STATe]",
                lambda ch, text: _put_switch(self._adds, ch, text),
                lambda ch: str(int(self._adds[ch - 1])),
            ),
            command(
                "[SOURce:]SUM:FREQuency",
                lambda ch, text: _put(self._second_hz, ch, real(text, 1e-3, 1e6)),
                lambda ch: f"{self._second_hz[ch - 1]:+.9E}",
            ),
            command(
                "[SOURce:]SUM:VOLTage",
                lambda ch, text: _put(self._second_pp, ch, real(text, 1e-4, self.MOST_PP)),
                lambda ch: f"{self._second_pp[ch - 1]:+.6E}",
            ),
            command("[SOURce:]VOLTage:UNIT", _only("VPP"), lambda _: "VPP"),
            command(
                "[SOURce:]VOLTage[:AMPLitude]",
                lambda ch, text: _put(self._volts_pp, ch, real(text, 1e-4, self.MOST_PP)),
                lambda ch: f"{self._volts_pp[ch - 1]:+.6E}",
            ),
            command(
                "[SOURce:]VOLTage:OFFSet",
                lambda ch, text: _put(self._offset, ch, real(text, -5.0, 5.0)),
                lambda ch: f"{self._offset[ch - 1]:+.6E}",
            ),
        )

    def _switch(self, channel: int, text: str) -> None:
        _put_switch(self._on, channel, text)
        self.switched.append((channel, self._on[channel - 1]))


class SimulatedDigitiser(TableInstrument):
    """Two inputs behind the divider; a record is taken at `INIT` and told as integers in a block."""

    def __init__(self, generator: SimulatedGenerator, cabling: Cabling, serial: str = "FW000201") -> None:
        self._generator, self._cabling = generator, cabling
        self._random = np.random.default_rng(8)
        self.reset()
        super().__init__("D2", serial, channels=2)

    def reset(self) -> None:
        """The widest range, one second at 48 kHz, nothing taken."""
        self._range_pp = [_RANGES_PP[-1]] * 2
        self._rate_hz, self._points = 48_000.0, 48_000
        self._taken: tuple[Floats, ...] = ()

    def commands(self) -> Sequence[TableCommand]:
        """See `TableInstrument.commands`."""
        return (
            command("FORMat[:DATA]", _only("INT,32"), lambda _: "INT,32"),
            command("FORMat:BORDer", _only("SWAP"), lambda _: "SWAP"),
            command(
                "[SENSe:]VOLTage:RANGe:PTPeak", self._set_range, lambda ch: f"{self._range_pp[ch - 1]:g}"
            ),
            command("[SENSe:]SWEep:FREQuency", self._set_rate, lambda _: f"{self._rate_hz:.9E}"),
            command("[SENSe:]SWEep:POINts", self._set_points, lambda _: str(self._points)),
            command("[SENSe:]VOLTage:STEP", ask=lambda ch: f"{self._step(ch):.9E}"),
            command("INITiate[:IMMediate]", lambda _, __: self._take()),
            command("FETCh", ask=self._told),
        )

    def _step(self, channel: int) -> float:
        return self._range_pp[channel - 1] / 2.0**BITS

    def _set_range(self, channel: int, text: str) -> None:
        wanted = real(text, 0.0, _RANGES_PP[-1])
        self._range_pp[channel - 1] = next(each for each in _RANGES_PP if wanted <= each * (1.0 + 1e-9))

    def _set_rate(self, _: int, text: str) -> None:
        self._rate_hz = real(text, 1e3, 1e6)

    def _set_points(self, _: int, text: str) -> None:
        self._points = round(real(text, 16, _MOST_POINTS))

    def _take(self) -> None:
        before = round(_SETTLED_S * self._rate_hz)
        length = before + self._points
        waves = self._generator.waves(length, self._rate_hz)
        found = self._cabling.unit.respond(waves, length, self._rate_hz, self._cabling.load_ohm)
        self._taken = tuple(
            found[output][before:] / DIVIDER + self._random.normal(0.0, _OPEN_INPUT_VOLTS, self._points)
            for output in CHANNELS
        )

    def _told(self, channel: int) -> bytes:
        if not self._taken:
            raise CommandRefused(-230)
        top = 2 ** (BITS - 1)
        steps = np.clip(np.round(self._taken[channel - 1] / self._step(channel)), -top, top - 1)
        data = steps.astype("<i4").tobytes()
        return b"#%d%d" % (len(str(len(data))), len(data)) + data  # IEEE 488.2, 8.7.9


class SimulatedVoltmeter(TableInstrument):
    """A multimeter on AC volts across one output.

    `high_hz` is where it has fallen by 3 dB. `true_rms` false: it rectifies, averages, and shows 1.1107 times
    that, which is the rms of a sine and of nothing else.
    """

    def __init__(
        self,
        generator: SimulatedGenerator,
        cabling: Cabling,
        *,
        high_hz: float = 300e3,
        true_rms: bool = True,
        serial: str = "FW000301",
    ) -> None:
        self._generator, self._cabling = generator, cabling
        self._high_hz, self._true_rms = high_hz, true_rms
        super().__init__("M6" if true_rms else "M3", serial)

    def commands(self) -> Sequence[TableCommand]:
        """See `TableInstrument.commands`."""
        return (command("MEASure:VOLTage:AC", ask=lambda _: f"{self._volts():+.8E}"),)

    def _volts(self) -> float:
        length = round(2.0 * _SETTLED_S * _METER_RATE_HZ)
        waves = self._generator.waves(length, _METER_RATE_HZ)
        found = self._cabling.unit.respond(waves, length, _METER_RATE_HZ, self._cabling.load_ohm)
        seen = found[self._cabling.meter_on][length // 2 :]
        lines = np.fft.rfft(seen)
        lines[0] = 0.0  # AC alone
        lines /= 1.0 + 1j * np.fft.rfftfreq(len(seen), 1.0 / _METER_RATE_HZ) / self._high_hz
        seen = np.fft.irfft(lines, len(seen))
        if self._true_rms:
            return float(np.sqrt(np.mean(seen**2)))
        return float(np.pi / (2.0 * np.sqrt(2.0)) * np.mean(np.abs(seen)))


def _put(values: list[float], channel: int, value: float) -> None:
    values[channel - 1] = value


def _put_switch(switches: list[bool], channel: int, text: str) -> None:
    words = {"ON": True, "1": True, "OFF": False, "0": False}
    if text.upper() not in words:
        raise CommandRefused(-224)
    switches[channel - 1] = words[text.upper()]


def _only(*accepted: str) -> Tell:
    """A setting that exists in one form."""

    def tell(_: int, text: str) -> None:
        if text.upper() not in accepted:
            raise CommandRefused(-224)

    return tell
