from __future__ import annotations

import itertools
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyqtgraph
import pytest
from fake_bench import LEFT, RIGHT, setup, state, warm_up
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.bench.snapshot import Trace
from app.windows.alarm_signs import draw_sign
from app.windows.plot import LivePlot
from app.windows.ports import BenchPicture, TraceMark
from app.windows.theme import THEME, Look, shades
from app.windows.trace_canvas import mark_words
from drivers.reading import Unit
from procedures.analysis.channel import ChannelState
from procedures.events import Tier
from procedures.view import RunView

ROOT = Path(__file__).parents[3]


def trace_of(seconds: np.ndarray, values: np.ndarray, joined: np.ndarray | None = None) -> Trace:
    whole = np.ones(len(seconds), dtype=bool) if joined is None else joined
    return Trace(LEFT, Unit.VOLT, seconds, values, whole, np.empty(0))


@pytest.fixture
def plot(qtbot: QtBot) -> Iterator[LivePlot]:
    plot = LivePlot()
    plot.resize(900, 300)
    with qtbot.waitExposed(plot):
        plot.show()
    yield plot
    plot.close()
    plot.deleteLater()


def feed(plot: LivePlot, *traces: Trace, marks: tuple[TraceMark, ...] = ()) -> None:
    now = max((float(t.seconds[-1]) for t in traces if t.seconds.size), default=0.0)
    states = tuple(state(t, 0.0135) for t in traces if t.seconds.size)
    view = RunView(at_s=now, procedure="watch", title="Watch", channels=states)
    setups = tuple(setup(t.channel) for t in traces)
    plot.show_bench(BenchPicture(serial=1, view=view, setups=setups, traces=traces, marks=marks))


def test_the_binding_is_ours() -> None:
    """pyqtgraph must not bring a second Qt."""
    assert pyqtgraph.Qt.QT_LIB == "PySide6"


def test_the_module_can_be_imported_first() -> None:
    """In a fresh process, whatever else is installed."""
    code = "import app.windows.plot, pyqtgraph; assert pyqtgraph.Qt.QT_LIB == 'PySide6'"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_gaps_are_not_joined_and_nothing_is_eaten(plot: LivePlot) -> None:
    """A line ends at a gap wider than a dot, and every value stays finite."""
    seconds = np.concatenate((np.arange(0.0, 400.0, 0.1), np.arange(460.0, 600.0, 0.1)))
    joined = np.ones(len(seconds), dtype=bool)
    joined[3999] = False
    feed(plot, trace_of(seconds, 0.013 + 1e-5 * np.sin(seconds), joined))

    assert plot.shown is not None
    columns = plot.shown.curves[0].columns

    assert 100 < len(columns) < 2000
    assert np.isfinite(columns.low).all()
    assert list(columns.joined).count(False) == 1
    assert columns.last_s[list(columns.joined).index(False)] == seconds[3999]


def test_one_reading_does_not_look_like_zero(plot: LivePlot) -> None:
    """The view keeps the window in sight and no more than five window widths."""
    feed(plot, trace_of(np.array([1.0]), np.array([0.0136])))
    (_, _), (low, high) = plot.view_range
    assert low < 0.01293
    assert high > 0.01407
    assert high - low < 5 * 0.00135


def test_axes_tell_millivolts_minutes_and_milliamperes(plot: LivePlot) -> None:
    """No kiloseconds, no factors of a thousandth, whatever the range."""
    for until in (10.0, 2000.0):
        feed(plot, warm_up(LEFT, 0.008, 0.0135, until), warm_up(RIGHT, 0.009, 0.0135, until))
        words = plot.axis_words()
        assert "ks" not in words
        assert "x0.001" not in words
        assert "mV" in words
        assert "mA" in words


def test_the_view_follows_and_comes_back_by_itself(plot: LivePlot, qtbot: QtBot) -> None:
    """After a drag the view stays for a while, then returns to the newest reading."""
    feed(plot, warm_up(LEFT, 0.008, 0.0135, 600.0))
    view = plot.findChild(pyqtgraph.PlotWidget).viewport()
    qtbot.mousePress(view, Qt.MouseButton.LeftButton, pos=QPoint(600, 100))
    qtbot.mouseMove(view, QPoint(200, 100))
    qtbot.mouseRelease(view, Qt.MouseButton.LeftButton, pos=QPoint(200, 100))
    plot._box.translateBy(x=300.0)
    plot._box.sigRangeChangedManually.emit([True, False])
    assert not plot.following

    feed(plot, warm_up(LEFT, 0.008, 0.0135, 700.0))
    assert not plot.following
    plot._back.timeout.emit()
    feed(plot, warm_up(LEFT, 0.008, 0.0135, 701.0))

    (start, end), _ = plot.view_range
    assert plot.following
    assert start <= 0.0
    assert end > 701.0


def test_marks_may_be_taken_back(plot: LivePlot) -> None:
    """A withdrawn note disappears, the others stay."""
    marks = (TraceMark(10.0, "step", "as found"), TraceMark(50.0, "note", "buzz"))
    feed(plot, warm_up(LEFT, 0.008, 0.0135, 100.0), marks=marks)
    assert {one.mark.text for one in plot.canvas.placed} == {"as found", "buzz"}
    feed(plot, warm_up(LEFT, 0.008, 0.0135, 100.0), marks=marks[:1])
    assert {one.mark.text for one in plot.canvas.placed} == {"as found"}


def test_words_of_marks_never_cover_each_other(plot: LivePlot) -> None:
    """Twenty marks in a minute: notes and alarms find room first, nothing overlaps."""
    marks = tuple(TraceMark(30.0 + 3.0 * i, "step", f"step number {i}") for i in range(20))
    marks += (TraceMark(61.0, "note", "buzz when touched"), TraceMark(63.0, "alarm", "too high"))
    feed(plot, warm_up(LEFT, 0.008, 0.0135, 100.0), marks=marks)

    placed = plot.canvas.placed

    assert {"buzz when touched", "too high"} <= {one.mark.text for one in placed}
    for row in {one.row for one in placed}:
        boxes = sorted((one.left, one.left + one.width) for one in placed if one.row == row)
        assert all(end <= begin for (_, end), (begin, _) in itertools.pairwise(boxes))


def test_a_spike_of_one_reading_is_drawn(plot: LivePlot) -> None:
    """In a day of readings, at every zoom."""
    seconds = np.arange(0.0, 86400.0, 1.0)
    values = np.full(len(seconds), 0.0135)
    values[40_000] = 0.0172
    feed(plot, trace_of(seconds, values))
    for factor in (1.0, 0.5, 0.1):
        plot.zoom(factor)
        plot.pan((40_000.0 - sum(plot.view_range[0]) / 2) / (plot.view_range[0][1] - plot.view_range[0][0]))
        assert plot.shown is not None
        assert plot.shown.curves[0].columns.high.max() == 0.0172
        assert plot.shown.high > 0.0172


def test_degrees_do_not_flatten_millivolts(plot: LivePlot) -> None:
    """A heatsink has a scale of its own; its value is written at the curve."""
    bias = warm_up(LEFT, 0.008, 0.0135, 300.0)
    sink = Trace("heatsink", Unit.CELSIUS, bias.seconds, 20.0 + bias.seconds / 20.0, bias.joined, np.empty(0))
    feed(plot, bias, sink)
    assert plot.view_range[1][1] < 0.03
    assert "mV" in plot.axis_words()
    labels = [text for text, _ in plot.canvas.labels] or [c.label for c in plot.shown.curves]  # type: ignore[union-attr]
    assert f"heatsink  {sink.values[-1]:.1f} °C" in labels


def test_degrees_alone_are_written_as_degrees(plot: LivePlot) -> None:
    """The axis says °C, as the readings do."""
    seconds = np.arange(0.0, 300.0)
    joined = np.ones(300, dtype=bool)
    feed(plot, Trace("heatsink", Unit.CELSIUS, seconds, 20.0 + seconds / 20.0, joined, np.empty(0)))
    assert "°C" in plot.axis_words()


def test_two_cursors_say_what_was_read_and_how_they_differ(plot: LivePlot) -> None:
    """In mV, mA where the resistance is known, degrees, and minutes since power-on."""
    bias = warm_up(LEFT, 0.008, 0.0135, 700.0)
    sink = Trace("heatsink", Unit.CELSIUS, bias.seconds, 20.0 + bias.seconds / 20.0, bias.joined, np.empty(0))
    feed(plot, bias, sink, marks=(TraceMark(60.0, "supply", "on the mains"),))
    plot.next_cursor()
    plot.cursors.put(660.0, False)
    plot.cursors.put(300.0, True)
    plot.move_cursor(0.0)

    lines = plot.read_out.splitlines()

    assert len(lines) == 3
    level = float(bias.values[np.searchsorted(bias.seconds, 660.0)])
    assert f"left bias  {level * 1e3:.2f} mV = {level / 0.54 * 1e3:.1f} mA" in lines[0]
    assert "10.0 min since power-on" in lines[0]
    assert "heatsink  53.0 °C" in lines[0]
    assert "−6:00" in lines[2]
    assert "heatsink  -18.0 °C" in lines[2]


def test_a_cursor_in_a_gap_says_so(plot: LivePlot) -> None:
    """Missing is never a number."""
    feed(plot, warm_up(LEFT, 0.008, 0.0135, 1000.0))
    plot.cursors.put(510.0, False)
    plot.move_cursor(0.0)
    assert "no reading" in plot.read_out


def test_a_click_places_a_cursor_and_keys_move_it(plot: LivePlot, qtbot: QtBot) -> None:
    """With the mouse and without; the third press of the key takes the cursors away."""
    feed(plot, warm_up(LEFT, 0.008, 0.0135, 600.0))
    view = plot.findChild(pyqtgraph.PlotWidget).viewport()
    qtbot.mouseClick(view, Qt.MouseButton.LeftButton, pos=QPoint(300, 100))
    assert plot.cursors.placed == 1
    there = plot.cursors.chosen_s
    assert 0.0 < there < 600.0
    plot.move_cursor(0.1)
    assert plot.cursors.chosen_s > there
    plot.next_cursor()
    assert plot.cursors.placed == 2
    plot.next_cursor()
    assert plot.cursors.placed == 0
    assert plot.read_out == ""


def test_keys_zoom_and_pan_and_the_plot_says_that_it_looks_back(plot: LivePlot) -> None:
    """By keyboard alone; Home returns at once."""
    feed(plot, warm_up(LEFT, 0.008, 0.0135, 600.0))
    assert plot.aside == ""
    plot.zoom(0.25)
    (start, end), _ = plot.view_range
    assert end - start < 300.0
    assert "looking back" in plot.aside
    plot.pan(-0.5)
    assert plot.view_range[0][0] < start
    plot.follow()
    assert plot.aside == ""
    assert plot.view_range[0][0] == 0.0


def test_a_replay_that_is_wound_back_is_drawn_anew(plot: LivePlot) -> None:
    """A shorter trace is another one."""
    whole = warm_up(LEFT, 0.008, 0.0135, 600.0)
    feed(plot, whole)
    feed(plot, trace_of(whole.seconds[:100], whole.values[:100], whole.joined[:100]))
    assert plot.shown is not None
    assert plot.shown.curves[0].columns.last_s[-1] == whole.seconds[99]


def test_the_plot_takes_up_another_look(plot: LivePlot, qapp: QApplication) -> None:
    """pyqtgraph does not follow the palette; the plot does."""
    feed(plot, warm_up(LEFT, 0.008, 0.0135, 100.0))
    THEME.look = Look.DARK
    THEME.apply(qapp)
    qapp.processEvents()

    image = plot.grab().toImage()

    ground = QColor(shades().ground).rgb()
    assert image.pixel(image.width() // 2, image.height() // 2) in (ground, QColor(shades().band).rgb())


def test_the_curve_is_drawn_in_its_colour(plot: LivePlot) -> None:
    """A pair of versions that draws no curve is found here."""
    feed(plot, warm_up(LEFT, 0.008, 0.0135, 600.0))
    image = plot.grab().toImage()
    wanted = QColor(shades().trace(0)).rgb()
    count = sum(image.pixel(x, y) == wanted for x in range(image.width()) for y in range(image.height()))
    assert count > 500


def test_no_menu_and_no_buttons_of_others(plot: LivePlot) -> None:
    """The library's own menu offers things that were never tried here."""
    assert not plot._box.menuEnabled()
    assert plot._plot.getPlotItem().buttonsHidden


def test_a_channel_has_one_colour_on_the_whole_screen(plot: LivePlot) -> None:
    """Traces may come in another order than the rows stand in."""
    left, right = warm_up(LEFT, 0.008, 0.0135, 60.0), warm_up(RIGHT, 0.009, 0.0135, 60.0)
    states = (state(left, 0.0135), state(right, 0.0135))
    view = RunView(at_s=60.0, procedure="watch", title="Watch", channels=states)
    setups = (setup(LEFT), setup(RIGHT))
    plot.show_bench(BenchPicture(serial=1, view=view, setups=setups, traces=(right, left)))
    assert plot.shown is not None
    first, second = plot.shown.curves
    assert (first.label, second.label) == (LEFT, RIGHT)
    assert first.columns.first[0] == left.values[0]
    assert (first.colour, second.colour) == (shades().trace(0), shades().trace(1))


def test_a_row_that_was_not_read_yet_keeps_its_colour(plot: LivePlot) -> None:
    """The second row's trace alone must not look like the first row's."""
    right = warm_up(RIGHT, 0.009, 0.0135, 60.0)
    states = (ChannelState(LEFT, 60.0), state(right, 0.0135))
    view = RunView(at_s=60.0, procedure="watch", title="Watch", channels=states)
    plot.show_bench(BenchPicture(serial=1, view=view, setups=(setup(LEFT), setup(RIGHT)), traces=(right,)))
    assert plot.shown is not None
    (curve,) = plot.shown.curves
    assert (curve.label, curve.colour, curve.shape) == (RIGHT, shades().trace(1), 1)


def test_without_a_word_about_the_mains_every_reading_is_in_view(plot: LivePlot) -> None:
    """Typed values begin when somebody types, not at a power-on."""
    feed(plot, trace_of(np.array([0.1, 1.0, 2.0, 4.0]), np.array([0.0100, 0.0134, 0.0139, 0.0141])))
    (_, _), (low, high) = plot.view_range
    assert low < 0.0100
    assert high > 0.0141


def test_every_tier_has_a_mark_of_its_own(plot: LivePlot) -> None:
    """Five words and five shapes; none says only that there was an alarm."""
    seconds = np.arange(0.0, 600.0, 1.0)
    marks = tuple(TraceMark(60.0 + 100.0 * i, "alarm", "told", LEFT, tier) for i, tier in enumerate(Tier))
    feed(plot, trace_of(seconds, np.full(600, 0.0135)), marks=marks)
    assert {one.mark.tier for one in plot.canvas.placed} == set(Tier)
    words = {mark_words(mark, "mark") for mark in marks}
    assert len(words) == len(Tier)
    assert "alarm" not in words
    drawn = set()
    for tier in Tier:
        image = QImage(40, 40, QImage.Format.Format_ARGB32)
        image.fill(QColor("#ffffff"))
        painter = QPainter(image)
        draw_sign(painter, tier, QPointF(20.0, 20.0), 36.0, "#000000")
        painter.end()
        drawn.add(bytes(image.constBits()))
    assert len(drawn) == len(Tier)
