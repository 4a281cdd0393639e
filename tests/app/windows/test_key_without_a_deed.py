"""The big key never says that there is nothing to do while hands are wanted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from fake_bench import HIGH, LEFT, FakeBench

from app.windows.ports import TraceMark
from app.windows.working_screen import WorkingScreen
from procedures.analysis.channel import Position
from procedures.events import AnswerKind, Choice, Instruction, Question, RunEnded, Supply
from procedures.view import ActiveAlarm

Show = Callable[[FakeBench], WorkingScreen]
NOTHING = "Nothing to do now"


def _key_of(screen: WorkingScreen) -> str:
    assert not screen.key.isEnabled()
    return screen.key.accessibleName()


def test_at_an_alarm_to_switch_off_it_names_the_key_that_says_so(bench: FakeBench, shown: Show) -> None:
    """A foot that presses by habit must not say that the mains is off; another key does, and is named."""
    told = Instruction(1200.0, "warm", "Switch the mains off now.")
    bench.show_view(
        alarms=(ActiveAlarm(HIGH),), instruction=told, question=None, next_label="", focus=LEFT, advice=()
    )
    assert _key_of(shown(bench)) == "when it is off (F6)"


def test_while_a_hand_turns_down_it_points_to_the_sentence(bench: FakeBench, shown: Show) -> None:
    """The question beside it is only for when that does not go."""
    told = Instruction(1200.0, "warm", "Turn the left trimmer by a hair, and watch the reading.")
    asked = Question(1200.0, "d/1", "warm", "Say if it goes no lower.", choices=(Choice("low", "No lower"),))
    bench.show_view(instruction=told, question=asked, next_label="", focus=LEFT, advice=())
    assert _key_of(shown(bench)).startswith("follow the sentence")


def test_where_only_words_help_it_points_to_the_answer(bench: FakeBench, shown: Show) -> None:
    """A value or a choice without a usual one."""
    asked = Question(1200.0, "v/1", "hum", "Type the hum voltage.", AnswerKind.VALUE)
    bench.show_view(question=asked, next_label="", focus=None, advice=())
    assert _key_of(shown(bench)) == "when the value is typed (Enter)"
    either = replace(asked, kind=AnswerKind.CHOICE, choices=(Choice("a", "Hum"), Choice("b", "No hum")))
    bench.show_view(question=either, next_label="", focus=None, advice=())
    assert _key_of(shown(bench)).startswith("answer below")


def test_where_the_step_goes_on_by_itself_there_is_nothing_to_do(bench: FakeBench, shown: Show) -> None:
    """Hands off is what is wanted, whatever is offered beside it."""
    asked = Question(1200.0, "w/1", "rest", "Leave it.", choices=(Choice("go", "Go on without waiting"),))
    bench.show_view(question=asked, next_label="", focus=LEFT, advice=(), by_itself=True)
    assert _key_of(shown(bench)) == NOTHING


def test_nothing_is_said_of_a_window_once_the_mains_is_off(bench: FakeBench, shown: Show) -> None:
    """The capacitors run down through the window; the last screen must not call that inside."""
    ended = RunEnded(1300.0, True, "Every step was carried out.")
    inside = tuple(replace(one, position=Position.INSIDE) for one in bench.picture().view.channels)
    assert inside[0].level is not None
    bench.show(marks=(TraceMark(1299.0, "supply", "off"),))
    bench.show_view(channels=inside, supply=Supply.OFF, ended=ended, advice=(), next_label="", question=None)
    said = shown(bench).rows[LEFT].accessibleName()
    assert "mains off, as you said" in said
    assert "inside" not in said


def test_in_the_tour_hands_are_wanted_where_the_key_does_nothing(bench: FakeBench, shown: Show) -> None:
    """It begins with the switch of the unit, which is no key of the run."""
    bench.show(tour=True)
    bench.show_view(question=None, next_label="", focus=None, advice=())
    assert _key_of(shown(bench)).startswith("follow the sentence")


def test_words_are_asked_for_in_the_field_below(bench: FakeBench, shown: Show) -> None:
    """The cause of an alarm is typed, whatever channel is in hand."""
    asked = Question(1200.0, "c/1", "warm", "Say what was found.", AnswerKind.TEXT)
    bench.show_view(question=asked, next_label="", focus=LEFT, advice=())
    assert _key_of(shown(bench)).startswith("answer below")
