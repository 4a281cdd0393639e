"""The level: a tube with two marks, a bubble where the reading is, an outline where it will come to rest.

The window between the two marks is always the same piece of the tube, whatever its width in millivolts;
beyond the marks the scale is squeezed, so that a reading at three times the target is still on it. The
bubble is as wide as the reading is uncertain (scatter and resolution). Inside the window the bubble is
filled, outside it is hollow: shape says it as well as colour.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.language import worded
from app.windows.drawn_once import Layer
from app.windows.number_sign import signed
from app.windows.theme import shades, sized_font
from app.windows.worded import WordedWidget
from app.windows.wording import limits, shown_number, shown_unit
from procedures.analysis.channel import ChannelSetup, ChannelState

WINDOW_SHARE = 0.36  # of half the tube
LOW_TUBE = 34.0  # style pixels
LEAST_REACH = 20.0  # half windows to the end of the tube
TARGETS_ON_IT = 3.2  # and at least so many times the target: the highest alarm is to be seen


@lru_cache(maxsize=256)
def squeeze(reach: float) -> float:
    """What makes the slope of the scale the same on both sides of a mark, for a tube of this reach.

    The positive root of (1 - share) k = share ln(1 + (reach - 1) k).
    """

    def kink(k: float) -> float:
        return (1.0 - WINDOW_SHARE) * k - WINDOW_SHARE * math.log1p((reach - 1.0) * k)

    # From the minimum of `kink` on it rises, so the root lies between there and any point above zero.
    low = max(WINDOW_SHARE / (1.0 - WINDOW_SHARE) - 1.0 / (reach - 1.0), 1e-6)
    high = low + 1.0
    while kink(high) < 0.0:
        high *= 2.0
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if kink(middle) < 0.0 else (low, middle)
    return high


def along(distance: float, reach: float = LEAST_REACH) -> float:
    """Place on the tube, -1..1, of a level `distance` half windows from the middle of the window.

    Straight between the marks, logarithmic beyond; anything farther than `reach` lies at the end.
    """
    size = abs(distance)
    if size <= 1.0:
        place = WINDOW_SHARE * size
    else:
        k = squeeze(reach)
        share = math.log1p(k * (min(size, reach) - 1.0)) / math.log1p(k * (reach - 1.0))
        place = WINDOW_SHARE + (1.0 - WINDOW_SHARE) * share
    return math.copysign(place, distance)


@dataclass(frozen=True, slots=True)
class LevelPicture:
    """What the tube shows, in places -1..1 along it; None where there is nothing to show."""

    low_mark: float
    high_mark: float
    low_words: str
    high_words: str
    bubble: float | None = None
    bubble_half: float = 0.0
    inside: bool = False
    beyond: bool = False
    heading: float | None = None
    heading_low: float = 0.0
    heading_high: float = 0.0
    show_at: float | None = None
    ticks: tuple[tuple[float, str], ...] = ()
    judged: bool = True


def picture_of(
    state: ChannelState,
    setup: ChannelSetup,
    seen: tuple[float, float] | None = None,
    show_volts: float | None = None,
) -> LevelPicture | None:
    """What the tube has to show for a channel.

    A channel without a target shows where the level lies between the lowest and the highest that was
    `seen`; None when there is nothing to compare with. `show_volts` is where to turn the reading to now.
    """
    window = limits(setup, state)
    judged = window is not None
    if window is None:
        if seen is None or seen[1] - seen[0] <= 0.0:
            return None
        window = seen
    low, high = window
    middle, half = (low + high) / 2.0, (high - low) / 2.0

    reach = LEAST_REACH
    if judged and setup.target_volts:
        reach = max(reach, round((TARGETS_ON_IT * setup.target_volts - middle) / half, 1))

    def place(value: float) -> float:
        return along((value - middle) / half, reach)

    words = [signed(f"{shown_number(v, setup.unit):.2f}".rstrip("0").rstrip(".")) for v in (low, high)]
    ticks: tuple[tuple[float, str], ...] = ()
    if judged and setup.target_volts:
        # In the order in which they get a place: where the alarms begin and end comes first.
        marks = ((0.0, "0"), (1.5, signed("×1.5")), (3.0, "×3"), (2.0, "×2"))
        ticks = tuple(
            (place(factor * setup.target_volts), text)
            for factor, text in marks
            if 1.5 < abs(factor * setup.target_volts - middle) / half <= reach
        )
    bubble = None if state.level is None else place(state.level)
    scatter = 2.0 * (state.noise or 0.0)
    if setup.accuracy is not None:
        scatter = max(scatter, setup.accuracy.resolution)
    heading = state.forecast if state.forecast is not None and state.forecast.spoken else None
    return LevelPicture(
        low_mark=place(low),
        high_mark=place(high),
        low_words=words[0],
        high_words=f"{words[1]} {shown_unit(setup.unit)}",
        bubble=bubble,
        bubble_half=min(scatter / half, 1.0) * WINDOW_SHARE,
        inside=judged and state.level is not None and low <= state.level <= high,
        beyond=state.level is not None and abs(state.level - middle) > reach * half,
        heading=None if heading is None else place(heading.volts),
        heading_low=0.0 if heading is None else place(heading.low_volts),
        heading_high=0.0 if heading is None else place(heading.high_volts),
        show_at=None if show_volts is None else place(show_volts),
        ticks=ticks,
        judged=judged,
    )


def _scale_of(picture: LevelPicture) -> tuple[object, ...]:
    """All of a picture that stands still while readings come in, in the words that are shown."""
    words = (worded(picture.low_words), worded(picture.high_words))
    ticks = tuple((place, worded(text)) for place, text in picture.ticks)
    return picture.low_mark, picture.high_mark, words, ticks, picture.judged


class Level(WordedWidget):
    """Paints a `LevelPicture`."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._picture: LevelPicture | None = None
        self._behind, self._before = Layer(self), Layer(self)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAccessibleName(self.tr("Level in the target window"))

    @property
    def picture(self) -> LevelPicture | None:
        """What is shown."""
        return self._picture

    def show_picture(self, picture: LevelPicture | None) -> None:
        """Show another state of the channel."""
        if picture != self._picture:
            self._picture = picture
            self.update()

    def sizeHint(self) -> QSize:
        """A tube about four times as long as high."""
        return QSize(420, 120)

    def minimumSizeHint(self) -> QSize:
        """Small enough for four channels on a small screen."""
        return QSize(160, 56)

    # --- geometry -------------------------------------------------------------------------------------

    def _tube(self) -> QRectF:
        height = min(self.height() * 0.60, 150.0, max(14.0, self.height() - 30.0))
        top = min(self.height() * 0.20, max(7.0, height * 0.3))
        return QRectF(6.0, top, self.width() - 12.0, height)

    def _x(self, place: float) -> float:
        tube = self._tube()
        reach = tube.width() / 2.0 - tube.height() * 0.42
        return tube.center().x() + place * reach

    def _rise(self, x: float) -> float:
        """The tube is bent upwards a little, so that its middle is its highest place."""
        tube = self._tube()
        share = (x - tube.center().x()) / (tube.width() / 2.0)
        return -tube.height() * 0.13 * (1.0 - share * share)

    def _bent(self, low: float, high: float, inset: float) -> QPainterPath:
        """The piece of the tube between two x, with straight ends."""
        tube = self._tube()
        steps = 24
        xs = [low + (high - low) * i / steps for i in range(steps + 1)]
        path = QPainterPath(QPointF(xs[0], tube.top() + inset + self._rise(xs[0])))
        for x in xs[1:]:
            path.lineTo(x, tube.top() + inset + self._rise(x))
        for x in reversed(xs):
            path.lineTo(x, tube.bottom() - inset + self._rise(x))
        path.closeSubpath()
        return path

    def _outline(self) -> QPainterPath:
        tube = self._tube()
        radius = tube.height() / 2.0
        path = self._bent(tube.left() + radius, tube.right() - radius, 0.0)
        for x in (tube.left() + radius, tube.right() - radius):
            path = path.united(self._lens(x, radius, radius))
        return path

    def _lens(self, x: float, half_width: float, half_height: float) -> QPainterPath:
        path = QPainterPath()
        middle = self._tube().center().y() + self._rise(x)
        path.addEllipse(QPointF(x, middle), half_width, half_height)
        return path

    # --- painting -------------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the tube and what is in it; only what moves is drawn anew each time."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        picture = self._picture
        scale = None if picture is None else _scale_of(picture)
        key = (shades().name, self.font().toString(), scale)
        self._behind.lay(painter, key, self._draw_behind)
        if picture is not None:
            self._draw_heading(painter, picture)
            self._draw_bubble(painter, picture)
            self._before.lay(painter, key, self._draw_before)
            self._draw_pointer(painter, picture)
        painter.end()

    def _draw_behind(self, painter: QPainter) -> None:
        colours = shades()
        painter.setPen(QPen(QColor(colours.faint), 2.0))
        painter.setBrush(QColor(colours.raised))
        painter.drawPath(self._outline())
        if self._picture is not None:
            self._draw_window(painter, self._picture)
            self._draw_ticks(painter, self._picture)

    def _draw_before(self, painter: QPainter) -> None:
        if self._picture is not None:
            self._draw_marks(painter, self._picture)

    def _draw_window(self, painter: QPainter, picture: LevelPicture) -> None:
        if picture.judged:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(shades().band))
            painter.drawPath(self._bent(self._x(picture.low_mark), self._x(picture.high_mark), 1.5))

    def _draw_ticks(self, painter: QPainter, picture: LevelPicture) -> None:
        tube = self._tube()
        painter.setFont(sized_font(self, max(11.0, tube.height() * 0.15)))
        painter.setPen(QPen(QColor(shades().muted), 1.5))
        written: list[float] = []
        for place, text in picture.ticks:
            x = self._x(place)
            if tube.height() < LOW_TUBE or any(abs(x - other) < 30.0 for other in written):
                continue  # no room for words
            written.append(x)
            bottom = tube.bottom() + self._rise(x)
            painter.drawLine(QPointF(x, bottom - tube.height() * 0.16), QPointF(x, bottom))
            high = max(tube.height() * 0.26, painter.fontMetrics().height())
            if bottom + 2.0 + high > self.height():
                continue
            box = QRectF(x - 40.0, bottom + 2.0, 80.0, high)
            painter.drawText(box, Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop, worded(text))

    def _draw_heading(self, painter: QPainter, picture: LevelPicture) -> None:
        """An outline where the reading will rest, and a bracket above the tube for its interval."""
        if picture.heading is None:
            return
        tube = self._tube()
        colour = QColor(shades().ink)
        x = self._x(picture.heading)
        pen = QPen(colour, 2.5, Qt.PenStyle.DotLine)
        painter.setPen(pen)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPath(self._lens(x, tube.height() * 0.36, tube.height() * 0.40))
        low, high = self._x(picture.heading_low), self._x(picture.heading_high)
        y = tube.top() + min(self._rise(low), self._rise(high), self._rise(x)) - tube.height() * 0.13
        painter.setPen(QPen(colour, 2.5))
        painter.drawLine(QPointF(low, y), QPointF(high, y))
        for end in (low, high):
            painter.drawLine(QPointF(end, y), QPointF(end, y + tube.height() * 0.09))

    def _draw_bubble(self, painter: QPainter, picture: LevelPicture) -> None:
        if picture.bubble is None:
            return
        tube = self._tube()
        x = self._x(picture.bubble)
        reach = abs(self._x(picture.bubble_half) - self._x(0.0))
        half_width = max(tube.height() * 0.24, reach)
        lens = self._lens(x, half_width, tube.height() * 0.36)
        colours = shades()
        if picture.inside:
            painter.setPen(QPen(QColor(colours.inside), 2.0))
            painter.setBrush(QColor(colours.inside))
        else:
            painter.setPen(QPen(QColor(colours.outside if picture.judged else colours.ink), 6.0))
            painter.setBrush(QColor(colours.raised))
        painter.drawPath(lens)
        middle = tube.center().y() + self._rise(x)
        painter.setPen(QPen(QColor(colours.raised if picture.inside else colours.ink), 2.5))
        painter.drawLine(QPointF(x, middle - tube.height() * 0.17), QPointF(x, middle + tube.height() * 0.17))
        if picture.beyond:
            way = math.copysign(1.0, picture.bubble)
            for step in (0.30, 0.44):
                tip = x - way * tube.height() * step + way * half_width
                wing = tube.height() * 0.10
                painter.drawLine(QPointF(tip - way * wing, middle - wing), QPointF(tip, middle))
                painter.drawLine(QPointF(tip, middle), QPointF(tip - way * wing, middle + wing))

    def _draw_marks(self, painter: QPainter, picture: LevelPicture) -> None:
        """The two marks with their values."""
        tube = self._tube()
        colours = shades()
        style = Qt.PenStyle.SolidLine if picture.judged else Qt.PenStyle.DashLine
        over = tube.height() * 0.06
        size = max(13.0, tube.height() * 0.21)
        painter.setFont(sized_font(self, size, bold=True))
        words = ((picture.low_mark, picture.low_words), (picture.high_mark, picture.high_words))
        for place, text in words:
            x = self._x(place)
            rise = self._rise(x)
            painter.setPen(QPen(QColor(colours.ink), 5.0 if picture.judged else 2.0, style))
            painter.drawLine(QPointF(x, tube.top() + rise - over), QPointF(x, tube.bottom() + rise + over))
            painter.setPen(QColor(colours.ink))
            box = QRectF(x - 90.0, tube.bottom() + rise + over, 180.0, size * 1.35)
            painter.drawText(box, Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop, worded(text))

    def _draw_pointer(self, painter: QPainter, picture: LevelPicture) -> None:
        """Where to turn the reading to now."""
        if picture.show_at is not None:
            tube = self._tube()
            x = self._x(picture.show_at)
            top = tube.top() + self._rise(x)
            wedge = tube.height() * 0.13
            pointer = QPainterPath(QPointF(x, top + wedge * 0.4))
            pointer.lineTo(x - wedge, top - wedge * 1.2)
            pointer.lineTo(x + wedge, top - wedge * 1.2)
            pointer.closeSubpath()
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(shades().accent))
            painter.drawPath(pointer)
