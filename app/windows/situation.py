"""The line that says how things stand: unit, feed, lid, meters, record, practice."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt, QTimer, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QLabel, QWidget

from app.bench.sound.desk import MUTED
from app.language import worded
from app.windows.lettering import Sentence
from app.windows.number_sign import signed
from app.windows.ports import BenchPicture
from app.windows.theme import shades, wear
from app.windows.worded import Label
from app.windows.wording import meter_words, supply_words
from drivers.reading import MeterState

LEAST_LETTER = 12.0  # style pixels
_SAID_MS = 6000
UNIT_SHARE = 0.34  # of the width of the line, for maker, model and serial number at the most
SAID_SHARE = 0.15  # and at the least for an answer
LEAST_METERS = 120  # style pixels: what the meters do, or their trouble
_ILL = (MeterState.RESYNCING, MeterState.WAITING, MeterState.STOPPED)


class MeterWords(Sentence):
    """What the meters do. That all is well is left out where there is no room; a trouble never is."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(16.0, bold=False, parent=parent)
        self._calm = ""
        self._trouble = ("", "", "")

    def show_calm(self, words: str) -> None:
        """Say that all is well, if there is room."""
        self._calm, self._trouble = words, ("", "", "")
        self.setToolTip("")
        self._weigh()

    def show_trouble(self, words: str, colour: str, short: str = "") -> None:
        """Say what is the matter, in `short` where the words have no room; the tip has all of them."""
        self._calm, self._trouble = "", (words, colour, short)
        self.setToolTip(words)
        self.show_text(words, colour)
        self._weigh()

    def _weigh(self) -> None:
        words, colour, short = self._trouble
        if short:
            self.show_text(words, colour)
            if self.height_for(self.width(), LEAST_LETTER) > self.height():
                self.show_text(short, colour)
        if self._calm:
            self.show_text(self._calm, shades().muted)
            if self.height_for(self.width(), LEAST_LETTER) > self.height():
                self.show_text("", shades().muted)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another size has other room."""
        super().resizeEvent(event)
        self._weigh()


class Shortened(Label):
    """Words that take no more than their room on the line; the tip has all of them."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._most = 10_000

    def setText(self, text: str) -> None:
        """Show words."""
        super().setText(text)
        self.setToolTip(text)
        self._shorten()

    def take_room(self, pixels: int) -> None:
        """Be no broader than this."""
        if pixels != self._most:
            self._most = pixels
            self._shorten()

    @property
    def whole(self) -> str:
        """All of the words."""
        return worded(self.english())

    def changeEvent(self, event: QEvent) -> None:
        """Other letters need other room."""
        super().changeEvent(event)
        if event.type() is QEvent.Type.FontChange:
            self._shorten()

    def _shorten(self) -> None:
        whole, metrics = self.whole, self.fontMetrics()
        # What wraps is shortened only for a word that is too long for a line, such as a path.
        wraps = self.wordWrap() and all(metrics.horizontalAdvance(w) <= self._most for w in whole.split())
        shown = whole if wraps else metrics.elidedText(whole, Qt.TextElideMode.ElideMiddle, self._most)
        if shown != self.text():
            QLabel.setText(self, shown)


class SituationLine(QWidget):
    """Facts in words, quiet while all is well; troubles are written out."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._unit = Shortened(self)
        self._feed = Label(self)
        self._meters = MeterWords(self)
        self._sound = Label(self)
        self._said = Shortened(self)
        self._badge = Label(self)
        self._badge.hide()
        self._narrow = False
        self._letter = 16
        self._row = layout = QHBoxLayout(self)
        layout.setContentsMargins(16, 4, 12, 0)
        layout.setSpacing(18)
        for label in (self._badge, self._unit, self._feed, self._sound):
            layout.addWidget(label)
        layout.addWidget(self._meters, 1)
        layout.addWidget(self._said)
        self._forget = QTimer(self)
        self._forget.setSingleShot(True)
        self._forget.setInterval(_SAID_MS)
        self._forget.timeout.connect(self._quiet)

    def set_narrow(self, narrow: bool) -> None:
        """One under the other where there is no room beside."""
        way = QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        self._narrow = narrow
        self._row.setDirection(way)
        self._row.setSpacing(2 if narrow else 18)
        self._meters.setMinimumHeight(44 if narrow else 0)
        for label in (self._unit, self._feed, self._sound, self._said):
            label.setWordWrap(narrow)
        self._give_room()

    def _give_room(self) -> None:
        """A long name or path must not push away what the meters do."""
        line = self.width() - 30
        self._unit.take_room(line if self._narrow else round(UNIT_SHARE * line))
        others = (self._badge, self._unit, self._feed, self._sound)
        taken = sum(one.sizeHint().width() + self._row.spacing() for one in others if not one.isHidden())
        left = line - taken - LEAST_METERS - 2 * self._row.spacing()
        self._said.take_room(line if self._narrow else max(left, round(SAID_SHARE * line)))

    @property
    def text(self) -> str:
        """All that the line says."""
        words = (
            self._badge.text(),
            self._unit.whole,
            self._feed.text(),
            self._sound.text(),
            self._meters.text,
            self._said.whole,
        )
        return "  ".join(text for text in words if text)

    def show_picture(self, picture: BenchPicture) -> None:
        """Say how things stand now."""
        colours = shades()
        view = picture.view
        badge = ""
        if picture.review:
            badge = self.tr("REVIEW")
        elif picture.practice:
            badge = self.tr("PRACTICE")
        if badge and picture.speed != 1.0:
            badge += signed(f" · ×{picture.speed:g}")
        self._badge.setText(badge)
        self._badge.setVisible(bool(badge))
        wear(
            self._badge,
            f"background: {colours.practice}; color: {colours.ink}; padding: 2px 10px; border-radius: 8px;"
            " font-weight: 600;",
        )
        self._unit.setText(picture.unit_name)
        wear(self._unit, "font-weight: 600;")
        lid = self.tr("lid on") if view.lid_fitted else self.tr("lid off")
        feed = supply_words(view.supply, view.power_on_s, view.at_s, picture.supply_told)
        self._feed.setText(f"{feed} · {lid}")
        self._show_sound(picture)
        self._show_meters(picture)

    def _show_sound(self, picture: BenchPicture) -> None:
        """That nothing is heard, in two words; the reason is said once and is in the tip."""
        muted = picture.sound.startswith((MUTED, "Muted"))
        words = self.tr("♪ muted") if muted else self.tr("♪ no sound")
        self._sound.setText(words if picture.sound else "")
        self._sound.setVisible(bool(picture.sound))
        self._sound.setToolTip(picture.sound)
        self._sound.setAccessibleName(picture.sound)

    def _leaning(self, picture: BenchPicture) -> str:
        """On which earlier visits of this unit the forecast leans."""
        days = ", ".join(picture.view.remembered)
        return self.tr("forecast leans on the visit of {day}").format(day=days) if days else ""

    def _show_meters(self, picture: BenchPicture) -> None:
        leaning = self._leaning(picture)
        if picture.review:
            colour = shades().outside if picture.trouble else shades().muted
            self._meters.show_trouble(picture.trouble or leaning, colour)
            return
        short = ""
        ill = [m for m in picture.meters if m.state in _ILL]
        if picture.trouble:
            words, colour = picture.trouble, shades().outside
        elif ill:
            words = " · ".join(
                f"{m.meter}: {meter_words(m.state)}" + (f" ({m.detail})" if m.detail else "") for m in ill
            )
            short = " · ".join(f"{m.meter}: {meter_words(m.state)}" for m in ill)
            colour = shades().outside
        else:
            meters = [f"{m.meter}: {meter_words(m.state)}" for m in picture.meters]
            if leaning and len({m.state for m in picture.meters}) == 1 < len(meters):
                meters = [f"{len(meters)} × {meter_words(picture.meters[0].state)}"]  # room for the other
            words = " · ".join(filter(None, (leaning, *meters)))
            colour = shades().muted
        if colour == shades().muted:
            self._meters.show_calm(words)
        else:
            self._meters.show_trouble(words, colour, short)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Smaller letters on a small window."""
        super().resizeEvent(event)
        letter = 16 if self.width() >= 1100 or self._narrow else 14
        if letter != self._letter:
            self._letter = letter
            self.setStyleSheet(f"QLabel {{ font-size: {letter}px; }}")
        self._give_room()

    def say(self, sentence: str) -> None:
        """Answer a key in words, for some seconds."""
        wear(self._said, f"color: {shades().ink}; font-weight: 600;")
        self._said.setText(sentence)
        self._give_room()
        self._forget.start()

    @Slot()
    def _quiet(self) -> None:
        self._said.setText("")
