"""The batched amplifier model: accuracy, laws, actions."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks.stiff_reference import PlainUnit

from drivers.simulated.electrical import amperes_of, drive
from drivers.simulated.parameters import parameters, stacked
from drivers.simulated.physics import Amplifiers, LidMoved, MainsSet, WiperMoved, simulate

VARIETY = parameters(
    4,
    wiper=[[0.5, 0.47], [0.95, 0.3], [0.2, 0.6], [0.5, 0.5]],
    sensor_sink_fraction=[[1.02, 1.0], [1.0, 0.9], [0.35, 0.5], [0.8, 1.3]],
    sensor_s=[[40.0, 35.0], [60.0, 20.0], [240.0, 200.0], [90.0, 30.0]],
    pairs=[1.0, 1.0, 2.0, 3.0],
    dead_pairs=[[0, 0], [0, 0], [0, 1], [1, 0]],
    sink_j_per_k=[480.0, 100.0, 500.0, 2000.0],
    trimmer_reversed=[[0, 1], [0, 0], [1, 0], [0, 0]],
    ambient_rise_k=[0.0, 1.0, -1.0, 3.0],
    fuse_amperes=1e6,
)


@pytest.mark.parametrize("index", range(4))
def test_agrees_with_a_stiff_solver_within_two_tenths_of_a_per_cent(index: int) -> None:
    traces = simulate(VARIETY, 300.0)
    moments = np.concatenate([np.arange(1, 20), np.arange(20, 301, 10)])

    truth = PlainUnit(VARIETY, index).solve(moments.astype(float))

    assert np.abs(traces.amperes[moments, index] / truth - 1.0).max() < 0.002


def test_a_unit_behaves_in_a_batch_as_it_does_alone() -> None:
    batch = simulate(VARIETY, 60.0)
    for index in range(4):
        alone = simulate(VARIETY.pick(index), 60.0)
        np.testing.assert_allclose(batch.amperes[:, index], alone.amperes[:, 0], rtol=1e-12)


def test_drive_and_amperes_are_inverse_over_nine_decades() -> None:
    amperes = np.logspace(-6, 3, 50)
    z = drive(amperes, np.float64(0.27), np.float64(0.0257))
    np.testing.assert_allclose(amperes_of(z, np.float64(0.27), np.float64(0.0257)), amperes, rtol=1e-12)


def test_trim_and_temperature_add_in_the_drive_domain() -> None:
    model = Amplifiers(parameters(1))
    model.advance(30.0)
    model.set_wiper(model.wiper_for_amperes(0.0314))
    np.testing.assert_allclose(model.amperes, 0.0314, rtol=1e-9)


def test_the_other_pairs_do_not_take_over_the_current_of_a_dead_one() -> None:
    """Each stands on the bias generator's voltage by itself; at the first moment nothing else has changed."""
    whole, dead = (Amplifiers(parameters(1, pairs=4.0, dead_pairs=[[dead, 0.0]])) for dead in (0.0, 1.0))
    np.testing.assert_array_equal(dead.amperes, whole.amperes)
    assert dead.rail_amperes[0] == pytest.approx(whole.rail_amperes[0] * 7.0 / 8.0, rel=1e-12)


def test_a_dead_pair_heats_nothing_and_the_others_feel_that_alone() -> None:
    """Closed form: with one pair dead in both channels a unit of four pairs is a unit of three."""
    four = parameters(1, pairs=4.0, sink_w_per_k=1.6, sink_j_per_k=900.0)
    models = [Amplifiers(four), Amplifiers(four.changed(dead_pairs=1.0)), Amplifiers(four.changed(pairs=3.0))]
    for model in models:
        model.advance(1200.0)
    whole, dead, three = models
    np.testing.assert_allclose(dead.temperatures_c, three.temperatures_c, rtol=1e-12)
    np.testing.assert_allclose(dead.amperes, three.amperes, rtol=1e-12)
    assert dead.sink_c[0] < whole.sink_c[0] - 1.0
    assert np.all(np.abs(dead.amperes / whole.amperes - 1.0) < 0.1)


def test_the_current_into_a_load_is_carried_by_the_pairs_that_conduct() -> None:
    model = Amplifiers(parameters(1, pairs=4.0, dead_pairs=[[2.0, 0.0]]))
    model.advance(10.0)
    idle = model.amperes[0]
    model.set_drive(3.0)
    # Closed form: the mean of a half wave of 3 A is 3 A / pi, shared by two pairs and by four.
    np.testing.assert_allclose(
        model.amperes[0], np.hypot(idle, 3.0 / np.pi / np.array([2.0, 4.0])), rtol=1e-6
    )


def test_a_reversed_trimmer_lowers_the_current_when_turned_up() -> None:
    model = Amplifiers(parameters(1, trimmer_reversed=[0.0, 1.0]))
    before = model.amperes
    model.set_wiper(0.6)
    change = (model.amperes - before)[0]
    assert change[0] > 0.0 > change[1]


def test_chance_is_decided_by_the_seed_and_not_by_how_time_is_divided() -> None:
    units = parameters(
        3, mains_sd=0.004, draught_lid_on=0.1, wiper_step=0.02, wiper_crackle=0.002, joint_volts=0.004
    )
    one, other = Amplifiers(units, seed=5), Amplifiers(units, seed=5)
    one.advance(20.0)
    for _ in range(100):
        other.advance(0.2)
        _ = other.reading_volts
    np.testing.assert_array_equal(one.reading_volts, other.reading_volts)
    third = Amplifiers(units, seed=6)
    third.advance(20.0)
    assert np.all(third.reading_volts != one.reading_volts)


def test_planned_actions_do_what_hands_would() -> None:
    units = parameters(2)
    planned = simulate(
        units,
        60.0,
        actions=[
            LidMoved(20.0, False, where=[True, False]),
            WiperMoved(10.0, 0.52, where=(0, 1)),
            MainsSet(40.0, 0.9),
        ],
    )
    by_hand = Amplifiers(units)
    by_hand.advance(10.0)
    by_hand.set_wiper(0.52, where=(0, 1))
    by_hand.advance(10.0)
    by_hand.set_lid(False, where=[True, False])
    by_hand.advance(20.0)
    by_hand.set_mains(0.9)
    by_hand.advance(20.0)
    np.testing.assert_array_equal(planned.amperes[-1], by_hand.amperes)
    np.testing.assert_array_equal(by_hand.lid_on, [False, True])


def test_without_mains_the_current_stops_and_everything_cools_to_the_room() -> None:
    model = Amplifiers(parameters(1), dt_s=1.0)
    model.advance(600.0)
    model.set_mains(0.0)
    model.advance(60.0)
    assert model.amperes.max() < 1e-6
    model.advance(15_000.0)
    np.testing.assert_allclose(model.temperatures_c, model.room_c[0], atol=0.05)


def test_the_fuse_opens_above_its_current_and_stays_open() -> None:
    model = Amplifiers(parameters(2, fuse_amperes=[0.06, 4.0]))
    model.set_wiper(0.7)
    np.testing.assert_array_equal(model.fuse_blown, [True, False])
    model.set_wiper(0.3)
    assert model.amperes[0].max() == 0.0 < model.amperes[1].min()


def test_a_damaged_channel_reads_zero_and_the_other_goes_on() -> None:
    model = Amplifiers(parameters(1))
    model.damage((0, 1))
    model.advance(1.0)
    assert model.reading_volts[0, 1] == 0.0 < model.reading_volts[0, 0]


def test_drive_adds_the_rectified_average_and_its_heat() -> None:
    model = Amplifiers(parameters(1, supply_ohm=0.0, fuse_amperes=100.0))
    model.advance(60.0)
    model.set_drive(2.0, 8.0)
    # Class B: a sine of peak I has an average of I/pi in each device, which burns V I/pi - I^2 R/4
    # (common practice, no source).
    assert model.amperes[0, 0] == pytest.approx(2.0 / np.pi, rel=0.01)
    volts_across_device = 42.0 - model.amperes[0, 0] * 0.27
    expected = volts_across_device * model.amperes[0, 0] - 2.0**2 * 8.0 / 4.0
    assert model.device_watts[0, 0] == pytest.approx(expected, rel=1e-9)
    model.set_drive(0.0)
    assert model.reading_volts.max() < 0.02


def test_parameters_refuse_unknown_names_and_wrong_shapes() -> None:
    with pytest.raises(ValueError, match="no such parameter"):
        parameters(1, rail_volt=40.0)
    with pytest.raises(ValueError, match="rail_volts has shape"):
        parameters(2, rail_volts=[1.0, 2.0, 3.0])


def test_stacking_and_picking_are_inverse() -> None:
    again = stacked([VARIETY.pick([0, 1]), VARIETY.pick([False, False, True, True])])
    np.testing.assert_array_equal(again.wiper, VARIETY.wiper)
    np.testing.assert_array_equal(again.pairs, VARIETY.pairs)
