"""Uncertainty, coverage, guard bands and physical constants against published values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import constants, stats

from drivers.meter import MeterAccuracy
from procedures.analysis.channel import ChannelSetup, DecisionRule
from procedures.analysis.trend import line
from procedures.analysis.uncertainty import (
    Contribution,
    Distribution,
    combine,
    effective_dof,
    meter_half_width,
    student_factor,
)
from procedures.analysis.window import guard_of, limits_of, window_of
from procedures.analysis.z_domain import oliver_amperes, thermal_volts


def normal(u: float, dof: float = math.inf) -> Contribution:
    return Contribution("", u, Distribution.NORMAL, 1.0, dof)


def test_gum_h1_end_gauge() -> None:
    # JCGM 100 H.1.3-H.1.6 (inputs read; printed results recalled - check before quoting).
    # nm; l_S 25 (18 dof), mean difference 5.8 (24), random comparator 3.9 (5), systematic 6.7 (8),
    # expansion difference 2.9 (50), temperature difference 16.6 (2).
    rows = [
        normal(25.0, 18),
        normal(5.8, 24),
        normal(3.9, 5),
        normal(6.7, 8),
        normal(2.9, 50),
        normal(16.6, 2),
    ]
    budget = combine(rows, 0.99)
    assert round(budget.u) == 32
    assert math.floor(effective_dof(rows)) == 16
    assert budget.k == pytest.approx(2.92, abs=0.005)
    assert budget.expanded == pytest.approx(93.0, abs=1.0)


def test_gum_voltmeter_specification_becomes_a_standard_uncertainty() -> None:
    # JCGM 100 4.3.7 example 2 and 5.1.5 (arithmetic reproduced; text recalled - check before quoting).
    meter = MeterAccuracy(of_reading=14e-6, of_range=2e-6, range_value=1.0)
    half = meter_half_width(0.928571, meter)
    assert half == pytest.approx(15e-6, abs=0.1e-6)
    row = Contribution("voltmeter", half)
    assert row.u == pytest.approx(8.7e-6, abs=0.05e-6)
    budget = combine([row, normal(12e-6)])
    assert budget.u == pytest.approx(15e-6, abs=0.5e-6)
    assert budget.u / 0.928571 == pytest.approx(16e-6, abs=0.5e-6)


def test_bench_meter_worked_example() -> None:
    # User's guide of a 6.5-digit bench meter, "To Calculate Total Measurement Error" (read):
    # 5 V on the 10 V range, 0.0020 % of reading + 0.0005 % of range = 150 uV.
    meter = MeterAccuracy(of_reading=20e-6, of_range=5e-6, range_value=10.0)
    assert meter_half_width(5.0, meter) == pytest.approx(150e-6)


def test_ea4_02_s9_hand_held_meter() -> None:
    # EA-4/02 S9, calibration of a hand-held multimeter at 100 V (contributions read, reproduced):
    # u = 0.030 V, k = 1.65, U = 0.05 V. Its k keeps the one rectangular term alone.
    rows = [
        normal(0.001),
        Contribution("resolution", 0.029 * math.sqrt(3)),
        Contribution("calibrator", 0.0064 * math.sqrt(3)),
    ]
    budget = combine(rows, 0.95)
    assert budget.u == pytest.approx(0.030, abs=0.0005)
    assert round(budget.expanded, 2) == 0.05
    assert budget.k_reason == "rectangular term dominates: resolution"
    assert combine(rows[1:2], 0.95).k == pytest.approx(1.65, abs=0.01)
    assert 1.65 < budget.k < 1.75  # the convolution also keeps the calibrator's term


def test_ea4_02_s10_trapezoid() -> None:
    # EA-4/02 S10, vernier caliper: two rectangular terms, u = 33 um, k = 1.83, U = 60 um (read);
    # half-widths 25 and 50 um recalled - check before quoting.
    budget = combine([Contribution("resolution", 25.0), Contribution("mechanics", 50.0)], 0.95)
    assert budget.u == pytest.approx(33.0, abs=1.0)
    assert budget.k == pytest.approx(1.83, abs=0.005)
    assert round(budget.expanded, -1) == 60.0


def test_ea4_02_s12_few_degrees_of_freedom() -> None:
    # EA-4/02 S12 (read): 6.0E-4 with 2 degrees of freedom and 6.8E-4 give 9.1E-4, k = 2.28, U = 2.0E-3.
    budget = combine([normal(6.0e-4, 2), normal(6.8e-4)])
    assert budget.u == pytest.approx(9.1e-4, abs=0.5e-5)
    assert budget.k == pytest.approx(2.28, abs=0.005)
    assert budget.expanded == pytest.approx(2.0e-3, abs=1e-4)


@pytest.mark.parametrize(
    ("dof", "factors"),
    [
        # JCGM 100 table G.2, p = .6827 .90 .95 .9545 .99 .9973 (some cells read, all reproduced)
        (1, (1.84, 6.31, 12.71, 13.97, 63.66, 235.80)),
        (5, (1.11, 2.02, 2.57, 2.65, 4.03, 5.51)),
        (10, (1.05, 1.81, 2.23, 2.28, 3.17, 3.96)),
        (20, (1.03, 1.72, 2.09, 2.13, 2.85, 3.42)),
        (50, (1.01, 1.68, 2.01, 2.05, 2.68, 3.16)),
    ],
)
def test_gum_table_g2(dof: int, factors: tuple[float, ...]) -> None:
    for probability, factor in zip((0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973), factors, strict=True):
        assert student_factor(dof, probability) == pytest.approx(factor, abs=0.0051, rel=1.5e-4)


def test_type_b_divisors() -> None:
    # JCGM 100 4.3: closed forms; a resolution of 0.01 mV is 2.887 uV.
    assert Contribution("", 1.0).effective_divisor == pytest.approx(math.sqrt(3))
    assert Contribution("", 1.0, Distribution.TRIANGULAR).effective_divisor == pytest.approx(math.sqrt(6))
    assert Contribution("", 1.0, Distribution.ARCSINE).effective_divisor == pytest.approx(math.sqrt(2))
    assert Contribution("", 0.005e-3).u == pytest.approx(2.887e-6, abs=5e-10)


@pytest.mark.parametrize(
    ("rule", "risk"),
    [
        # ILAC-G8:09/2019 and ISO 14253-1:2017 (secondary texts read): w = 0 at most 50 %, 0.83 U below 5 %,
        # U below 2.5 %, 1.5 U below 0.16 %, 3 U below 1 in a million; digits reproduced with U = 2 u.
        (DecisionRule.SIMPLE, 0.5),
        (DecisionRule.GUARDED_083, 0.0485),
        (DecisionRule.GUARDED, 0.0228),
        (DecisionRule.GUARDED_15, 0.00135),
        (DecisionRule.GUARDED_3, 9.9e-10),
    ],
)
def test_false_acceptance_at_the_edge_of_each_decision_rule(rule: DecisionRule, risk: float) -> None:
    budget = combine([normal(1.0)])
    assert budget.k == pytest.approx(2.0, abs=1e-3)
    at_edge = -guard_of(rule, budget)
    assert stats.norm.sf(-at_edge) == pytest.approx(risk, rel=0.01)


def test_a_rectangular_resistor_does_not_deserve_two_sigma() -> None:
    # computed (convolution; GUM Supplement 1 Monte Carlo in the design study gave 4.76 % against 5.78 %)
    budget = combine([Contribution("resistor", 0.05), normal(0.0016)], 0.95)
    assert budget.expanded == pytest.approx(0.0476, abs=0.0002)


def test_half_of_a_five_percent_window_is_left_by_a_three_digit_meter() -> None:
    # computed; 0.5 % + 2 counts of 0.1 mV (an assumed specification) at 13.5 mV
    meter = MeterAccuracy(of_reading=0.005, counts=2, resolution=1e-4)
    low, high = limits_of(0.0135, 0.05)
    setup = ChannelSetup("left bias", target_volts=0.0135, low_volts=low, high_volts=high, accuracy=meter)
    window = window_of(setup, DecisionRule.GUARDED)
    assert window is not None
    left = (window.accept_high - window.accept_low) / (high - low)
    assert 0.5 < left < 0.65


def test_thermal_voltage() -> None:
    # CODATA exact k and e: 25.2617, 25.6926, 25.8649, 28.7086 mV at 20, 25, 27, 60 degrees C (reproduced)
    for celsius, millivolts in ((20.0, 25.2617), (25.0, 25.6926), (27.0, 25.8649), (60.0, 28.7086)):
        assert thermal_volts(celsius) * 1e3 == pytest.approx(millivolts, abs=5e-5)
    assert thermal_volts(25.0) == pytest.approx(constants.k * 298.15 / constants.e)


def test_oliver_bias_point() -> None:
    # B. M. Oliver, Hewlett-Packard Journal, Feb 1971, as cited (article not opened): I = 0.026/(RE + ...).
    for ohms, milliamperes in ((0.22, 118.0), (0.1, 257.0), (0.33, 77.9), (0.47, 54.7)):
        assert oliver_amperes(ohms) * 1e3 == pytest.approx(milliamperes, rel=0.012)


def test_gum_h3_calibration_line() -> None:
    # JCGM 100 H.3: corrections of a thermometer against temperature less 20 degrees C (read + reproduced).
    celsius = np.array(
        [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    )
    correction = np.array([-171, -169, -166, -159, -164, -165, -156, -157, -159, -161, -160]) * 1e-3
    intercept, slope, u_intercept, u_slope, scatter = line(celsius - 20.0, correction)
    assert (intercept, u_intercept) == pytest.approx((-0.1712, 0.0029), abs=5e-5)
    assert (slope, u_slope) == pytest.approx((0.00218, 0.00067), abs=5e-6)
    assert scatter == pytest.approx(0.0035, abs=5e-5)
