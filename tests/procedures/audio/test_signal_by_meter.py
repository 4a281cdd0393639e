"""Gain, response and power by AC volts: what a meter can say, what it cannot, and what it never confirms."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import pytest

from procedures.checking import FileProblems
from procedures.events import Outcome, RecordedValue, Verdict
from procedures.leads import Leads
from procedures.procedure import load_procedure
from procedures.ratings import PowerRating, Ratings
from procedures.steps.signal_level import READ_BY_METER
from procedures.steps.signal_plans import plan
from procedures.steps.signal_setting import Ask, Play, Setting
from procedures.steps.sitting import Sitting

RATED = Ratings(power=(PowerRating(watts=50.0, load_ohm=8.0),), response_db=0.5, gain_db=28.0)
BAND = {"ac_low_hz": 20.0, "ac_high_hz": 100e3, "ac_of_reading": 0.002}
GAIN = 10.0 ** (28.0 / 20.0)


def amplifier(
    band: Mapping[str, float] = BAND, clips_at: float = math.inf, corner_hz: float = math.inf
) -> Callable[[Play], dict[str, float]]:
    """What a meter shows behind a gain of 28 dB that stops at a voltage or falls from a corner on."""

    def answer(wish: Play) -> dict[str, float]:
        level = GAIN * wish.order.volts / math.hypot(1.0, wish.order.hz / corner_hz)
        return {"ac_volts": min(level, clips_at)} | dict(band)

    return answer


def measured(
    measure: str, answering: Callable[[Play], dict[str, float]]
) -> tuple[str, dict[str, Verdict], dict[str, RecordedValue], list[Any]]:
    """Outcome word, verdicts and values by name, and every wish."""
    sitting = Sitting(channels={}, watcher=None, leads=Leads(()))  # type: ignore[arg-type]
    setting = Setting("A", ("left",), 8.0, True, 8.0, 0.01, 5.0, RATED, by_meter=True)
    going, wishes, result = plan(measure, setting, sitting), [], None
    try:
        while True:
            wish = going.send(result)
            wishes.append(wish)
            result = {wish.at: answering(wish)} if isinstance(wish, Play) else None
    except StopIteration as over:
        word: str = over.value[0]
    verdicts = {verdict.subject: verdict for verdict in sitting.verdicts}
    return word, verdicts, {kept.name: kept for kept in sitting.recorded}, wishes


def test_every_tone_is_read_by_the_meter_and_only_clipping_it_on_is_asked() -> None:
    _, _, _, wishes = measured("response", amplifier())
    assert [type(wish) for wish in wishes].count(Ask) == 1
    plays = [wish for wish in wishes if isinstance(wish, Play)]
    assert {(play.read_by, play.at) for play in plays} == {(READ_BY_METER, "left")}
    assert len({play.order.hz for play in plays}) == 31  # third octaves from 20 Hz to 20 kHz


def test_a_response_within_its_rating_passes_and_one_that_falls_fails() -> None:
    word, verdicts, recorded, _ = measured("response", amplifier(corner_hz=200e3))
    assert word == "passed"
    # Closed form: the third octave of 19.953 kHz against a corner at 200 kHz is -0.0430 dB.
    assert recorded["response at 19953 Hz, left"].value == pytest.approx(-0.0430, abs=1e-3)
    word, verdicts, _, _ = measured("response", amplifier(corner_hz=30e3))
    assert word == "failed"
    assert "by AC volts" in verdicts["response 20 to 20000 Hz, left"].reason


def test_a_meter_with_a_narrow_band_confirms_nothing_beyond_it() -> None:
    """Only what it covers is played; the rest of the rating stays open."""
    narrow = {"ac_low_hz": 40.0, "ac_high_hz": 1100.0}
    word, verdicts, _, wishes = measured("response", amplifier(narrow))
    assert word == "not measured"
    assert "the meter covers 50.12 to 1000 Hz alone" in verdicts["response 20 to 20000 Hz, left"].reason
    assert max(wish.order.hz for wish in wishes if isinstance(wish, Play)) == pytest.approx(1000.0)


def test_an_undeclared_bandwidth_judges_nothing() -> None:
    word, verdicts, recorded, _ = measured("response", amplifier({}, corner_hz=2000.0))
    assert word == "not measured"
    assert "not declared: it may read low" in verdicts["response 20 to 20000 Hz, left"].reason
    assert recorded["response at 10000 Hz, left"].value is not None


def test_power_ends_where_the_output_no_longer_follows() -> None:
    """Closed form: held at 16 V the level is 1 % short at 16 V / 0.99 wanted: 32 W into 8 ohm."""
    word, verdicts, recorded, _ = measured("power", amplifier(clips_at=16.0))
    name = "power into 8 Ω by AC volts, left"
    assert word == "failed"
    assert verdicts[name].outcome is Outcome.FAILED
    assert recorded[name].value == pytest.approx(32.0, rel=0.01)


def test_power_at_the_rating_is_kept_and_not_confirmed() -> None:
    word, verdicts, recorded, _ = measured("power", amplifier(clips_at=21.0))
    assert (word, verdicts) == ("recorded", {})
    assert recorded["power into 8 Ω by AC volts, left"].value == pytest.approx(21.0**2 / 8.0, rel=0.01)


def test_the_ramp_ends_at_its_highest_level() -> None:
    _, _, recorded, wishes = measured("power", amplifier())
    # Closed form: 3 dB above 20 V are 28.25 V, 99.8 W into 8 ohm.
    assert recorded["power into 8 Ω by AC volts, left"].value == pytest.approx(99.8, rel=0.001)
    highest = max(wish.order.volts for wish in wishes if isinstance(wish, Play))
    assert highest == pytest.approx(10 ** (3 / 20) * 20.0 / GAIN, rel=1e-3)


def test_no_figure_of_the_meter_is_not_measured() -> None:
    for measure in ("gain", "response", "power"):
        word, verdicts, _, _ = measured(measure, lambda _: {})
        assert word == "not measured"
        assert {verdict.outcome for verdict in verdicts.values()} == {Outcome.NOT_MEASURED}


def test_a_file_that_asks_a_meter_for_distortion_is_refused() -> None:
    text = """
    format = 1
    id = "own"
    title = "Own"
    purpose = "Own."
    channels = []
    [[step]]
    id = "thd"
    kind = "signal"
    title = "Distortion"
    measure = "distortion"
    read_by = "ac volts"
    """
    with pytest.raises(FileProblems, match="distortion needs a recorder; AC volts do for gain, level"):
        load_procedure(text, "own.toml")
