"""The colours of the window and how they are told to Qt: light, dark and high contrast.

All shades are our own: a warm paper and ink by day, lamp-black and cream by night. Hues are chosen so that
neighbours differ for people with colour-vision deficiency (blue against orange against purple against
green of different lightness); nothing on the screens is told by colour alone. The palette is set
explicitly, never taken from the platform, so that it is the same wherever the program runs.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFont, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication, QWidget

from procedures.events import Tier

# 96 logical dots an inch: what a style pixel stands for at 100 %.
MILLIMETRE = 96.0 / 25.4
LETTER = 16  # style pixels of ordinary words
# People at the bench: 20 mm for a glove, 10 mm for a bare finger (common practice, no source); 16 minutes of
# arc at two metres (ISO 9241-303, recalled - check before quoting): 2 m x tan(16') = 9.3 mm.
GLOVE_MM = 20.0
LEGIBLE_MM = 9.3
CAPITAL = 0.73  # height of a capital in font heights
# What a screen may claim to be; a projector or a wrong description of a monitor must not spoil the layout.
_LEAST_MILLIMETRE, _MOST_MILLIMETRE = 30.0 / 25.4, 160.0 / 25.4


class Look(StrEnum):
    """Which set of shades; SYSTEM follows the desktop."""

    SYSTEM = "system"
    LIGHT = "light"
    DARK = "dark"
    CONTRAST = "high contrast"


@dataclass(frozen=True, slots=True)
class Shades:
    """One set of colours, by what they are for. `#rrggbb`.

    `banner` holds background and text for each tier of alarm, `traces` the channels' colours in order.
    """

    name: str
    ground: str
    raised: str
    ink: str
    muted: str
    faint: str  # digits below the noise (4.5:1), hairlines that must still be seen
    rule: str  # decoration only
    accent: str
    focus: str  # the ring of the focus: 3:1 against the screen outside it and the key inside it
    on_accent: str
    inside: str
    outside: str
    band: str
    practice: str
    traces: tuple[str, str, str, str]
    banner: dict[Tier, tuple[str, str]]

    @property
    def ring(self) -> str:
        """The focus on fields and plain keys; in high contrast it must outshine the edges of the others."""
        return self.accent if self.name == "high contrast" else self.focus

    def trace(self, index: int) -> str:
        """The colour of the channel at `index`; channels beyond the fourth begin again."""
        return self.traces[index % len(self.traces)]


LIGHT = Shades(
    name="light",
    ground="#f4efe4",
    raised="#fffdf7",
    ink="#1d1812",
    muted="#5a5045",
    faint="#6f6558",
    rule="#d5cab8",
    accent="#1d1812",
    focus="#2878b0",
    on_accent="#fff6e0",
    inside="#00604a",
    outside="#8c3a00",
    band="#bfe3d3",
    practice="#e7dcf5",
    traces=("#002f6f", "#a13c00", "#78447f", "#1f7c41"),
    banner={
        Tier.LOOK: ("#ffd257", "#1d1812"),
        Tier.ACT: ("#ff9a3c", "#1d1812"),
        Tier.OFF: ("#9c0016", "#ffffff"),
        Tier.LEAD: ("#5437c4", "#ffffff"),
        Tier.BLIND: ("#565d63", "#ffffff"),
    },
)

DARK = Shades(
    name="dark",
    ground="#17130f",
    raised="#231d17",
    ink="#f7eedf",
    muted="#c0b3a1",
    faint="#988b78",
    rule="#463b30",
    accent="#f3d9a0",
    focus="#2f7fb8",
    on_accent="#1d1812",
    inside="#6fdcb6",
    outside="#ffab6b",
    band="#1f4b3c",
    practice="#352a47",
    traces=("#6f8fff", "#ff9d3a", "#dda3ea", "#86d07a"),
    banner={
        Tier.LOOK: ("#ffd257", "#1d1812"),
        Tier.ACT: ("#ff9a3c", "#1d1812"),
        Tier.OFF: ("#c4001c", "#ffffff"),
        Tier.LEAD: ("#6a50b8", "#ffffff"),
        Tier.BLIND: ("#e9e4da", "#17130f"),
    },
)

CONTRAST = Shades(
    name="high contrast",
    ground="#000000",
    raised="#000000",
    ink="#ffffff",
    muted="#ffffff",
    faint="#b0b0b0",
    rule="#8a8a8a",
    accent="#ffff66",
    focus="#2878b0",
    on_accent="#000000",
    inside="#7dffd0",
    outside="#ffc48a",
    band="#0b4a38",
    practice="#2c1a45",
    traces=("#8396ff", "#ffa56a", "#f0b2ff", "#98daac"),
    banner={
        Tier.LOOK: ("#f2e600", "#000000"),
        Tier.ACT: ("#ff9000", "#000000"),
        Tier.OFF: ("#ffffff", "#a00000"),
        Tier.LEAD: ("#c0aaff", "#000000"),
        Tier.BLIND: ("#8f8f8f", "#000000"),
    },
)


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour `#rrggbb`, 0..1 (WCAG 2.2 definition, recalled)."""
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1..21 (WCAG 2.2 definition, recalled)."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def shades_for(look: Look) -> Shades:
    """The shades of a look. With SYSTEM the desktop decides; where it says nothing, light."""
    if look is Look.LIGHT:
        return LIGHT
    if look is Look.DARK:
        return DARK
    if look is Look.CONTRAST:
        return CONTRAST
    hints = QGuiApplication.styleHints()
    if hints.accessibility().contrastPreference() is Qt.ContrastPreference.HighContrast:
        return CONTRAST
    return DARK if hints.colorScheme() == Qt.ColorScheme.Dark else LIGHT


def qt_palette(shades: Shades) -> QPalette:
    """The shades as a complete Qt palette; disabled text stays legible."""
    roles = {
        QPalette.ColorRole.Window: shades.ground,
        QPalette.ColorRole.WindowText: shades.ink,
        QPalette.ColorRole.Base: shades.raised,
        QPalette.ColorRole.AlternateBase: shades.ground,
        QPalette.ColorRole.Text: shades.ink,
        QPalette.ColorRole.Button: shades.raised,
        QPalette.ColorRole.ButtonText: shades.ink,
        QPalette.ColorRole.BrightText: shades.ink,
        QPalette.ColorRole.Highlight: shades.accent,
        QPalette.ColorRole.HighlightedText: shades.on_accent,
        QPalette.ColorRole.ToolTipBase: shades.raised,
        QPalette.ColorRole.ToolTipText: shades.ink,
        QPalette.ColorRole.PlaceholderText: shades.muted,
        QPalette.ColorRole.Link: shades.traces[0],
        QPalette.ColorRole.Light: shades.raised,
        QPalette.ColorRole.Midlight: shades.rule,
        QPalette.ColorRole.Mid: shades.rule,
        QPalette.ColorRole.Dark: shades.faint,
        QPalette.ColorRole.Shadow: shades.faint,
    }
    palette = QPalette()
    for role, colour in roles.items():
        palette.setColor(role, QColor(colour))
    for role in (QPalette.ColorRole.WindowText, QPalette.ColorRole.Text, QPalette.ColorRole.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, role, QColor(shades.muted))
    return palette


def style_sheet(shades: Shades) -> str:
    """What a palette cannot say: edges, rounding, the size of targets and the ring of the focus."""
    return f"""
    QPushButton {{ background: {shades.raised}; color: {shades.ink}; border: 2px solid {shades.faint};
        border-radius: 10px; padding: 6px 14px; min-height: 26px; }}
    QPushButton:hover {{ border-color: {shades.ink}; }}
    QPushButton:pressed, QPushButton:checked {{ background: {shades.accent}; color: {shades.on_accent};
        border-color: {shades.accent}; }}
    QPushButton:focus {{ border: 3px solid {shades.ring}; padding: 5px 13px; outline: 0; }}
    QPushButton:disabled {{ color: {shades.muted}; border: 2px dashed {shades.rule};
        background: {shades.ground}; }}
    QLineEdit, QComboBox, QListWidget, QTableWidget, QPlainTextEdit, QDoubleSpinBox, QSpinBox {{
        background: {shades.raised}; color: {shades.ink}; border: 2px solid {shades.faint};
        border-radius: 6px; padding: 5px 8px; selection-background-color: {shades.accent};
        selection-color: {shades.on_accent}; placeholder-text-color: {shades.faint}; }}
    QLineEdit:focus, QComboBox:focus, QListWidget:focus, QTableWidget:focus {{
        border: 3px solid {shades.ring}; padding: 4px 7px; }}
    QLineEdit[role="blank"], QPlainTextEdit[role="blank"] {{ border: 0; border-radius: 0;
        border-bottom: 3px solid {shades.faint}; padding: 5px 6px 3px 6px; }}
    QLineEdit[role="blank"]:focus, QPlainTextEdit[role="blank"]:focus {{ border: 0;
        border-bottom: 4px solid {shades.ring}; padding: 5px 6px 2px 6px; }}
    QPushButton[role="small"] {{ padding: 2px 10px; min-height: 30px; border-radius: 8px; }}
    QPushButton[role="small"]:focus {{ padding: 1px 9px; }}
    QCheckBox {{ spacing: 10px; padding: 4px; border: 3px solid transparent; border-radius: 6px; }}
    QCheckBox:focus {{ border-color: {shades.ring}; }}
    QCheckBox::indicator {{ width: 20px; height: 20px; border: 2px solid {shades.faint}; border-radius: 5px;
        background: {shades.raised}; }}
    QCheckBox::indicator:checked {{ background: {shades.accent}; border-color: {shades.ink}; }}
    QLabel[role="drop"] {{ color: {shades.muted}; font-size: 22px; border: 3px dashed {shades.faint};
        border-radius: 14px; padding: 12px; }}
    QCheckBox:disabled {{ color: {shades.muted}; }}
    QCheckBox::indicator:disabled {{ background: {shades.ground}; border: 2px dashed {shades.faint}; }}
    QLabel[role="quiet"] {{ color: {shades.muted}; }}
    QLabel[role="heading"] {{ font-size: 22px; font-weight: 600; }}
    QLabel[role="trouble"] {{ color: {shades.outside}; font-weight: 600; }}
    QFrame[role="strip"] {{ background: {shades.raised}; border: 0; border-left: 6px solid {shades.accent}; }}
    QFrame[role="practice"] {{ background: {shades.practice}; border: 0; border-radius: 10px; }}
    QScrollArea {{ border: 0; background: transparent; }}
    QSlider::groove:horizontal {{ background: {shades.faint}; height: 4px; border-radius: 2px; }}
    QSlider::sub-page:horizontal {{ background: {shades.ink}; height: 4px; border-radius: 2px; }}
    QSlider::handle:horizontal {{ background: {shades.accent}; border: 3px solid {shades.ground}; width: 18px;
        margin: -14px 0; border-radius: 12px; }}
    QSlider::handle:horizontal:focus {{ border-color: {shades.ring}; }}
    QScrollBar:vertical {{ background: transparent; width: 10px; margin: 0; }}
    QScrollBar::handle:vertical {{ background: {shades.faint}; border-radius: 4px; min-height: 24px; }}
    QScrollBar:horizontal {{ background: transparent; height: 10px; margin: 0; }}
    QScrollBar::handle:horizontal {{ background: {shades.faint}; border-radius: 4px; min-width: 24px; }}
    QScrollBar::add-line, QScrollBar::sub-line {{ height: 0; width: 0; }}
    QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
    QHeaderView::section {{ background: {shades.ground}; color: {shades.muted}; border: 0; padding: 6px; }}
    """


class Screen(Protocol):
    """A screen that knows its size; Qt's `QScreen` is one."""

    def physicalDotsPerInch(self) -> float:
        """Style pixels an inch."""
        ...


class Theme:
    """The look in force. Painted widgets ask `shades`; `apply` changes the whole application."""

    def __init__(self, look: Look = Look.SYSTEM) -> None:
        self.look = look
        self.shades = LIGHT
        self.millimetre = MILLIMETRE
        self.screen: Screen | None = None  # where the window is, once that is known

    def measure(self, dots_an_inch: float) -> None:
        """Take up how many style pixels an inch of the screen has."""
        self.millimetre = min(max(dots_an_inch / 25.4, _LEAST_MILLIMETRE), _MOST_MILLIMETRE)

    def apply(self, app: QApplication) -> None:
        """Take up the look. Every widget gets a palette change from Qt and repaints."""
        self.shades = shades_for(self.look)
        screen = self.screen or app.primaryScreen()
        if screen is not None:
            self.measure(screen.physicalDotsPerInch())
        app.setStyle("Fusion")
        font = app.font()
        font.setPixelSize(LETTER)
        app.setFont(font)
        app.setPalette(qt_palette(self.shades))
        app.setStyleSheet(style_sheet(self.shades))


THEME = Theme()


def shades() -> Shades:
    """The shades in force."""
    return THEME.shades


def millimetres(size: float) -> float:
    """Style pixels of a length on the screen in use."""
    return size * THEME.millimetre


def legible_letter() -> float:
    """The font height whose capitals can be read at two metres."""
    return millimetres(LEGIBLE_MM) / CAPITAL


def glove_sheet(border: int = 2, padding: int = 6) -> str:
    """A style for a key pressed with gloves on; a height set in code would yield to the sheet's."""
    return f"min-height: {round(millimetres(GLOVE_MM)) - 2 * (border + padding)}px;"


def wear(widget: QWidget, sheet: str) -> None:
    """Give a widget a style of its own; one that it has already costs nothing (Qt would polish it anew)."""
    if widget.styleSheet() != sheet:
        widget.setStyleSheet(sheet)


def sized_font(widget: QWidget, pixels: float, bold: bool = False) -> QFont:
    """The widget's font at a height in style pixels."""
    font = QFont(widget.font())
    font.setPixelSize(max(9, round(pixels)))
    font.setWeight(QFont.Weight.DemiBold if bold else QFont.Weight.Normal)
    return font
