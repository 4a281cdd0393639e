"""A loud alarm on the smallest windows: its words and the digits that it speaks of are seen together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from fake_bench import AS_FOUND, HIGH, LEFT, RIGHT, FakeBench, trimming_picture
from PySide6.QtCore import QPoint, QRect
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from app.windows.theme import THEME
from app.windows.working_screen import WorkingScreen
from procedures.events import Tier
from procedures.view import ActiveAlarm

STORY = "Left bias reads 41.2 mV, 3.1 times its target, rising 12 mV/min; 5.1 W per device (limit 4.0 W)."


@pytest.fixture
def small(qapp: QApplication, qtbot: QtBot) -> Iterator[tuple[FakeBench, WorkingScreen]]:
    """On a screen with 116 dots an inch, of which three are one style pixel."""
    THEME.measure(116.0 / 3.0)
    bench = FakeBench(trimming_picture())
    screen = WorkingScreen(bench)
    screen.resize(427, 267)
    with qtbot.waitExposed(screen):
        screen.show()
    yield bench, screen
    screen.close_down()
    screen.close()
    screen.deleteLater()
    THEME.apply(qapp)


def _seen(part: QWidget, screen: QWidget) -> bool:
    """Whether all of a part is in sight, with nothing that scrolls cutting it off."""
    whole = QRect(part.mapTo(screen, QPoint(0, 0)), part.size())
    return part.isVisible() and screen.rect().contains(whole) and part.visibleRegion().contains(part.rect())


@pytest.mark.parametrize("asked", [False, True], ids=["nothing asked", "asked"])
@pytest.mark.parametrize("channel", [LEFT, RIGHT])
@pytest.mark.parametrize("size", [(427, 267), (427, 240), (640, 360)], ids=str)
def test_words_and_digits_of_an_alarm_are_seen_together(
    size: tuple[int, int], channel: str, asked: bool, small: tuple[FakeBench, WorkingScreen]
) -> None:
    """1280 by 800 at 300 %, with and without a title bar; and what is asked then comes after them."""
    bench, screen = small
    screen.resize(*size)
    alarm = replace(HIGH, tier=Tier.OFF, channel=channel, text=STORY)
    changes = {"question": AS_FOUND} if asked else {}
    bench.show_view(alarms=(ActiveAlarm(alarm),), **changes)
    screen.refresh()
    QApplication.processEvents()
    assert _seen(screen.banner.explanation, screen)
    assert _seen(screen.banner.seen_button, screen)
    assert _seen(screen.key, screen)
    assert _seen(screen.rows[channel].figures, screen)

    bench.show_view(alarms=(ActiveAlarm(alarm, acknowledged=True),), **changes)
    screen.refresh()
    QApplication.processEvents()
    tops = [row.mapTo(screen, QPoint(0, 0)).y() for row in screen.rows.values()]
    assert tops == sorted(tops)  # the rows are in their order again


@pytest.mark.parametrize("size", [(427, 240), (640, 360)], ids=str)
def test_the_deed_of_an_alarm_is_its_largest_line(
    size: tuple[int, int], small: tuple[FakeBench, WorkingScreen]
) -> None:
    """However long the story is: what is to be done keeps a line of letters no smaller than the story's."""
    bench, screen = small
    screen.resize(*size)
    long = f"{STORY[:-1]}, and not slowing down enough; twice the target in about 4 min."
    bench.show_view(alarms=(ActiveAlarm(replace(HIGH, tier=Tier.ACT, channel=LEFT, text=long)),))
    screen.refresh()
    QApplication.processEvents()
    head, story = screen.banner.letters
    assert head >= story > 0.0


def test_the_channel_that_is_worked_on_is_seen_first_where_not_all_are(
    small: tuple[FakeBench, WorkingScreen],
) -> None:
    """While the right trimmer is turned on a small window, the right reading stands before the left."""
    bench, screen = small
    screen.resize(640, 360)
    bench.show_view(focus=RIGHT)
    screen.refresh()
    QApplication.processEvents()
    tops = {name: row.mapTo(screen, QPoint(0, 0)).y() for name, row in screen.rows.items()}
    assert tops[RIGHT] < tops[LEFT]
