"""The signs of the five tiers of alarm, one shape and one word each, at any size."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF, QTransform

from app.windows.actions import QT_TRANSLATE_NOOP
from procedures.events import Tier

_WORDS = {
    Tier.OFF: QT_TRANSLATE_NOOP("alarms", "mains off"),
    Tier.ACT: QT_TRANSLATE_NOOP("alarms", "turn down"),
    Tier.LEAD: QT_TRANSLATE_NOOP("alarms", "lead"),
    Tier.BLIND: QT_TRANSLATE_NOOP("alarms", "not watched"),
    Tier.LOOK: QT_TRANSLATE_NOOP("alarms", "look"),
}


def alarm_word(tier: Tier) -> str:
    """What stands beside the sign where there is room for a word or two."""
    return QCoreApplication.translate("alarms", _WORDS[tier])


def draw_sign(painter: QPainter, tier: Tier, centre: QPointF, size: float, colour: str) -> None:
    """Draw a tier's shape about a place: eight corners, triangle, broken lead, closed eye, ring.

    Args:
        painter: Where to draw; is left as it was.
        tier: Whose shape.
        centre: The middle of the sign.
        size: Height and width, in the painter's units.
        colour: `#rrggbb`.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(centre)
    painter.scale(size / 2.0, size / 2.0)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(QColor(colour), 0.16, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    {
        Tier.OFF: _eight_corners,
        Tier.ACT: _triangle,
        Tier.LOOK: _ring,
        Tier.LEAD: _broken_lead,
        Tier.BLIND: _closed_eye,
    }[tier](painter)
    painter.restore()


def _eight_corners(painter: QPainter) -> None:
    corner = QTransform().rotate(22.5)
    points = [corner.map(QTransform().rotate(45.0 * i).map(QPointF(0.0, -0.9))) for i in range(8)]
    painter.drawPolygon(QPolygonF(points))
    for x, y in ((0.0, 0.45), (0.45, 0.0), (0.32, 0.32), (-0.32, 0.32)):
        painter.drawLine(QPointF(-x, -y), QPointF(x, y))


def _call(painter: QPainter) -> None:
    painter.drawLine(QPointF(0.0, -0.3), QPointF(0.0, 0.18))
    painter.drawPoint(QPointF(0.0, 0.48))


def _triangle(painter: QPainter) -> None:
    painter.drawPolygon(QPolygonF([QPointF(0.0, -0.85), QPointF(0.92, 0.75), QPointF(-0.92, 0.75)]))
    _call(painter)


def _ring(painter: QPainter) -> None:
    painter.drawEllipse(QPointF(0.0, 0.0), 0.85, 0.85)
    _call(painter)


def _broken_lead(painter: QPainter) -> None:
    painter.drawLine(QPointF(-0.9, 0.0), QPointF(-0.35, 0.0))
    painter.drawLine(QPointF(0.35, 0.0), QPointF(0.9, 0.0))
    painter.drawLine(QPointF(-0.15, -0.6), QPointF(-0.35, 0.6))
    painter.drawLine(QPointF(0.35, -0.6), QPointF(0.15, 0.6))


def _closed_eye(painter: QPainter) -> None:
    painter.drawArc(QRectF(-0.9, -0.9, 1.8, 1.2), 180 * 16, 180 * 16)
    for x in (-0.6, 0.0, 0.6):
        painter.drawLine(QPointF(x * 0.8, 0.32 - abs(x) * 0.25), QPointF(x, 0.70 - abs(x) * 0.3))
