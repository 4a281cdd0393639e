"""Pictures of a verification: what is drawn follows from captures and figures, and says its conditions."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QRectF

from app.reports.audio_pictures import (
    bias_picture,
    power_picture,
    residual_picture,
    response_picture,
    spectrum_picture,
)
from app.reports.curve_picture import Axis, clear_of, write_curves_png
from drivers.audio.capture import Capture
from procedures.analysis.audio.orders import Order, Signal
from procedures.analysis.audio.taken import Taken, taken_of
from procedures.events import Action, AudioMeasured, Request
from procedures.ratings import PowerRating, Ratings

RATE = 48_000.0
RATINGS = Ratings(
    low_hz=20.0,
    high_hz=20_000.0,
    response_db=0.5,
    power=(PowerRating(watts=80.0, load_ohm=8.0, distortion_percent=1.0),),
)


def tone(hz: float = 997.0) -> Capture:
    return Capture(np.sin(2 * np.pi * hz * np.arange(48_000) / RATE), RATE, "left")


def taken(hz: float, volts_in: float, load_ohm: float = 8.0, **figures: float) -> Taken:
    order = Order(Signal.TONE, 1.0, hz, volts_in, drives=("left",), load_ohm=load_ohm)
    return Taken(order, "left", figures)


def test_orders_and_figures_are_joined_by_their_request() -> None:
    order = Order(Signal.TONE, 1.0, 1000.0, 0.5, drives=("left", "right"))
    facts = [
        Request(1.0, "request 1", Action.PLAY, "outputs", order.parameters()),
        AudioMeasured(2.0, "request 1", "left", {"volts": 10.0}),
        AudioMeasured(2.0, "request 9", "left", {"volts": 3.0}),
        AudioMeasured(2.0, "request 1", "right", trouble="nothing came"),
    ]
    assert taken_of(facts) == (Taken(order, "left", {"volts": 10.0}),)


def test_the_spectrum_is_relative_to_the_strongest_line() -> None:
    (curve,) = spectrum_picture([tone()]).curves
    assert np.max(curve.y) == pytest.approx(0.0, abs=1e-9)
    assert curve.x[np.argmax(curve.y)] == pytest.approx(997.0, abs=1.0)


def test_the_residual_names_what_its_shape_looks_like() -> None:
    sine = tone().volts
    crossed = Capture(np.sign(sine) * np.maximum(np.abs(sine) - 0.005, 0.0), RATE, "left")
    assert "at the crossings, gain falls (little bias)" in residual_picture([crossed]).subtitle
    doubled = Capture(sine + 0.01 * np.clip(sine, -0.1, 0.1), RATE, "left")
    assert "at the crossings, gain rises (much bias)" in residual_picture([doubled]).subtitle


def test_the_response_is_drawn_against_its_rating() -> None:
    hertz = np.geomspace(20.0, 20_000.0, 31)
    picture = response_picture([taken(float(hz), 0.3, volts=8.0) for hz in [*hertz, 1000.0]], RATINGS)
    assert picture is not None
    assert np.abs(picture.curves[0].y).max() == pytest.approx(0.0, abs=1e-9)
    assert {limit.y for limit in picture.limits} == {0.5, -0.5}
    assert "within ±0.5 dB" in picture.subtitle


def test_too_few_tones_are_no_response_and_no_power_curve() -> None:
    assert response_picture([taken(1000.0, 0.3, volts=8.0)], RATINGS) is None
    assert power_picture([taken(1000.0, 0.3, total_volts=8.0, thd_plus_noise=0.01)], RATINGS) is None


def test_distortion_over_power_has_its_rating() -> None:
    points = [taken(1000.0, 0.1 * n, total_volts=2.83 * n, thd_plus_noise=0.0001 * n) for n in range(1, 8)]
    picture = power_picture(points, RATINGS)
    assert picture is not None
    assert picture.curves[0].x[0] == pytest.approx(2.83**2 / 8.0)
    assert picture.limits[0].high_x == 80.0


def test_the_bias_view_calls_a_figure_below_the_valley_normal() -> None:
    picture = bias_picture(0.27, {"left": 0.025}, 0.025, {"left": 0.006})
    assert "a maker's figure below the valley is normal" in picture.subtitle
    at_fifty = next(curve for curve in picture.curves if curve.name == "model, 50 W")
    # Oliver 1971: the valley lies where each emitter resistor drops about 26 mV.
    assert 60.0 < at_fifty.x[np.argmin(at_fifty.y)] < 160.0
    assert picture.marked_x == pytest.approx(25.0)


def test_a_logarithmic_axis_has_lines_at_one_two_and_five() -> None:
    words = [said for _, said in Axis("Hz", 10.0, 1000.0, logarithmic=True).ticks()]
    assert words == ["10", "20", "50", "100", "200", "500", "1k"]


def test_the_figures_of_an_axis_have_the_decimal_sign_that_is_asked_for() -> None:
    """The window's; paper has the point."""
    assert [said for _, said in Axis("%", 0.1, 0.5, logarithmic=True).ticks()] == ["0.1", "0.2", "0.5"]
    asked = Axis("%", 0.0, 1.0, step=0.5, mark=",")
    assert [said for _, said in asked.ticks()] == ["0", "0,5", "1"]


def test_pictures_are_written_and_an_unwritable_place_is_one_sentence(tmp_path: Path) -> None:
    write_curves_png(tmp_path / "spectrum.png", spectrum_picture([tone()]))
    assert (tmp_path / "spectrum.png").stat().st_size > 5000
    with pytest.raises(OSError, match="No such file"):
        write_curves_png(tmp_path / "no" / "where.png", spectrum_picture([tone()]))


def test_the_names_of_limits_stand_apart() -> None:
    """Three at one height, each a little further along, go up line by line."""
    placed: list[QRectF] = []
    for left in (100.0, 120.0, 140.0):
        placed.append(clear_of(QRectF(left, 200.0, 160.0, 16.0), placed, -16.0))
    assert [box.top() for box in placed] == [200.0, 184.0, 168.0]
    assert clear_of(QRectF(400.0, 200.0, 50.0, 16.0), placed, -16.0).top() == 200.0
