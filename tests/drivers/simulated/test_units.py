"""Unit files: every shipped one is what its title says; every problem in a file is one sentence."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from benchmarks.stiff_reference import PlainUnit

from drivers.simulated.physics import Traces, simulate
from drivers.simulated.units import UnitRefused, load_unit, parsed, shipped_units

GOOD = """
format = 1
maker = "Kestrow"
model = "K-1"
serial = "1"
title = "A title"
story = "A story"
target_volts = 0.0135
"""


def warm_up(name: str, duration_s: float = 2400.0) -> Traces:
    units = load_unit(name).parameters.changed(mains_sd=0.0, draught_lid_on=0.0)
    return simulate(units, duration_s, every_s=5.0, dt_s=0.25)


def millivolts(traces: Traces, at_s: float) -> np.ndarray:
    row = round(at_s / 5.0)
    return traces.reading_volts[row, 0] * 1e3


@pytest.mark.parametrize("name", shipped_units())
def test_each_unit_agrees_with_a_stiff_solver(name: str) -> None:
    units = load_unit(name).parameters.changed(
        mains_sd=0.0,
        draught_lid_on=0.0,
        draught_lid_off=0.0,
        joint_volts=0.0,
        wiper_step=0.0,
        wiper_crackle=0.0,
    )
    traces = simulate(units, 300.0)
    moments = np.concatenate([np.arange(1, 12), np.arange(15, 301, 15)])
    truth = PlainUnit(units).solve(moments.astype(float))
    assert np.abs(traces.amperes[moments, 0] / truth - 1.0).max() < 0.002


def test_the_demonstration_unit_is_well_compensated_and_off_target_on_both_sides() -> None:
    unit, traces = load_unit("healthy"), warm_up("healthy")
    rest = millivolts(traces, 1800.0)
    assert unit.target_volts == 0.0135
    assert unit.parameters.measured_ohm[0, 0] == 2 * unit.parameters.emitter_ohm[0, 0] == 0.54
    assert rest[0] < 0.9 * 13.5
    assert rest[1] > 1.1 * 13.5
    np.testing.assert_allclose(millivolts(traces, 300.0), rest, rtol=0.03)


def test_the_right_unit_is_inside_the_window_at_rest() -> None:
    rest = millivolts(warm_up("right_as_found"), 1800.0)
    assert np.all(np.abs(rest / 13.5 - 1.0) < 0.03)


def test_the_under_compensated_unit_still_rises_after_half_an_hour() -> None:
    traces = warm_up("under_compensated")
    assert np.all(millivolts(traces, 1800.0) > 1.3 * millivolts(traces, 60.0))
    assert np.all(millivolts(traces, 2400.0) > 1.02 * millivolts(traces, 1800.0))


def test_the_over_compensated_unit_peaks_early_and_falls() -> None:
    traces = warm_up("over_compensated")
    peak_s = traces.time_s[traces.reading_volts[:, 0].argmax(axis=0)]
    assert np.all((peak_s > 30.0) & (peak_s < 300.0))
    assert np.all(millivolts(traces, 1800.0) < 0.85 * traces.reading_volts[:, 0].max(axis=0) * 1e3)


def test_the_over_biased_unit_is_hot_on_one_side_and_stays_so() -> None:
    traces = warm_up("over_biased")
    assert millivolts(traces, 10.0)[0] > 10 * 13.5
    assert millivolts(traces, 2400.0)[0] > 10 * 13.5
    assert millivolts(traces, 10.0)[1] < 1.2 * 13.5
    assert 45.0 < traces.sink_c[-1, 0] < 90.0


def test_the_runaway_starts_below_target_and_opens_the_fuse() -> None:
    traces = warm_up("runaway")
    y = traces.reading_volts[:, 0, 0]
    assert y[2] < 0.011
    dead_s = traces.time_s[np.argmax(y == 0.0)]
    assert 600.0 < dead_s < 1500.0
    assert y.max() > 8 * 0.011
    before = y[: int(dead_s / 5.0)]
    assert np.all(np.diff(before) > 0.0)


def test_the_joint_steps_by_about_a_millivolt_on_one_side_only() -> None:
    traces = warm_up("intermittent_joint")
    steps = np.abs(np.diff(traces.reading_volts[120:, 0], axis=0)).max(axis=0) * 1e3
    assert 0.5 < steps[0] < 2.5
    assert steps[1] < 0.1


def test_the_scratchy_wiper_crackles_on_one_side_only() -> None:
    traces = warm_up("scratchy_trimmer")
    scatter = np.diff(traces.reading_volts[120:, 0], axis=0).std(axis=0) * 1e3
    assert scatter[1] > 0.1
    assert scatter[0] < 0.02


def test_one_trimmer_of_the_reversed_unit_lowers_when_turned_up() -> None:
    units = load_unit("reversed_trimmer").parameters
    up = simulate(units.changed(wiper=units.wiper + 0.05), 1.0)
    as_found = simulate(units, 1.0)
    change = (up.amperes - as_found.amperes)[0, 0]
    assert change[0] > 0.0 > change[1]


def test_the_exhausted_trimmer_ends_below_the_window_and_the_other_does_not() -> None:
    units = load_unit("exhausted_trimmer").parameters.changed(wiper=1.0)
    rest = simulate(units, 1800.0, every_s=1800.0, dt_s=0.25).reading_volts[-1, 0] * 1e3
    assert rest[1] < 0.9 * 13.5
    assert rest[0] > 1.1 * 13.5


def test_the_pair_that_does_not_conduct_heats_nothing() -> None:
    """What the probes find at it and what it does to the heatsink come from one entry."""
    unit = load_unit("pair_not_conducting")
    assert unit.around.share("left", 2) == 0.0
    np.testing.assert_array_equal(unit.parameters.dead_pairs, [[1.0, 0.0]])
    np.testing.assert_array_equal(unit.parameters.conducting_pairs, [[3.0, 4.0]])


def test_the_draughty_unit_breathes_with_its_lid_off() -> None:
    units = load_unit("draughty").parameters
    scatter = []
    for lid_on in (True, False):
        from drivers.simulated.physics import LidMoved

        traces = simulate(units, 2400.0, actions=[LidMoved(0.0, lid_on)], every_s=5.0, dt_s=0.25, seed=3)
        y = traces.reading_volts[240:, 0, 0] * 1e3
        trend = np.polyval(np.polyfit(np.arange(y.size), y, 3), np.arange(y.size))
        scatter.append((y - trend).std())
    assert scatter[1] > 2.0 * scatter[0]


def test_a_unit_file_of_ones_own_is_loaded_by_its_path(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(GOOD + "[channels.right]\nwiper = 0.25\nbacklash_degrees = 0\n", encoding="utf-8")
    unit = load_unit(file)
    assert (unit.name, unit.maker) == ("mine", "Kestrow")
    np.testing.assert_array_equal(unit.parameters.wiper, [[0.5, 0.25]])
    assert [knob.backlash_degrees for knob in unit.knobs] == [2.0, 0.0]


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ("[unit", "not a TOML file"),
        ("[unit]\nrail_vols = 3", "'rail_vols' in [unit] is not known; did you mean 'rail_volts'?"),
        ("[unit]\nrail_volts = 'x'", "'rail_volts' in [unit] must be a number, not 'x'"),
        ("[unit]\nrail_volts = nan", "'rail_volts' in [unit] must be a number, not nan"),
        ("[unit]\nrail_volts = -1", "'rail_volts' in [unit] is -1; it must be above zero"),
        ("[unit]\nmains_sd = -1", "'mains_sd' in [unit] is -1; it must be zero or more"),
        ("[unit]\nambient_c = 200", "it must be from -20 to 60 degrees Celsius"),
        ("[channels.left]\nwiper = 1.5", "'wiper' in [channels.left] is 1.5; it must be from 0 to 1"),
        ("[channels]\ntrimmer_reversed = 'yes'", "must be true or false, not 'yes'"),
        ("[channels]\nleft = 3", "'channels.left' must be a table"),
        ("channels = 3", "'channels' must be a table"),
        ("[speakers]\nohm = 8", "'speakers' is not known"),
        ("[channels]\ndead_pairs = 1", "'dead_pairs' in [channels] is not known"),
        ("[unit]\npairs = 2\n[around.pairs]\nleft = [1, 1, 0]", "tells of 3 pairs; [unit] has pairs = 2"),
        ("[unit]\npairs = 2\n[around.pairs]\nleft = [0, 1]", "the first pair is the one that is measured"),
    ],
)
def test_a_wrong_entry_is_named_in_a_sentence(wrong: str, sentence: str) -> None:
    with pytest.raises(UnitRefused) as refused:
        parsed(GOOD + wrong, "mine")
    assert sentence in str(refused.value)
    assert str(refused.value).startswith("mine: ")
    assert len(refused.value.problems) == 1


def test_all_problems_are_told_at_once() -> None:
    with pytest.raises(UnitRefused) as refused:
        parsed("format = 2\n[unit]\nrail_volts = 0\nno = 1", "mine")
    # maker, model, serial, title, story, format, target, unknown key, rail
    assert len(refused.value.problems) == 9


def test_an_absent_file_says_which_units_there_are(tmp_path: Path) -> None:
    with pytest.raises(UnitRefused, match="healthy"):
        load_unit(tmp_path / "none.toml")
    with pytest.raises(UnitRefused, match="cannot be read"):
        load_unit("no such unit")


def test_a_file_that_is_not_text_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(UnitRefused, match="not UTF-8"):
        load_unit(file)


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ("[unit]\nrail_volts = " + "1" * 5000, "more digits than can be read"),
        ("[unit]\nrail_volts = " + "1" * 400, "must be a number"),
        ("[channels]\ntrimmer_reversed = [1]", "must be true or false"),
        ('[audio]\nhum_volts = { "\u00b2" = 1.0 }', "must name volts"),
        ("[around.values]\na = " + "1" * 400, "must be a number or a list of numbers"),
    ],
)
def test_no_entry_breaks_the_reader(entry: str, words: str) -> None:
    """Numbers of any length, and lists where none belong."""
    head = "".join(f'{key} = "x"\n' for key in ("maker", "model", "serial", "title", "story"))
    with pytest.raises(UnitRefused, match=words):
        parsed(f"format = 1\ntarget_volts = 0.01\n{head}{entry}\n", "own")
