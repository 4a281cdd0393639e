"""Fits against NIST StRD certified values: parameters, their standard errors, residuals; no start values."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from procedures.analysis.decays import Shape, fit_decays
from procedures.analysis.trend import line

DATA = Path(__file__).parent / "data"


def columns(name: str) -> tuple[np.ndarray, np.ndarray]:
    """x and y of a StRD file: the data lines at its end, y first."""
    rows = []
    for text in reversed((DATA / name).read_text(encoding="ascii").splitlines()):
        try:
            y, x = (float(word) for word in text.split())
        except ValueError:
            if rows:
                break
            continue
        rows.append((x, y))
    table = np.array(rows[::-1])
    order = np.argsort(table[:, 0], kind="stable")
    return table[order, 0], table[order, 1]


def test_misra1a_is_a_rise_from_zero_with_its_errors() -> None:
    fit = fit_decays(*columns("Misra1a.dat"), 1, Shape.RISE)

    # NIST StRD Misra1a, certified values
    assert fit.amplitudes[0] == pytest.approx(2.3894212918e02, rel=1e-6)
    assert fit.rates[0] == pytest.approx(5.5015643181e-04, rel=1e-6)
    assert fit.amplitude_ses[0] == pytest.approx(2.7070075241e00, rel=1e-5)
    assert fit.rate_ses[0] == pytest.approx(7.2668688436e-06, rel=1e-5)
    assert fit.rest_sd == pytest.approx(1.0187876330e-01, rel=1e-7)


def test_boxbod_needs_no_lucky_start() -> None:
    fit = fit_decays(*columns("BoxBOD.dat"), 1, Shape.RISE)

    # NIST StRD BoxBOD, certified values; plain least squares from its start 1 ends elsewhere
    assert fit.amplitudes[0] == pytest.approx(2.1380940889e02, rel=1e-6)
    assert fit.rates[0] == pytest.approx(5.4723748542e-01, rel=1e-6)
    assert fit.amplitude_ses[0] == pytest.approx(1.2354515176e01, rel=1e-5)
    assert fit.rate_ses[0] == pytest.approx(1.0455993237e-01, rel=1e-5)
    assert fit.rest_square == pytest.approx(1.1680088766e03, rel=1e-8)


def test_mgh17_is_an_offset_and_two_decays() -> None:
    fit = fit_decays(*columns("MGH17.dat"), 2, Shape.OFFSET)

    # NIST StRD MGH17, certified values: the model of a warm-up; the offset is where it rests
    assert fit.offset == pytest.approx(3.7541005211e-01, rel=1e-5)
    assert fit.offset_se == pytest.approx(2.0723153551e-03, rel=1e-3)
    assert fit.rates == pytest.approx([1.2867534640e-02, 2.2122699662e-02], rel=1e-5)
    assert fit.rate_ses == pytest.approx([4.4861358114e-04, 8.9471996575e-04], rel=1e-3)
    assert fit.amplitudes == pytest.approx([1.9358469127, -1.4646871366], rel=1e-4)
    assert fit.rest_square == pytest.approx(5.4648946975e-05, rel=1e-7)


def test_lanczos3_is_three_decays_to_the_digits_that_its_conditioning_leaves() -> None:
    fit = fit_decays(*columns("Lanczos3.dat"), 3, Shape.DECAYS)

    # NIST StRD Lanczos3, certified values
    assert fit.rates == pytest.approx([9.5498101505e-01, 2.9515951832, 4.9863565084], rel=1e-4)
    assert fit.amplitudes == pytest.approx([8.6816414977e-02, 8.4400777463e-01, 1.5825685901], rel=5e-4)
    assert fit.rest_square == pytest.approx(1.6117193594e-08, rel=1e-4)


def test_norris_gives_the_slope_of_a_drift_and_its_error() -> None:
    intercept, slope, intercept_se, slope_se, rest_sd = line(*columns("Norris.dat"))

    # NIST StRD Norris, certified values
    assert intercept == pytest.approx(-0.262323073774029, rel=1e-10)
    assert slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert intercept_se == pytest.approx(0.232818234301152, rel=1e-10)
    assert slope_se == pytest.approx(0.429796848199937e-03, rel=1e-10)
    assert rest_sd == pytest.approx(0.884796396144373, rel=1e-10)


def test_fewer_points_than_parameters_are_refused() -> None:
    with pytest.raises(ValueError, match="points cannot decide"):
        fit_decays(np.arange(4.0), np.arange(4.0), 2)
