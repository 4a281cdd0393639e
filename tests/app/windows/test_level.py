from __future__ import annotations

from dataclasses import replace

import pytest
from fake_bench import LEFT, setup, state, warm_up
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtGui import QColor
from pytestqt.qtbot import QtBot

from app.windows.figures import Figures
from app.windows.gauge import LEAST_REACH, WINDOW_SHARE, Level, along, picture_of
from app.windows.theme import shades
from procedures.analysis.channel import ChannelSetup

TRACE = warm_up(LEFT, 0.008, 0.0135, 600.0)


@given(st.floats(-50.0, 50.0), st.floats(-50.0, 50.0))
def test_the_tube_keeps_the_order_of_levels(one: float, other: float) -> None:
    """A higher level is never shown to the left of a lower one."""
    if one <= other:
        assert along(one) <= along(other)
    assert -1.0 <= along(one) <= 1.0


@given(st.floats(0.0, 30.0))
def test_the_tube_is_the_same_on_both_sides(distance: float) -> None:
    """Low and high are shown alike."""
    assert along(-distance) == -along(distance)


@given(st.floats(LEAST_REACH, 500.0))
def test_the_window_has_its_fixed_share_and_no_kink(reach: float) -> None:
    """The two marks stand still, and the scale goes on smoothly beyond them."""
    assert along(1.0, reach) == pytest.approx(WINDOW_SHARE)
    assert along(reach, reach) == pytest.approx(1.0)
    before, after = along(1.0, reach) - along(0.999, reach), along(1.001, reach) - along(1.0, reach)
    assert after == pytest.approx(before, rel=0.03)


def test_three_times_the_target_is_still_on_the_tube() -> None:
    """The alarm's level is to be seen, not only that it is beyond the end (5 % window)."""
    picture = picture_of(replace(state(TRACE, 0.0135), level=0.0135 * 3.0), setup(LEFT))
    assert picture is not None
    assert not picture.beyond
    assert not picture.inside


def test_inside_is_judged_by_the_guarded_window() -> None:
    """A reading between the limit and the acceptance limit is not inside."""
    now = state(TRACE, 0.0135)
    assert now.accept_low is not None
    between = (now.accept_low + 0.012825) / 2.0
    outside = picture_of(replace(now, level=between), setup(LEFT))
    inside = picture_of(replace(now, level=0.0135), setup(LEFT))
    assert outside is not None
    assert inside is not None
    assert (outside.inside, inside.inside) == (False, True)


def test_a_forecast_that_may_not_be_told_is_not_drawn() -> None:
    """What the words do not say the picture does not say either."""
    now = state(TRACE, 0.0128)
    assert now.forecast is not None
    told = picture_of(now, setup(LEFT))
    silent = picture_of(replace(now, forecast=replace(now.forecast, spoken=False)), setup(LEFT))
    assert told is not None
    assert told.heading is not None
    assert told.heading_low < told.heading < told.heading_high
    assert silent is not None
    assert silent.heading is None


def test_a_channel_without_target_shows_its_own_range() -> None:
    """A watched channel is compared with the lowest and highest that was seen."""
    watched = ChannelSetup(channel=LEFT)
    now = replace(state(TRACE, 0.0135), accept_low=None, accept_high=None)
    picture = picture_of(now, watched, seen=(0.008, 0.0134))
    assert picture is not None
    assert not picture.judged
    assert picture_of(now, watched) is None


def test_no_reading_draws_no_bubble() -> None:
    """Missing is never zero."""
    picture = picture_of(replace(state(TRACE, 0.0135), level=None, forecast=None), setup(LEFT))
    assert picture is not None
    assert picture.bubble is None


def test_the_bubble_is_filled_inside_and_hollow_outside(qtbot: QtBot) -> None:
    """Shape tells it as well as colour."""
    level = Level()
    qtbot.addWidget(level)
    level.resize(500, 120)
    inks = []
    for volts in (0.0135, 0.0150):
        level.show_picture(picture_of(replace(state(TRACE, 0.0135), level=volts, forecast=None), setup(LEFT)))
        image = level.grab().toImage()
        wanted = QColor(shades().inside).rgb()
        inks.append(
            sum(image.pixel(x, y) == wanted for x in range(image.width()) for y in range(image.height()))
        )
    level.close()

    assert inks[0] > 400
    assert inks[1] == 0


def test_digits_have_one_width_whatever_they_say(qtbot: QtBot) -> None:
    """A reading of ones takes the room of a reading of eights."""
    figures = Figures()
    qtbot.addWidget(figures)
    figures.set_digit_height(134.0)
    before = figures.sizeHint()
    for text in (" 11.11", " 88.88", "-104.2", " ––.––"):
        figures.show_text(text, None, False)
        assert figures.sizeHint() == before
    figures.close()


@pytest.mark.parametrize("text", ["  1234", " 12345", "-63100", "-230000", " 12.94"])
def test_no_digit_is_cut_at_the_edge(text: str, qtbot: QtBot) -> None:
    """A reading of volts must not lose its last digit: it would be read ten times too small."""
    figures = Figures()
    qtbot.addWidget(figures)
    figures.set_digit_height(90.0)
    figures.resize(figures.sizeHint())
    figures.show_text(text, None, False)
    image = figures.grab().toImage()
    ground = image.pixel(0, 0)
    edge = [image.pixel(image.width() - 1, y) for y in range(image.height())]
    assert all(pixel == ground for pixel in edge), text
    figures.close()
