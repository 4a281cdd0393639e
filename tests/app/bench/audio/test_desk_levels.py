"""The audio desk has a meter read what is played, or what a person plays, and says why when it cannot."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from app.bench.audio.desk import AudioDesk
from app.bench.audio.devices import meter_of, told_band
from app.settings import AudioChoice
from drivers.audio.capture import Capture
from drivers.audio.level_meter import AcBand
from drivers.audio.path import During, Stretch
from drivers.audio.refusal import AudioRefused
from procedures.analysis.audio.orders import Order, Signal
from procedures.events import Action, AudioMeasured, DriveChanged, Request, RequestClosed
from procedures.steps.signal_level import READ_BY_METER


class FakePath:
    """Plays into nothing and remembers."""

    name, rate_hz, outputs, any_wave = "invented path", 48_000.0, ("left", "right"), True

    def __init__(self) -> None:
        self.playing = False

    def play(self, stretch: Stretch, during: During | None = None) -> tuple[Capture, ...]:
        assert during is not None
        self.playing = bool(stretch.waves)
        try:
            during()
        finally:
            self.playing = False
        return ()

    def silence(self) -> None:
        self.playing = False

    def close(self) -> None:
        self.silence()


class FakeMeter:
    """Shows a level, and whether something played when it was read."""

    name = "INVENTED,M-3"

    def __init__(self, path: FakePath, band: AcBand) -> None:
        self.path, self.band = path, band
        self.read_at: list[tuple[str, bool]] = []
        self.refusal = ""
        self.closed = False

    def read(self, output: str) -> float:
        self.read_at.append((output, self.path.playing))
        if self.refusal:
            raise AudioRefused(self.refusal)
        return 2.5

    def close(self) -> None:
        self.closed = True


class Bench:
    """A desk with its inbox."""

    def __init__(self, band: AcBand | None = None, *, metered: bool = True) -> None:
        self.path = FakePath()
        self.meter = FakeMeter(self.path, band or AcBand(20.0, 100e3, "true rms", 0.002, "the manual"))
        self.posted: list[Any] = []
        meter = (lambda: self.meter) if metered else None
        self.desk = AudioDesk(lambda: self.path, self, at_once=True, open_meter=meter)

    def post(self, item: Any) -> None:
        self.posted.append(item)

    def session_s(self) -> float:
        return 1.0

    def asked(self, volts: float) -> list[Any]:
        drives = ("left", "right") if volts else ()
        order = Order(Signal.TONE, 8.0, 1000.0, volts, drives=drives, load_ohm=8.0)
        parameters = order.parameters() | {"measure": "level", "read_by": READ_BY_METER, "at": "left"}
        self.desk.carry_out(Request(0.0, "request 1", Action.PLAY, "outputs", parameters, 50.0))
        return self.posted


def test_the_meter_is_read_while_the_tone_stands_and_its_band_goes_along() -> None:
    bench = Bench()
    begun, over, measured, closed = bench.asked(0.1)
    assert (begun, over) == (DriveChanged(1.0, True), DriveChanged(1.0, False))
    assert bench.meter.read_at == [("left", True)]
    assert isinstance(measured, AudioMeasured)
    assert measured.figures == {
        "ac_volts": 2.5,
        "ac_low_hz": 20.0,
        "ac_high_hz": 100e3,
        "ac_true_rms": 1.0,
        "ac_of_reading": 0.002,
    }
    assert "true RMS, 20 to 100000 Hz (the manual); 100 mV in" in measured.conditions
    assert closed == RequestClosed(1.0, "request 1", True)
    bench.desk.close()
    assert bench.meter.closed


def test_driven_by_hand_nothing_is_played() -> None:
    bench = Bench()
    measured, _ = bench.asked(0.0)
    assert bench.meter.read_at == [("left", False)]
    assert "driven by hand" in measured.conditions


def test_what_nobody_declared_is_missing_and_not_zero() -> None:
    assert Bench(AcBand()).asked(0.0)[0].figures == {"ac_volts": 2.5}


def test_a_refusal_of_the_meter_ends_in_silence_and_its_sentence() -> None:
    bench = Bench()
    bench.meter.refusal = "INVENTED,M-3 is over its range; check what it is clipped to."
    *_, closed = bench.asked(0.1)
    assert (closed.done, closed.detail) == (False, bench.meter.refusal)
    assert not bench.path.playing


def test_a_bench_without_a_meter_says_so() -> None:
    closed = Bench(metered=False).asked(0.0)[-1]
    assert "no AC voltmeter" in closed.detail


# --- the choice -------------------------------------------------------------------------------------------


def test_a_meter_that_is_polled_is_refused() -> None:
    here = "TCPIP::192.0.2.9::5025::SOCKET"
    with pytest.raises(AudioRefused, match="is polled for DC volts on this bench"):
        meter_of(AudioChoice(level_meter=here), polled=[here])


def test_without_a_choice_the_way_to_it_is_said() -> None:
    with pytest.raises(AudioRefused, match="give its address under the devices for measuring"):
        meter_of(AudioChoice())


def test_what_was_told_is_used_and_nothing_told_leaves_the_dialect() -> None:
    assert told_band(AudioChoice()) is None
    told = told_band(AudioChoice(level_low_hz=40.0, level_high_hz=400.0, level_responding="average"))
    assert told == AcBand(40.0, 400.0, "average", said_by="as was told")


def test_a_run_on_simulated_instruments_reads_the_same_as_without(tmp_path: Path) -> None:
    """Whole procedures in stepped time, the meter inside the process and behind its own SCPI."""
    from app.bench.opening import SimulatedChoice
    from app.practice_run import PracticePlan, open_bench, run_stepped
    from app.settings import Settings
    from procedures.library import shipped_procedures

    shipped = shipped_procedures()["output-level"]
    level = next(line for line in shipped.step if line.id == "level")
    played = level.model_copy(update={"by_hand": False, "at_hz": (10.0, 1000.0)})
    lines = tuple(played if line.id == "level" else line for line in shipped.step if "drive" not in line.id)
    found = []
    for instruments in (False, True):
        choice = SimulatedChoice("healthy", instruments=instruments)
        procedure = shipped.model_copy(update={"step": lines})
        bench = open_bench(PracticePlan(choice, procedure, tmp_path, Settings(), stepped=True))
        try:
            run_stepped(bench, 1)
            found.append({kept.name: kept for kept in bench.view.recorded})
        finally:
            bench.leave()
    for values in found:
        assert values["level at 10 Hz, left"].value is None
        assert (
            "outside the meter's declared bandwidth, 20 to 100000 Hz" in values["level at 10 Hz, left"].reason
        )
    one, two = (values["power at 1000 Hz, right"].value for values in found)
    assert one == pytest.approx(two, rel=1e-4)
    assert found[0]["level at 1000 Hz, left"].conditions["responding"] == "true RMS"


def test_what_was_silenced_while_the_devices_were_opened_is_not_played() -> None:
    """Opening takes seconds; a stop that comes meanwhile is no less a stop. The next request plays again."""
    bench = Bench()
    slow = [bench.desk.silence]

    def opened() -> FakePath:
        for stop in slow:
            stop()
        slow.clear()
        return bench.path

    bench.desk = AudioDesk(opened, bench, at_once=True, open_meter=lambda: bench.meter)
    slow.append(bench.desk.silence)

    (refused,) = bench.asked(0.1)
    assert refused.done is False
    assert "was silenced" in refused.detail
    assert bench.meter.read_at == []

    assert DriveChanged(1.0, True) in bench.asked(0.1)
