"""The curves of a verification: the measurement decides which is shown, one key shows the next."""

from __future__ import annotations

import math

import numpy as np
import pytest
from pytestqt.qtbot import QtBot

from app.bench.audio.signals import Signals, past_signals
from app.windows.signal_view import SignalView
from drivers.audio.capture import Capture
from procedures.analysis.audio.orders import Order, Signal
from procedures.analysis.audio.taken import Taken
from procedures.ratings import Ratings

RATE = 48_000.0
CAPTURE = Capture(np.sin(2 * np.pi * 997.0 * np.arange(48_000) / RATE), RATE, "left")


def taken(measure: str, hz: float = 1000.0, volts: float = 0.3) -> Taken:
    order = Order(Signal.TONE, 1.0, hz, volts, drives=("left",), load_ohm=8.0)
    figures = {"volts": 8.0, "total_volts": 8.0 * volts, "thd_plus_noise": 0.001}
    return Taken(order, "left", figures, measure)


RESPONSE = tuple(taken("response", float(hz)) for hz in [*np.geomspace(20, 20_000, 12), 1000.0])


@pytest.fixture
def view(qtbot: QtBot) -> SignalView:
    made = SignalView()
    qtbot.addWidget(made)
    return made


def wait_for(qtbot: QtBot, view: SignalView, wanted: str) -> None:
    """Pictures are worked out beside the window."""
    qtbot.waitUntil(lambda: title(view) == wanted, timeout=10_000)


def title(view: SignalView) -> str:
    return view.picture.title if view.picture is not None else ""


@pytest.mark.parametrize(
    ("measure", "shown"),
    [("noise", "Spectrum"), ("distortion", "Residual"), ("response", "Frequency response")],
)
def test_the_measurement_decides(view: SignalView, qtbot: QtBot, measure: str, shown: str) -> None:
    view.show_signals(Signals((CAPTURE,), (*RESPONSE, taken(measure))))
    wait_for(qtbot, view, shown)
    assert view.accessibleDescription().startswith(shown)


def test_one_key_shows_the_next_that_can_be_drawn_and_a_new_measurement_chooses_again(
    view: SignalView, qtbot: QtBot
) -> None:
    view.show_signals(Signals((CAPTURE,), (*RESPONSE, taken("noise"))))
    wait_for(qtbot, view, "Spectrum")
    seen = []
    for _ in range(3):
        with qtbot.waitSignal(view.drawn, timeout=10_000):
            view.show_next()
        seen.append(title(view))
    assert seen == ["Residual", "Frequency response", "Spectrum"]
    view.show_signals(Signals((CAPTURE,), (*RESPONSE, taken("noise"), taken("distortion"))))
    wait_for(qtbot, view, "Residual")


def test_the_newest_is_shown_though_one_is_still_being_worked_out(view: SignalView, qtbot: QtBot) -> None:
    view.show_signals(Signals((CAPTURE,), (*RESPONSE, taken("noise"))))
    view.show_signals(Signals((CAPTURE,), (*RESPONSE, taken("noise"), taken("response"))))
    view.show_signals(Signals((CAPTURE,), (*RESPONSE, taken("distortion"))))
    wait_for(qtbot, view, "Residual")


def test_nothing_played_is_nothing_drawn(view: SignalView) -> None:
    view.show_signals(None)
    view.show_next()
    assert view.picture is None


def test_silence_has_no_residual_and_the_others_are_offered(view: SignalView, qtbot: QtBot) -> None:
    silent = Capture(np.zeros(4800) + 1e-9, RATE, "left")
    view.show_signals(Signals((silent,), (*RESPONSE, taken("distortion"))))
    qtbot.waitUntil(lambda: view.picture is not None, timeout=10_000)
    assert title(view) != "Residual"


def test_a_past_session_without_captures_shows_what_its_figures_give(view: SignalView, qtbot: QtBot) -> None:
    assert past_signals([], None) is None
    view.show_signals(Signals((), RESPONSE, Ratings(response_db=0.5)))
    wait_for(qtbot, view, "Frequency response")
    assert view.picture is not None
    assert math.isclose(view.picture.limits[0].y, 0.5)


def test_it_is_drawn_in_the_windows_shades(view: SignalView, qtbot: QtBot) -> None:
    view.show_signals(Signals((CAPTURE,), (*RESPONSE,)))
    qtbot.waitUntil(lambda: view.picture is not None, timeout=10_000)
    view.resize(640, 320)
    view.show()
    image = view.grab().toImage()
    assert len({image.pixel(x, y) for x in range(0, 640, 7) for y in range(0, 320, 7)}) > 3
