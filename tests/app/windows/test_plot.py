from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyqtgraph
import pytest
from fake_bench import LEFT, RIGHT, setup, state, warm_up
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.bench.snapshot import Trace
from app.windows.plot import LivePlot
from app.windows.ports import BenchPicture, TraceMark
from app.windows.theme import THEME, Look, shades
from drivers.reading import Unit
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
    """Downsampling keeps every drawn value finite beside a gap."""
    seconds = np.arange(100_000) / 10.0
    joined = np.ones(100_000, dtype=bool)
    joined[::100] = False
    feed(plot, trace_of(seconds, 0.013 + 1e-5 * np.sin(seconds), joined))

    x, y = plot.drawn(0)

    assert 100 < len(x) < 20_000
    assert np.isfinite(y).all()


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
    assert len(plot._mark_items) == 2
    feed(plot, warm_up(LEFT, 0.008, 0.0135, 100.0), marks=marks[:1])
    assert len(plot._mark_items) == 1


def test_the_arrays_are_referenced_not_copied(plot: LivePlot) -> None:
    """A day of readings is not copied for every frame."""
    trace = warm_up(LEFT, 0.008, 0.0135, 100.0)
    feed(plot, trace)
    assert np.shares_memory(plot._curves[0].yData, trace.values)


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
    x, y = plot.drawn(0)
    assert y[0] == left.values[0]
    assert x[0] == left.seconds[0]


def test_without_a_word_about_the_mains_every_reading_is_in_view(plot: LivePlot) -> None:
    """Typed values begin when somebody types, not at a power-on."""
    feed(plot, trace_of(np.array([0.1, 1.0, 2.0, 4.0]), np.array([0.0100, 0.0134, 0.0139, 0.0141])))
    (_, _), (low, high) = plot.view_range
    assert low < 0.0100
    assert high > 0.0141
