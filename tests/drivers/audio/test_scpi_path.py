"""A SCPI generator and digitiser over sockets: what plays, what is read back, when it is silent."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from importlib.resources import files

import numpy as np
import pytest
from loopback_servers import Conversation, LineServer

from app.bench.audio.desk import tone_of
from app.bench.audio.floor import measure_floor, play_order
from drivers.audio.dialect import read_instrument_dialect
from drivers.audio.lease import LeaseKeeper, OutputLease
from drivers.audio.path import Stretch
from drivers.audio.refusal import AudioRefused
from drivers.audio.scpi_path import STAYS_ON, ScpiPath, Timing
from drivers.audio.sound_device import Scales
from drivers.errors import DialectError, LinkLost
from procedures.analysis.audio.distortion import distortion
from procedures.analysis.audio.orders import Order, Signal

RATE = 48_000.0


class Wire:
    """An invented generator whose output is joined to an invented digitiser; SCPI settings in a table."""

    def __init__(self) -> None:
        self.on = False
        self.switched: list[bool] = []
        self.set: dict[str, str] = {}
        self.deaf_to = ""
        self.fails_at = ""

    def generator(self, number: int, line: bytes, conversation: Conversation) -> bytes | None:
        text = line.decode()
        if text == "*IDN?":
            return b"INVENTED,G-1,0001,1.0"
        if text.startswith("OUTP1 O"):
            self.on = text.endswith("ON")
            self.switched.append(self.on)
            return None
        if text == "OUTP1?":
            return b"1" if self.on else b"0"
        return self._setting(text)

    def digitiser(self, number: int, line: bytes, conversation: Conversation) -> bytes | None:
        text = line.decode()
        if self.fails_at and text.startswith(self.fails_at):
            conversation.finish()
            return None
        if text == "*IDN?":
            return b"INVENTED,D-2,0001,1.0"
        if text == "*OPC?":
            return b"1"
        if text == "INIT":
            self._take()
            return None
        if text.startswith("FETC"):
            data = self.taken.astype(">f4").tobytes()
            return b"#%d%d" % (len(str(len(data))), len(data)) + data
        return self._setting(text)

    def _setting(self, text: str) -> bytes | None:
        if text.endswith("?"):
            return self.set.get(text[:-1], "0").encode()
        name, _, value = text.partition(" ")
        if not self.deaf_to or self.deaf_to not in name:
            self.set[name] = value
        return None

    def _take(self) -> None:
        time = np.arange(round(float(self.set["SENS:SWE:POIN"]))) / float(self.set["SENS:SWE:FREQ"])
        rng = np.random.default_rng(5)
        self.taken = rng.normal(0.0, 1e-6, len(time))
        if self.on:
            half = float(self.set["SOUR1:VOLT"]) / 2.0
            self.taken += half * np.sin(2.0 * np.pi * float(self.set["SOUR1:FREQ"]) * time)


class Hand:
    """Time that passes only where the path waits."""

    def __init__(self) -> None:
        self.at = 0.0

    def pause(self, seconds: float, wake: threading.Event) -> None:
        self.at += seconds


@pytest.fixture
def wire() -> Wire:
    return Wire()


@pytest.fixture
def path(wire: Wire) -> Iterator[ScpiPath]:
    servers = LineServer(wire.generator), LineServer(wire.digitiser)
    hand = Hand()
    made = ScpiPath(
        servers[0].address,
        servers[1].address,
        Scales(5.0, 5.0, 2.0),
        RATE,
        timing=Timing(lambda: hand.at, hand.pause, keeper=False),
    )
    yield made
    made.close()
    for server in servers:
        server.stop()


def tone(path: ScpiPath, volts: float = 1.0, drives: tuple[str, ...] = ("left", "right")) -> Order:
    return Order(Signal.TONE, 0.2, 997.0, volts, drives=drives)


def test_a_tone_comes_back_in_volts_at_the_amplifier(path: ScpiPath, wire: Wire) -> None:
    captures = play_order(path, tone(path))

    assert [capture.channel for capture in captures] == ["left", "right"]
    found = distortion(captures[0])
    # 1 V rms out, a divider of 2: 2 V at the terminals (closed form).
    assert found.fundamental.volts == pytest.approx(2.0, rel=1e-5)
    assert found.fundamental.hz == pytest.approx(997.0, abs=1e-3)
    assert captures[0].full_scale_volts == 10.0
    assert STAYS_ON in captures[0].remarks


def test_the_output_is_on_only_between_begin_and_end(path: ScpiPath, wire: Wire) -> None:
    play_order(path, tone(path))

    assert wire.switched[0] is False
    assert wire.switched.count(True) == 1
    assert not wire.on


def test_what_goes_wrong_beside_a_tone_is_not_taken_for_done(path: ScpiPath, wire: Wire) -> None:
    """Of whatever kind: the tone ends, and nobody goes on with a figure that was never read."""

    def read() -> None:
        raise RuntimeError("the meter went away")

    order = tone(path)
    wave = order.samples(RATE)
    stretch = Stretch({"left": wave, "right": wave}, len(wave), 0, tone=tone_of(order))
    with pytest.raises(AudioRefused, match="broke down"):
        path.play(stretch, read)
    assert not wire.on


def test_silence_never_switches_the_output_on(path: ScpiPath, wire: Wire) -> None:
    captures = play_order(path, Order(Signal.SILENCE, 0.2))

    assert True not in wire.switched
    assert captures[0].remarks == ()


def test_the_floor_of_the_set_up_is_measured(path: ScpiPath) -> None:
    found = measure_floor(path, 5.0)
    assert len(found.pairs) == 2
    assert all("came back" in sentence for sentence in found.sentences())


@pytest.mark.parametrize(
    ("signal", "words"),
    [
        (Signal.TWO_TONES, "names no second tone that it adds"),
        (Signal.SWEEP, "plays sines and silence only"),
    ],
)
def test_two_tones_and_sweeps_are_refused_in_a_sentence(
    path: ScpiPath, wire: Wire, signal: Signal, words: str
) -> None:
    order = Order(signal, 0.2, 60.0, 0.5, 7000.0, 0.25, ("left", "right"))
    with pytest.raises(AudioRefused, match=words) as refused:
        play_order(path, order)
    assert str(refused.value).count(".") == 1
    assert True not in wire.switched


SUMMING = """
[second]
on = "SOUR{channel}:SUM ON"
off = "SOUR{channel}:SUM OFF"
state = "SOUR{channel}:SUM?"

[[second.setting]]
name = "second frequency"
write = ["SOUR{channel}:SUM:FREQ {hz}"]
read_back = "SOUR{channel}:SUM:FREQ?"
value = "hz"

[[second.setting]]
name = "second amplitude"
write = ["SOUR{channel}:SUM:VOLT {volts_pp}"]
read_back = "SOUR{channel}:SUM:VOLT?"
value = "volts_pp"
"""


@pytest.fixture
def alone(wire: Wire) -> Iterator[ScpiPath]:
    """The generator with a second tone of its own, and nothing that records."""
    generic = (
        files("drivers.audio").joinpath("dialects", "generic_generator.toml").read_text(encoding="utf-8")
    )
    server, hand = LineServer(wire.generator), Hand()
    made = ScpiPath(
        server.address,
        "",
        Scales(5.0, 5.0, 2.0),
        RATE,
        timing=Timing(lambda: hand.at, hand.pause, keeper=False),
        own=(read_instrument_dialect(generic + SUMMING, "own"),),
    )
    yield made
    made.close()
    server.stop()


def test_a_second_tone_is_added_where_the_description_says_how(alone: ScpiPath, wire: Wire) -> None:
    """And left out again for one tone. Closed form: 4:1, 1 V rms together: 0.970 and 0.243 V rms."""
    seen: list[dict[str, str]] = []
    two = Order(Signal.TWO_TONES, 0.2, 60.0, 1.0, 7000.0, 0.25, ("left", "right"))
    for order in (two, tone(alone)):
        wave = order.samples(RATE)
        stretch = Stretch(dict.fromkeys(order.drives, wave), len(wave), tone=tone_of(order))
        assert alone.play(stretch, lambda: seen.append(dict(wire.set))) == ()
    assert [one["SOUR1:SUM"] for one in seen] == ["ON", "OFF"]
    assert float(seen[0]["SOUR1:FREQ"]) == 60.0
    assert float(seen[0]["SOUR1:SUM:FREQ"]) == 7000.0
    assert float(seen[0]["SOUR1:VOLT"]) == pytest.approx(2.0 * 2.0**0.5 / 1.0625**0.5)
    assert float(seen[0]["SOUR1:SUM:VOLT"]) == pytest.approx(0.25 * 2.0 * 2.0**0.5 / 1.0625**0.5)
    assert not wire.on


def test_both_tones_together_stay_below_the_stated_voltage(alone: ScpiPath, wire: Wire) -> None:
    """Closed form: two equal tones of 2.6 V rms together peak at twice that; one alone at 3.68 V."""
    order = Order(Signal.TWO_TONES, 0.2, 19e3, 2.6, 20e3, 1.0, ("left", "right"))
    wave = order.samples(RATE)
    with pytest.raises(AudioRefused, match=r"5\.2 V peak are asked of the generator, which may give 5 V"):
        alone.play(Stretch(dict.fromkeys(order.drives, wave), len(wave), tone=tone_of(order)), lambda: None)
    assert True not in wire.switched


def test_without_a_recorder_recording_is_refused_and_nothing_plays(alone: ScpiPath, wire: Wire) -> None:
    with pytest.raises(AudioRefused, match="nothing that records: choose a recorder too"):
        play_order(alone, tone(alone))
    assert True not in wire.switched
    assert alone.outputs == ("left", "right")
    assert alone.name == "INVENTED,G-1,0001,1.0"


def test_one_output_cannot_drive_one_input_alone(path: ScpiPath, wire: Wire) -> None:
    with pytest.raises(AudioRefused, match="cannot drive left alone"):
        play_order(path, tone(path, drives=("left",)))
    assert True not in wire.switched


def test_more_than_the_stated_voltage_is_refused(path: ScpiPath, wire: Wire) -> None:
    with pytest.raises(AudioRefused, match="turn the amplifier"):
        play_order(path, tone(path, volts=4.0))
    assert True not in wire.switched


def test_a_setting_that_does_not_hold_is_refused_before_anything_plays(path: ScpiPath, wire: Wire) -> None:
    wire.deaf_to = "FREQ"
    with pytest.raises(AudioRefused, match="did not take the"):
        play_order(path, tone(path))
    assert True not in wire.switched


def test_an_error_while_it_plays_leaves_silence(path: ScpiPath, wire: Wire) -> None:
    wire.fails_at = "*OPC"
    with pytest.raises(AudioRefused):
        play_order(path, tone(path))
    assert True in wire.switched
    assert not wire.on


def test_a_tone_without_its_name_is_refused(path: ScpiPath) -> None:
    with pytest.raises(AudioRefused, match="sines and silence only"):
        path.play(Stretch({"left": np.ones(100), "right": np.ones(100)}, 100))


# --- the lease ------------------------------------------------------------------------------------------


def test_a_missed_renewal_switches_off_once_and_refuses_to_go_on() -> None:
    offs: list[int] = []
    lease = OutputLease(lambda: offs.append(1), 2.0)
    lease.begin(10.0)
    lease.renew(11.0)
    assert lease.advance(12.9) == 13.0
    assert offs == []

    assert lease.advance(13.0) is None
    assert offs == [1]
    with pytest.raises(AudioRefused, match="lease"):
        lease.renew(13.1)


def test_an_output_that_cannot_be_switched_off_is_tried_again() -> None:
    tries: list[int] = []

    def off() -> None:
        tries.append(1)
        if len(tries) < 3:
            raise LinkLost("TCPIP::192.0.2.1::5025::SOCKET", "the connection broke")

    lease = OutputLease(off, 2.0)
    lease.begin(0.0)
    due = lease.advance(2.0)
    while due is not None:
        due = lease.advance(due)
    assert len(tries) == 3


def test_a_lease_that_ended_is_never_missed() -> None:
    lease = OutputLease(lambda: pytest.fail("nothing was on"), 2.0)
    lease.begin(0.0)
    lease.end()
    assert lease.advance(100.0) is None


# --- dialects -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("role = 'meter'", "role must be"),
        ("role = ", "own.toml"),
        (
            "role = 'generator'\nname = 'x'\nsetting = [{ name = 'a', read_back = '{volume}?' }]",
            "is not one of",
        ),
    ],
)
def test_a_broken_dialect_is_refused_with_its_place(text: str, words: str) -> None:
    with pytest.raises(DialectError, match=words):
        read_instrument_dialect(text, "own.toml")


def test_the_keeper_switches_off_by_itself() -> None:
    off = threading.Event()
    lease = OutputLease(off.set, 0.0)
    keeper = LeaseKeeper(lease)
    try:
        lease.begin(0.0)
        keeper.wake()
        assert off.wait(5.0)
    finally:
        keeper.stop()
