"""The simulated generator and digitiser: what plays reaches the unit, and what stands there is recorded."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pytest

from app.bench.audio.floor import play_order
from drivers.audio.path import Stretch, Tone
from drivers.audio.refusal import AudioRefused
from drivers.audio.scpi_path import STAYS_ON
from drivers.clock import SteppedClock
from drivers.links.block import whole_block
from drivers.simulated.audio_bench import AudioBench, InstrumentPath
from drivers.simulated.audio_instruments import SimulatedVoltmeter
from drivers.simulated.bench import Mains, SimulatedBench
from drivers.simulated.units import load_unit
from procedures.analysis.audio.distortion import distortion
from procedures.analysis.audio.level import offset_volts
from procedures.analysis.audio.orders import Order, Signal


@pytest.fixture
def bench() -> SimulatedBench:
    clock = SteppedClock()
    made = SimulatedBench(load_unit("healthy"), clock, 3)
    made.switch_mains(Mains.FULL)
    clock.advance_to(20.0)
    return made


@pytest.fixture
def on(bench: SimulatedBench) -> AudioBench:
    return AudioBench(bench, bench.unit)


@pytest.fixture
def path(on: AudioBench) -> Iterator[InstrumentPath]:
    made = on.path(within=True)
    yield made
    made.close()


def tone(volts: float = 0.1, drives: tuple[str, ...] = ("left", "right"), seconds: float = 0.3) -> Order:
    return Order(Signal.TONE, seconds, 997.0, volts, drives=drives, load_ohm=8.0)


def expected_volts(bench: SimulatedBench, volts: float) -> float:
    """Closed form: the gain into the load over the output's own resistance; the corners cost below 1e-4."""
    stage = bench.unit.audio[0]
    return volts * stage.gain * 8.0 / (8.0 + stage.output_ohm + stage.relay_ohm)


def test_a_tone_arrives_with_the_units_gain_and_keeps_its_frequency(
    bench: SimulatedBench, path: InstrumentPath
) -> None:
    left, right = play_order(path, tone())
    found = distortion(left).fundamental
    assert found.volts == pytest.approx(expected_volts(bench, 0.1), rel=2e-4)
    assert found.hz == pytest.approx(997.0, abs=1e-3)
    assert (left.channel, right.channel, left.bits, left.full_scale_volts) == ("left", "right", 24, 100.0)
    assert STAYS_ON in left.remarks


def test_each_input_of_the_unit_is_driven_alone(path: InstrumentPath) -> None:
    left, right = play_order(path, tone(drives=("right",)))
    assert distortion(right).fundamental.volts > 1.0
    assert np.std(left.volts) < 1e-3


def test_silence_shows_the_units_own_offset_and_switches_nothing_on(
    bench: SimulatedBench, on: AudioBench, path: InstrumentPath
) -> None:
    left, _ = play_order(path, Order(Signal.SILENCE, 0.3, load_ohm=8.0))
    assert offset_volts(left) == pytest.approx(bench.truth().offset_volts[0], abs=2e-5)
    assert not any(state for _, state in on.generator.switched)


def test_the_output_is_off_behind_every_stretch(on: AudioBench, path: InstrumentPath) -> None:
    play_order(path, tone())
    assert [state for _, state in on.generator.switched].count(True) == 2
    assert not on.generator.on


def test_an_overdriven_unit_is_cut_where_its_rails_are(bench: SimulatedBench, path: InstrumentPath) -> None:
    left, _ = play_order(path, tone(1.5))
    assert np.max(left.volts) == pytest.approx(bench.unit.audio[0].clip_volts(8.0) * 8.0 / 8.04, rel=0.02)


@pytest.mark.parametrize(
    ("order", "sentence"),
    [
        (tone(4.0), "turn the amplifier's volume up"),
        (Order(Signal.SWEEP, 1.0, volts=0.1, drives=("left",)), "sines and silence only"),
        (Order(Signal.SILENCE, 20.0), "more than the digitiser holds"),
    ],
)
def test_what_the_instruments_cannot_do_is_a_sentence(
    on: AudioBench, path: InstrumentPath, order: Order, sentence: str
) -> None:
    with pytest.raises(AudioRefused, match=sentence):
        play_order(path, order)
    assert not on.generator.on


def test_without_mains_nothing_is_measured(bench: SimulatedBench, path: InstrumentPath) -> None:
    bench.switch_mains(Mains.OFF)
    with pytest.raises(AudioRefused, match="not on full mains"):
        play_order(path, tone())


def test_a_missed_renewal_switches_the_output_off(on: AudioBench, path: InstrumentPath) -> None:
    on.generator.handle(b"OUTP1 ON")
    path.lease.begin(0.0)
    assert path.lease.advance(100.0) is None
    assert not on.generator.on
    with pytest.raises(AudioRefused, match="lease"):
        path.lease.renew(100.1)


def test_over_sockets_the_same_is_played_and_the_servers_end(on: AudioBench, bench: SimulatedBench) -> None:
    path = on.path(within=False)
    try:
        left, _ = play_order(path, tone(seconds=0.1))
    finally:
        path.close()
    assert distortion(left).fundamental.volts == pytest.approx(expected_volts(bench, 0.1), rel=2e-4)


def test_beside_a_tone_a_meter_is_read_and_the_output_is_off_behind_it(
    bench: SimulatedBench, on: AudioBench, path: InstrumentPath
) -> None:
    meter, read = on.meter(within=True), []
    wave = tone().samples(path.rate_hz)
    stretch = Stretch({"left": wave}, len(wave), 1000, 8.0, Tone(997.0, 0.1))
    assert path.play(stretch, lambda: read.append((on.generator.on, meter.read("left")))) == ()
    assert read[0][0] is True
    assert read[0][1] == pytest.approx(expected_volts(bench, 0.1), rel=3e-4)
    assert not on.generator.on
    meter.close()


def test_a_refusal_beside_a_tone_switches_the_output_off(on: AudioBench, path: InstrumentPath) -> None:
    def refuse() -> None:
        raise AudioRefused("over its range")

    wave = tone().samples(path.rate_hz)
    with pytest.raises(AudioRefused, match="over its range"):
        path.play(Stretch({"left": wave}, len(wave), 1000, 8.0, Tone(997.0, 0.1)), refuse)
    assert not on.generator.on


# --- the instruments by themselves ------------------------------------------------------------------------


def asked(instrument: object, line: str) -> str:
    answer = instrument.handle(line.encode())  # type: ignore[attr-defined]
    return "" if answer is None else answer.decode("latin-1")


def test_a_wrong_line_is_kept_as_an_error_and_changes_nothing(on: AudioBench) -> None:
    assert asked(on.generator, "SOUR1:FREQ 1200;FREQ?") == "+1.200000000E+03"
    for line, code in (("SOUR1:FREQ loud", -104), ("SOUR1:VOLT 99", -222), ("OUTP3 ON", -113)):
        assert asked(on.generator, line) == ""
        assert asked(on.generator, "SYST:ERR?").startswith(f"{code},")
    assert asked(on.generator, "SYST:ERR?").startswith("+0,")
    assert asked(on.generator, "SOUR1:FREQ?") == "+1.200000000E+03"


def test_nothing_taken_is_nothing_told(on: AudioBench) -> None:
    assert asked(on.digitiser, "FETC1?") == ""
    assert asked(on.digitiser, "SYST:ERR?").startswith("-230,")


def test_a_record_comes_as_a_definite_length_block(on: AudioBench) -> None:
    asked(on.digitiser, "SENS:SWE:POIN 32;:INIT")
    block = on.digitiser.handle(b"FETC2?")
    assert block is not None
    assert len(whole_block(block, 1000)) == 32 * 4


@pytest.mark.parametrize("true_rms", [True, False])
def test_the_voltmeter_reads_the_rms_of_a_sine(bench: SimulatedBench, on: AudioBench, true_rms: bool) -> None:
    on.cabling.load_ohm = 8.0
    meter = SimulatedVoltmeter(on.generator, on.cabling, true_rms=true_rms)
    asked(on.generator, "SOUR1:VOLT 0.4;:OUTP1 ON")
    shown = float(asked(meter, "MEAS:VOLT:AC?"))
    assert shown == pytest.approx(expected_volts(bench, 0.2 / math.sqrt(2.0)), rel=3e-4)


def test_the_voltmeter_falls_by_three_decibels_at_its_corner(bench: SimulatedBench, on: AudioBench) -> None:
    on.cabling.load_ohm = 8.0
    narrow = SimulatedVoltmeter(on.generator, on.cabling, high_hz=5000.0)
    wide = SimulatedVoltmeter(on.generator, on.cabling)
    asked(on.generator, "SOUR1:FREQ 5000;VOLT 0.4;:OUTP1 ON")
    ratio = float(asked(narrow, "MEAS:VOLT:AC?")) / float(asked(wide, "MEAS:VOLT:AC?"))
    assert ratio == pytest.approx(math.sqrt(0.5), rel=1e-3)
