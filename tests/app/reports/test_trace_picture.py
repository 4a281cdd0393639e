"""The picture of the traces that goes into files and on paper."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtGui import QImage
from pytestqt.qtbot import QtBot

from app.bench.snapshot import Trace
from app.reports import trace_picture
from app.reports.trace_picture import DrawnChannel, DrawnMark, TracePicture, Window, write_png
from drivers.reading import Unit

ROOT = Path(__file__).resolve().parents[3]


def _trace(count: int = 2000, level: float = 0.0135, gap_at: int | None = None) -> Trace:
    seconds = np.arange(count) * 0.5
    values = np.full(count, level) + np.linspace(-1e-4, 1e-4, count)
    joined = np.ones(count, dtype=bool)
    missed = np.empty(0)
    if gap_at is not None:
        joined[gap_at] = False
        seconds[gap_at + 1 :] += 300.0
        missed = np.array([seconds[gap_at] + 150.0])
    return Trace("left bias", Unit.VOLT, seconds, values, joined, missed)


def _drawn(tmp_path: Path, *channels: DrawnChannel) -> QImage:
    path = tmp_path / "traces.png"
    marks = (DrawnMark(10.0, "mains on"), DrawnMark(500.0, "trim left"))
    write_png(path, TracePicture("Unit 7", "Two-channel bias trim", channels, marks))
    return QImage(str(path))


def _count(image: QImage, colour: str) -> int:
    wanted = trace_picture.QColor(colour).rgb()
    return sum(
        image.pixel(x, y) == wanted for x in range(image.width()) for y in range(74, image.height() - 80)
    )


def test_a_trace_and_its_window_are_drawn(qtbot: QtBot, tmp_path: Path) -> None:
    """The channel's colour crosses the picture; the window's edges are there."""
    image = _drawn(tmp_path, DrawnChannel(_trace(), Window(0.0128, 0.0142)))

    assert (image.width(), image.height()) == (1280, 800)
    assert _count(image, "#0072b2") > 500
    assert _count(image, "#009e73") > 300


def test_no_line_is_drawn_across_a_gap(qtbot: QtBot, tmp_path: Path) -> None:
    """In the middle of the gap there is no ink of the trace above the ticks."""
    trace = _trace(gap_at=1000)
    image = _drawn(tmp_path, DrawnChannel(trace))
    span = float(trace.seconds[-1])
    middle = round(78 + (float(trace.seconds[1000]) + 200.0) / span * (1280 - 78 - 128))

    blue = trace_picture.QColor("#0072b2")
    column = [image.pixelColor(middle, y) for y in range(80, 690)]

    assert blue not in column


def test_thinning_loses_no_spike() -> None:
    """However long the record, its highest reading is drawn."""
    values = np.zeros(500_000)
    values[123_457] = 1.0

    kept = trace_picture._thinned(np.arange(len(values)), values)

    assert 123_457 in kept
    assert len(kept) < 3000


def test_nothing_measured_is_said(qtbot: QtBot, tmp_path: Path) -> None:
    """A session without readings gives a picture that says so."""
    image = _drawn(tmp_path)

    assert not image.isNull()


def test_an_unwritable_place_is_one_sentence(qtbot: QtBot, tmp_path: Path) -> None:
    """The caller can show the text as it is."""
    place = tmp_path / "no such folder" / "x.png"
    with pytest.raises(OSError, match="No such file") as refused:
        write_png(place, TracePicture("", "", ()))
    assert refused.value.filename == str(place)


def test_it_works_without_a_display_and_without_an_application(tmp_path: Path) -> None:
    """A process that has no Qt application and no display still draws."""
    code = (
        "from pathlib import Path; import sys\n"
        "from app.reports.trace_picture import TracePicture, write_png\n"
        "write_png(Path(sys.argv[1]), TracePicture('Unit 7', 'Watch', ()))"
    )
    environment = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "QT_QPA_PLATFORM")}
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "x.png")], cwd=ROOT, env=environment, check=False
    )

    assert done.returncode == 0
    assert (tmp_path / "x.png").read_bytes().startswith(b"\x89PNG")
