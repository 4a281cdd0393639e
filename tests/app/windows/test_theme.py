from __future__ import annotations

from itertools import combinations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPalette
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QHBoxLayout, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from app.windows.lettering import draw_plate
from app.windows.theme import CONTRAST, DARK, LIGHT, THEME, Look, Shades, contrast, luminance, qt_palette
from procedures.events import Tier

ALL = pytest.mark.parametrize("shades", [LIGHT, DARK, CONTRAST], ids=lambda s: s.name)


class FocusedKey(QPushButton):
    """A key that has the focus whatever the desktop says."""

    def hasFocus(self) -> bool:  # noqa: N802
        return True


def test_contrast_of_black_on_white() -> None:
    """Black on white is 21:1 (WCAG 2.2, definition of contrast ratio; recalled)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert luminance("#ffffff") == pytest.approx(1.0)


@ALL
def test_readings_and_instructions_have_seven_to_one(shades: Shades) -> None:
    """Readings and the main words are meant to be read from two metres."""
    for ground in (shades.ground, shades.raised):
        assert contrast(shades.ink, ground) >= 7.0
    assert contrast(shades.on_accent, shades.accent) >= 7.0


@ALL
def test_all_text_has_four_and_a_half_to_one(shades: Shades) -> None:
    """WCAG 2.2 asks 4.5:1 of text (recalled)."""
    for colour in (shades.muted, shades.outside, shades.inside, *shades.traces):
        for ground in (shades.ground, shades.raised):
            assert contrast(colour, ground) >= 4.5, (colour, ground)
    assert contrast(shades.ink, shades.practice) >= 4.5
    for colour in (shades.muted, shades.ink):
        assert contrast(colour, shades.band) >= 4.5, (colour, shades.band)
    for ground, ink in shades.banner.values():
        assert contrast(ink, ground) >= 4.5


@ALL
def test_digits_below_the_noise_are_text_too(shades: Shades) -> None:
    """A digit that carries nothing is drawn faint and must still be read (WCAG 2.2 1.4.3, recalled)."""
    for ground in (shades.ground, shades.raised):
        assert contrast(shades.faint, ground) >= 4.5, (shades.faint, ground)


@ALL
def test_the_ring_of_the_focus_is_seen_on_both_sides(shades: Shades) -> None:
    """3:1 against the screen outside it and the key inside it (WCAG 2.2 1.4.11 and 2.4.13, recalled)."""
    for side in (shades.ground, shades.raised, shades.accent, shades.practice):
        assert contrast(shades.focus, side) >= 3.0, (shades.focus, side)


@ALL
def test_the_big_key_wears_that_ring(shades: Shades, qtbot: QtBot) -> None:
    """The painted key has it at its edge while it has the focus, with the accent inside it."""
    before = THEME.shades
    THEME.shades = shades
    try:
        key = FocusedKey()
        qtbot.addWidget(key)
        key.resize(200, 80)
        picture = QImage(key.size(), QImage.Format.Format_RGB32)
        picture.fill(QColor(shades.ground))
        painter = QPainter(picture)
        draw_plate(painter, key, 10.0)
        painter.end()
    finally:
        THEME.shades = before
    assert picture.pixelColor(2, 40).name() == shades.focus
    assert picture.pixelColor(100, 40).name() == shades.accent


@ALL
def test_marks_and_bubbles_have_three_to_one(shades: Shades) -> None:
    """Graphics that carry a meaning need 3:1 against what they lie on (WCAG 2.2, recalled)."""
    assert contrast(shades.faint, shades.ground) >= 3.0
    assert contrast(shades.faint, shades.raised) >= 3.0
    assert contrast(shades.inside, shades.band) >= 3.0
    assert contrast(shades.ink, shades.band) >= 3.0
    for trace in shades.traces:
        assert contrast(trace, shades.band) >= 3.0


# G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A Physiologically-based Model for Simulation of Color
# Vision Deficiency", IEEE Transactions on Visualization and Computer Graphics 15 (6), 2009: the matrices of
# severity 1.0, for linear RGB (the numbers are recalled - check before quoting).
NORMAL = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
DEFICIENCIES = {
    "none": NORMAL,
    "protan": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deutan": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritan": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}


def seen_by(colour: str, matrix: tuple[tuple[float, ...], ...]) -> tuple[float, ...]:
    linear = [
        p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4
        for p in (int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    ]
    seen = [min(1.0, max(0.0, sum(m * v for m, v in zip(row, linear, strict=True)))) for row in matrix]
    return tuple(12.92 * v if v <= 0.0031308 else 1.055 * v ** (1 / 2.4) - 0.055 for v in seen)


@ALL
@pytest.mark.parametrize("kind", DEFICIENCIES)
def test_the_traces_and_the_alarms_stay_apart_for_every_eye(shades: Shades, kind: str) -> None:
    """Each of four traces from each other one, and each tier of alarm, also with a colour-vision deficiency.

    The distance is that of sRGB values, each 0 to 1; a fifth was chosen by eye (no source).
    """
    for colours in (shades.traces, tuple(ground for ground, _ in shades.banner.values())):
        for first, second in combinations(colours, 2):
            one, other = (seen_by(c, DEFICIENCIES[kind]) for c in (first, second))
            assert sum((a - b) ** 2 for a, b in zip(one, other, strict=True)) ** 0.5 > 0.2, (first, second)


def test_every_tier_has_its_own_ground() -> None:
    """No two tiers of alarm look alike."""
    for shades in (LIGHT, DARK, CONTRAST):
        assert set(shades.banner) == set(Tier)
        assert len({ground for ground, _ in shades.banner.values()}) == len(Tier)


def test_the_look_reaches_the_application(qapp: QApplication) -> None:
    """Whatever the platform says, the palette is ours."""
    THEME.look = Look.DARK
    THEME.apply(qapp)

    assert qapp.palette().color(QPalette.ColorRole.Window).name() == DARK.ground
    assert qt_palette(LIGHT).color(QPalette.ColorRole.Base).name() == LIGHT.raised


@pytest.mark.parametrize("look", [Look.LIGHT, Look.DARK, Look.CONTRAST])
def test_focus_is_a_ring_and_no_box_behind_the_words(qtbot: QtBot, look: Look) -> None:
    """The style's own focus box, drawn after a key was used, lies grey beneath the letters."""
    THEME.look = look
    THEME.apply(QApplication.instance())  # type: ignore[arg-type]
    window = QWidget()
    qtbot.addWidget(window)
    row = QHBoxLayout(window)
    buttons = [QPushButton("Switched off   Ctrl+1", window), QPushButton("Mains   Ctrl+2", window)]
    for button in buttons:
        button.setMinimumSize(220, 70)
        row.addWidget(button)
    with qtbot.waitExposed(window):
        window.show()
    window.activateWindow()
    buttons[0].setFocus()
    inside = QPoint(30, 14)  # within the contents, above the letters
    calm = buttons[1].grab().toImage().pixelColor(inside)
    QTest.keyClick(buttons[0], Qt.Key.Key_Tab)
    assert buttons[1].hasFocus()
    assert buttons[1].grab().toImage().pixelColor(inside) == calm
