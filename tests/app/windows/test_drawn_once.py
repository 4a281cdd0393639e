"""What is drawn once must look as if it were drawn anew each time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from fake_bench import LEFT, setup, state, warm_up
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtGui import QColor, QImage, QPainter, QPen
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from app.bench.snapshot import Trace
from app.windows.drawn_once import Layer
from app.windows.figures import Figures
from app.windows.gauge import Level, picture_of
from app.windows.number_sign import NUMBER_SIGN
from app.windows.seen_range import SeenRange
from app.windows.theme import CONTRAST, DARK, LIGHT, THEME
from drivers.reading import Unit

TRACE = warm_up(LEFT, 0.010, 0.0135, 600.0)


def _image(widget: QWidget) -> QImage:
    return widget.grab().toImage()


def test_a_tube_that_was_shown_before_looks_like_a_fresh_one(qtbot: QtBot) -> None:
    """Another reading, window, size, decimal sign or look: nothing of what was drawn before stays."""
    kept = Level()
    qtbot.addWidget(kept)
    narrower = replace(setup(LEFT), low_volts=0.0131, high_volts=0.0139)

    def same(volts: float, width: int, wanted: object = None) -> None:
        channel = state(TRACE, 0.0135, level=volts, accept_low=None, accept_high=None)
        picture = picture_of(channel, setup(LEFT) if wanted is None else narrower, show_volts=0.0134)
        fresh = Level()
        qtbot.addWidget(fresh)
        images = []
        for level in (kept, fresh):
            level.resize(width, 120)
            level.show_picture(picture)
            images.append(_image(level))
        assert images[0] == images[1]
        fresh.close()

    before, sign = THEME.shades, NUMBER_SIGN.sign
    try:
        same(0.0135, 500)
        same(0.0150, 500)
        same(0.0150, 500, narrower)
        same(0.0150, 440)
        NUMBER_SIGN.take("comma")
        same(0.0150, 440)
        for look in (DARK, CONTRAST, LIGHT):
            THEME.shades = look
            same(0.0150, 440)
    finally:
        THEME.shades = before
        NUMBER_SIGN.take("comma" if sign == "," else "point")
    kept.close()


def test_digits_that_were_drawn_before_look_like_fresh_ones(qtbot: QtBot) -> None:
    """Whatever stood in a cell before, at another size and in another shade."""
    kept = Figures()
    qtbot.addWidget(kept)
    for text, noise, aged, height in (
        ("-14.44", None, False, 132.0),
        (" 12.34", 0.02, False, 132.0),
        ("-14.44", 0.02, True, 87.0),
        ("-14,44", None, False, 87.0),
    ):
        fresh = Figures()
        qtbot.addWidget(fresh)
        images = []
        for figures in (kept, fresh):
            figures.set_digit_height(height)
            figures.resize(figures.sizeHint())
            figures.show_text(text, noise, aged)
            images.append(_image(figures))
        assert images[0] == images[1]
        fresh.close()
    kept.close()


def test_a_layer_is_drawn_again_only_for_another_key_or_size(qtbot: QtBot) -> None:
    """That is what makes it cheap."""
    widget = QWidget()
    qtbot.addWidget(widget)
    widget.resize(40, 30)
    layer = Layer(widget)
    drawn: list[str] = []
    target = QImage(80, 60, QImage.Format.Format_RGB32)
    painter = QPainter(target)

    def drawing(name: str) -> Callable[[QPainter], None]:
        def draw(inner: QPainter) -> None:
            drawn.append(name)
            inner.setPen(QPen(QColor("#ff0000")))
            inner.drawLine(0, 0, 10, 10)

        return draw

    for name in ("one", "one", "other"):
        layer.lay(painter, name, drawing(name))
    widget.resize(50, 30)
    layer.lay(painter, "other", drawing("other"))
    painter.end()

    assert drawn == ["one", "other", "other"]


@given(st.lists(st.lists(st.floats(-1.0, 1.0), max_size=6), max_size=6), st.booleans())
def test_the_range_so_far_is_that_of_all_readings(batches: list[list[float]], wound_back: bool) -> None:
    """Also where a replay is wound back and the trace begins anew."""
    seen = SeenRange()
    lengths = np.cumsum([len(batch) for batch in batches]).tolist()
    values = np.array([value for batch in batches for value in batch])
    if wound_back and lengths:
        lengths.append(lengths[0])
    for length in lengths:
        at, so_far = np.arange(length, dtype=float), values[:length]
        found = seen.of(Trace("x", Unit.VOLT, at, so_far, np.ones(length, bool), np.empty(0)))
        assert found == ((so_far.min(), so_far.max()) if length else None)
