"""What stands on the working screen does not contradict itself, is not said twice, and is shown whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from fake_bench import AS_FOUND, HIGH, LEFT, FakeBench, setup, state, trimming_picture, warm_up
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QScrollArea, QWidget
from pytestqt.qtbot import QtBot

from app.reports.curve_picture import Axis, Curve, CurvePicture, paint_curves
from app.windows.channel_row import ChannelRow
from app.windows.steps_column import verdict_words, whole_in_sight
from app.windows.theme import CONTRAST, DARK, LIGHT, Shades, contrast, style_sheet
from app.windows.wording import deviation
from app.windows.working_screen import WorkingScreen
from drivers.reading import Unit
from procedures.analysis.channel import NOT_READ, ChannelState, Position
from procedures.events import AnswerKind, Outcome, Question, RunEnded, Supply, Verdict
from procedures.view import ActiveAlarm, RunView

Show = Callable[[FakeBench], WorkingScreen]


def _row(qtbot: QtBot, state_now: ChannelState, **told: object) -> ChannelRow:
    row = ChannelRow(0)
    qtbot.addWidget(row)
    row.show_state(state_now, setup(LEFT), **told)  # type: ignore[arg-type]
    return row


def test_under_a_signal_nothing_is_told_of_the_level_before_it(qtbot: QtBot) -> None:
    """449 mV is no bias then: neither the level before it nor "high" is told of it."""
    stale = state(warm_up(LEFT, 0.0, 0.0, 60.0), 0.0, value=0.4494, reason="a signal is applied")
    assert "high" in _row(qtbot, stale).words[0]

    row = _row(qtbot, stale, driven=True)

    assert row.words[0] == "a signal is applied"
    assert "449.4" in row.accessibleName()


def test_the_first_reading_is_a_reading() -> None:
    first = ChannelState(channel=LEFT, at_s=1.0, value=0.0, position=Position.UNKNOWN, reason=NOT_READ)
    assert deviation(first, setup(LEFT)) == "not judged yet"
    assert deviation(replace(first, value=None), setup(LEFT)) == NOT_READ


def test_what_was_left_stands_beside_a_channel_once_all_is_over(shown: Show) -> None:
    """There is nothing to read any more, but this is what the job was for."""
    bench = FakeBench(trimming_picture())
    over = ChannelState(channel=LEFT, at_s=1260.0, gap="no supply, as you said")
    bench.show_view(
        channels=(over,),
        advice=(),
        supply=Supply.OFF,
        ended=RunEnded(1260.0, True, "Every step was carried out."),
    )
    screen = shown(bench)
    assert "left bias as found: 10.62 mV" in screen.findChild(ChannelRow).words[1]


def _asking(text: str, kind: AnswerKind) -> Question:
    return Question(10.0, "left/1", "left", text, kind, unit=Unit.OHM if kind is AnswerKind.VALUE else None)


@pytest.mark.parametrize(
    ("kind", "hint"),
    [(AnswerKind.TEXT, "type it here, then Enter"), (AnswerKind.VALUE, "a value, then Enter")],
)
def test_a_field_says_how_an_entry_ends_where_the_question_stands_above(
    shown: Show, kind: AnswerKind, hint: str
) -> None:
    """The instruction asks; the same words are not set beside the field again."""
    bench = FakeBench(trimming_picture())
    bench.show_view(question=_asking("Turn the left trimmer until it shows 13.2 mV", kind))
    field = shown(bench).answers.field
    assert field.isVisible()
    assert field.placeholderText() == hint
    bench.show_view(question=_asking("Another thing altogether", kind))
    assert shown(bench).answers.field.placeholderText() == ""


def test_the_traces_have_the_room_of_the_answers_during_an_alarm(shown: Show) -> None:
    """How fast it rises is seen while it rises; what is asked goes before."""
    bench = FakeBench(trimming_picture())
    story = "Left bias reads 41.2 mV, 3.1 times its target, rising 12 mV/min; 5.1 W per device. " * 2
    bench.show_view(alarms=(ActiveAlarm(replace(HIGH, text=story)),))
    screen = shown(bench)
    assert screen.plot.isVisible()
    bench.show_view(question=AS_FOUND)
    screen.refresh()
    assert not screen.plot.isVisible()


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        (Verdict(1.0, "a", LEFT, Outcome.PASSED, "13.4 mV is inside"), "left bias passed: 13.4 mV is inside"),
        (
            Verdict(1.0, "a", None, Outcome.PASSED, "left bias: passed (13.4 mV)"),
            "left bias: passed (13.4 mV)",
        ),
        (Verdict(1.0, "a", None, Outcome.FAILED, "too much play"), "failed: too much play"),
    ],
)
def test_an_outcome_is_said_once(verdict: Verdict, words: str) -> None:
    assert verdict_words(verdict) == words


def test_a_line_is_shown_whole_or_not_at_all(qtbot: QtBot) -> None:
    """Half a line cannot be read; one that is never seen whole is shown all the same."""
    area, inside = QScrollArea(), QWidget()
    qtbot.addWidget(area)
    inside.setFixedSize(100, 400)
    area.setWidget(inside)
    area.resize(120, 100)
    with qtbot.waitExposed(area):
        area.show()
    area.verticalScrollBar().setValue(50)
    seen = [whole_in_sight(inside, top, 30) for top in (20, 60, 100, 140)]
    assert seen == [False, True, True, False]
    assert whole_in_sight(inside, 0, 500)


@pytest.mark.parametrize("shades", [LIGHT, DARK, CONTRAST], ids=lambda one: one.name)
def test_examples_in_fields_and_the_focus_can_be_seen(shades: Shades) -> None:
    """Text 4.5:1, the ring of the focus 3:1 (WCAG 2.2, recalled); in high contrast it outshines all edges."""
    assert f"placeholder-text-color: {shades.faint}" in style_sheet(shades)
    assert contrast(shades.faint, shades.raised) >= 4.5
    assert contrast(shades.ring, shades.ground) >= 3.0
    if shades is CONTRAST:
        assert contrast(shades.ring, shades.ground) > contrast(shades.faint, shades.ground)


def _ink(remark: str, width: int) -> np.ndarray:
    """How many dark dots each of the lowest rows of a picture has."""
    ends = np.array([1.0, 2.0])
    picture = CurvePicture("t", "s", Axis("x", 0.0, 3.0), Axis("y", 0.0, 3.0), (Curve("c", ends, ends),))
    image = QImage(width, 400, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    paint_curves(painter, replace(picture, remark=remark), float(width), 400.0)
    painter.end()
    dots = np.frombuffer(image.constBits(), dtype=np.uint32).reshape(400, width) & 0xFF
    return np.asarray((dots[:, : width - 4] < 128).sum(axis=1))


@pytest.mark.usefixtures("qapp")
def test_a_remark_under_a_curve_takes_the_lines_that_it_needs() -> None:
    """And pushes the picture up instead of running over the paper's edge."""
    words = "A normal current lies below the valley of this curve; it is a ruler and no target at all. " * 2
    broad, narrow = _ink(words, 1600), _ink(words, 500)
    assert (broad[-60:] > 0).sum() < (narrow[-60:] > 0).sum()
    image = _ink("", 500)
    assert image[-20:].sum() == 0
    assert narrow[-4:].sum() == 0


def test_steps_come_from_the_view(shown: Show) -> None:
    """A verdict stands under the title of the step that gave it."""
    bench = FakeBench(trimming_picture())
    view: RunView = bench.picture().view
    bench.show_view(verdicts=(Verdict(200.0, view.steps[3].id, LEFT, Outcome.PASSED, "13.4 mV is inside"),))
    names = [w.accessibleName() for w in shown(bench).findChildren(QWidget)]
    assert any("Warm up until settled; left bias passed" in name for name in names)
