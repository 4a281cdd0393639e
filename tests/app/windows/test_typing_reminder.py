"""A typed channel is asked for at its interval, and one key says that nothing has changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from fake_bench import FakeBench, trimming_picture
from pytestqt.qtbot import QtBot

from app.bench.snapshot import Trace
from app.windows.own_questions import typed_channels
from app.windows.ports import BenchPicture
from app.windows.typing_reminder import TypingReminder
from app.windows.working_screen import WorkingScreen


def _typed(*newest: float | None) -> BenchPicture:
    """A picture whose first channels are typed, each with its newest value at a session second."""
    picture = trimming_picture()
    names = [state.channel for state in picture.view.channels][: len(newest)]
    traces = tuple(
        Trace(
            name,
            picture.traces[0].unit,
            np.array([] if at_s is None else [at_s]),
            np.array([] if at_s is None else [0.0134]),
            np.array([] if at_s is None else [False]),
            np.array([]),
        )
        for name, at_s in zip(names, newest, strict=True)
    )
    setups = tuple(replace(picture.setup_of(name), typed=True) for name in names)
    view = replace(picture.view, focus=None)
    return replace(picture, setups=setups, traces=traces, view=view, ask_every_s=60.0)


def test_it_asks_once_an_interval_and_may_be_ignored() -> None:
    reminder, picture = TypingReminder(), _typed(10.0)

    said = [reminder.look(picture, float(now_s)) for now_s in range(0, 200, 10)]

    assert [number * 10 for number, words in enumerate(said) if words] == [60, 120, 180]
    assert said[6] == "Left bias: type what it shows, or Shift+F5: unchanged."


def test_a_typed_value_puts_it_off() -> None:
    reminder = TypingReminder()
    reminder.look(_typed(10.0), 0.0)
    reminder.look(_typed(55.0), 45.0)

    assert reminder.look(_typed(55.0), 100.0) == ""
    assert reminder.look(_typed(55.0), 105.0)


def test_the_channel_that_was_typed_longest_ago_is_asked_for() -> None:
    picture = _typed(50.0, 20.0)

    assert typed_channels(picture)[0] == picture.setups[1].channel


def test_nobody_is_asked_without_a_typed_channel_or_an_interval() -> None:
    for picture in (
        trimming_picture(),
        replace(_typed(10.0), ask_every_s=0.0),
        replace(_typed(10.0), review=True),
    ):
        reminder = TypingReminder()
        assert not any(reminder.look(picture, now_s) for now_s in (0.0, 100.0, 200.0))


def test_one_key_says_unchanged(shown: Callable[[FakeBench], WorkingScreen], qtbot: QtBot) -> None:
    bench = FakeBench(_typed(50.0, 20.0))
    screen = shown(bench)
    screen.deeds.action("unchanged").trigger()

    assert ("unchanged", bench.picture().setups[1].channel) in bench.done
    assert "unchanged" in screen.said


def test_nothing_is_unchanged_before_something_was_typed(
    shown: Callable[[FakeBench], WorkingScreen], qtbot: QtBot
) -> None:
    bench = FakeBench(_typed(None, None))
    screen = shown(bench)
    screen.deeds.action("unchanged").trigger()

    assert not [what for what in bench.done if what[0] == "unchanged"]
    assert "Nothing was typed yet" in screen.said
