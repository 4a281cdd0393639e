"""The simulated generator, digitiser and AC voltmeter put on the simulated bench, and the ways to them.

Over sockets on this computer, or within the process where time is stepped. Whoever opens the path meets
instruments like any others: dialects, read-back, blocks, the lease of the generator's output.
"""

from __future__ import annotations

import threading

from drivers.addresses import link_for
from drivers.audio.capture import Capture
from drivers.audio.level_meter import ScpiLevelMeter
from drivers.audio.path import During, Stretch
from drivers.audio.refusal import AudioRefused
from drivers.audio.scpi_path import ScpiPath, Timing
from drivers.audio.sound_device import Scales
from drivers.links import Link
from drivers.scpi.dialect import read_dialect
from drivers.simulated.audio_instruments import (
    DIVIDER,
    Cabling,
    SimulatedDigitiser,
    SimulatedGenerator,
    SimulatedVoltmeter,
)
from drivers.simulated.audio_path import NOT_ON, RATE_HZ
from drivers.simulated.bench import SimulatedBench
from drivers.simulated.driven_unit import DrivenUnit
from drivers.simulated.in_process import InProcessLink
from drivers.simulated.tcp_server import TcpServer
from drivers.simulated.units import SimulatedUnit

_VOLTMETER = """
name = "simulated voltmeter"
title = "the AC voltmeter of the simulated bench"
[read]
lines = ["MEAS:VOLT:AC?"]
[ac]
line = "MEAS:VOLT:AC?"
low_hz = 20
high_hz = 100_000
responding = "true rms"
of_reading = 0.002
"""
SCALES = Scales(output_volts=5.0, input_volts=5.0, divider=DIVIDER)


class _PassingTime:
    """Time that passes only where somebody waits, for a bench whose clock is stepped."""

    def __init__(self) -> None:
        self._now_s = 0.0

    def now(self) -> float:
        return self._now_s

    def pause(self, seconds: float, _: threading.Event) -> None:
        self._now_s += seconds


class AudioBench:
    """A generator before the unit's inputs and a digitiser behind its outputs."""

    def __init__(self, bench: SimulatedBench, unit: SimulatedUnit, seed: int = 1) -> None:
        self.cabling = Cabling(DrivenUnit(bench, unit, seed))
        self.generator = SimulatedGenerator()
        self.digitiser = SimulatedDigitiser(self.generator, self.cabling)
        self.voltmeter = SimulatedVoltmeter(self.generator, self.cabling)

    def meter(self, *, within: bool) -> InstrumentMeter:
        """The AC voltmeter. Raises AudioRefused, OSError."""
        return InstrumentMeter(self, within=within)

    def path(self, *, within: bool) -> InstrumentPath:
        """The path through both; `within` reaches them without sockets. Raises AudioRefused, OSError."""
        return InstrumentPath(self, within=within)


class InstrumentPath(ScpiPath):
    """See `ScpiPath`; what a person connects as load is connected here, and the servers end with it."""

    def __init__(self, on: AudioBench, *, within: bool) -> None:
        self._on_bench = on
        self._servers: list[TcpServer] = []
        if within:
            generator, digitiser = "simulated:generator", "simulated:digitiser"
            links = InProcessLink(on.generator, generator), InProcessLink(on.digitiser, digitiser)
            hand = _PassingTime()
            timing = Timing(hand.now, hand.pause, keeper=False)
            super().__init__(generator, digitiser, SCALES, RATE_HZ, links=links, timing=timing)
            return
        for instrument in (on.generator, on.digitiser):
            server = TcpServer(instrument, None, name="simulated audio instrument")
            server.start()
            self._servers.append(server)
        try:
            super().__init__(self._servers[0].address, self._servers[1].address, SCALES, RATE_HZ)
        except AudioRefused:
            self._stop_servers()
            raise

    def play(self, stretch: Stretch, during: During | None = None) -> tuple[Capture, ...]:
        """See `AudioPath.play`."""
        if not self._on_bench.cabling.unit.on_full_mains:
            raise AudioRefused(NOT_ON)
        self._on_bench.cabling.load_ohm = stretch.load_ohm
        return super().play(stretch, during)

    def close(self) -> None:
        """See `AudioPath.close`."""
        try:
            super().close()
        finally:
            self._stop_servers()

    def _stop_servers(self) -> None:
        for server in self._servers:
            server.stop()


class InstrumentMeter(ScpiLevelMeter):
    """See `ScpiLevelMeter`; it is clipped to the output that is asked for, and its server ends with it."""

    def __init__(self, on: AudioBench, *, within: bool) -> None:
        self._cabling = on.cabling
        self._server: TcpServer | None = None
        link: Link = InProcessLink(on.voltmeter, "simulated:voltmeter")
        if not within:
            self._server = TcpServer(on.voltmeter, None, name="simulated AC voltmeter")
            self._server.start()
            link = link_for(self._server.address)
        try:
            super().__init__(link.address, dialects=(read_dialect(_VOLTMETER, "simulated"),), link=link)
        except AudioRefused:
            self._stop_server()
            raise

    def read(self, output: str) -> float:
        """See `LevelMeter.read`."""
        self._cabling.meter_on = output
        return super().read(output)

    def close(self) -> None:
        """See `LevelMeter.close`."""
        super().close()
        self._stop_server()

    def _stop_server(self) -> None:
        if self._server is not None:
            self._server.stop()
