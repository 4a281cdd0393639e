"""The trim coach: what it says, when it is silent, and that it never names a direction too early."""

from __future__ import annotations

import pytest

from drivers.meter import MeterAccuracy
from procedures.amplifier import OutputStage
from procedures.analysis.channel import (
    AdviceKind,
    ChannelSetup,
    ChannelState,
    DecisionRule,
    Forecast,
    TrimAdvice,
)
from procedures.analysis.trim import Scene, TrimCoach
from procedures.analysis.trim_aim import TrimAim
from procedures.analysis.window import window_of

TARGET = 0.0135
STEP = 1e-5
SETUP = ChannelSetup(
    "left bias",
    target_volts=TARGET,
    low_volts=0.97 * TARGET,
    high_volts=1.03 * TARGET,
    resistance_ohm=0.54,
    emitter_resistor_ohm=0.27,
    accuracy=MeterAccuracy(resolution=STEP),
)
DIRECTIONS = ("same way", "back", "against", "way of your nudge", "clockwise")


def forecast(volts: float, half: float = 1e-5) -> Forecast:
    return Forecast(0.0, 1800.0, volts, volts - half, volts + half, True)


class Board:
    """A coach, a trimmer and a reading four times a second."""

    def __init__(self, found: float, rest: float, setup: ChannelSetup = SETUP, at_s: float = 1600.0) -> None:
        window = window_of(setup, DecisionRule.GUARDED)
        assert window is not None
        self.coach = TrimCoach(setup, window)
        self.volts, self.drift_to = found, rest
        self.at_s = at_s
        self.half = 1e-5
        self.others: dict[str, float] = {}
        self.stopped = ""
        self.said: list[TrimAdvice] = []

    def look(self) -> TrimAdvice:
        shown = round(self.volts / STEP) * STEP
        state = ChannelState("left bias", self.at_s, value=shown, level=shown, rate_per_s=0.0)
        aim = forecast(self.drift_to, self.half)
        scene = Scene(state, aim, dict(self.others), self.at_s, STEP, self.stopped)
        advice = self.coach.observe(scene)
        self.said.append(advice)
        self.at_s += 0.25
        return advice

    def wait(self, seconds: float) -> TrimAdvice:
        for _ in range(round(seconds * 4)):
            advice = self.look()
        return advice

    def turn_to(self, volts: float, seconds: float = 2.0) -> TrimAdvice:
        steps = max(1, round(seconds * 4))
        by = (volts - self.volts) / steps
        for _ in range(steps):
            self.volts += by
            advice = self.look()
        return advice

    def begin(self) -> TrimAdvice:
        self.coach.begin(self.at_s)
        return self.wait(3.0)


def test_no_direction_is_named_before_the_nudge_has_shown_it() -> None:
    board = Board(0.0100, 0.0100)
    advice = board.begin()
    assert advice.kind is AdviceKind.NUDGE
    assert advice.text == "Nudge the left trimmer a few degrees, either way, and wait."
    for said in board.said:
        assert not any(word in said.text for word in DIRECTIONS)


@pytest.mark.parametrize(("nudged_to", "kind"), [(0.0105, AdviceKind.TURN), (0.0095, AdviceKind.TURN_BACK)])
def test_the_nudge_shows_the_direction(nudged_to: float, kind: AdviceKind) -> None:
    board = Board(0.0100, 0.0100)
    board.begin()
    advice = board.turn_to(nudged_to)
    assert advice.kind is kind
    assert ("the way of your nudge" in advice.text) is (kind is AdviceKind.TURN)
    assert "until it shows" in advice.text


def test_a_high_reading_that_rises_is_turned_back_at_once() -> None:
    board = Board(0.0200, 0.0200)
    board.begin()
    advice = board.turn_to(0.0208)
    assert advice.kind is AdviceKind.TURN_BACK
    assert advice.text.startswith("Turn back at once, the reading rises")


def test_the_remaining_drift_is_taken_off_what_is_set_now() -> None:
    # It shows 12.0 and would rest at 12.6: half a millivolt is still to come.
    board = Board(0.0120, 0.0126)
    advice = board.begin()
    assert advice.show_volts is not None
    assert advice.show_volts < TARGET
    assert advice.show_volts == pytest.approx(0.0128, abs=0.0001)
    assert advice.rest_volts == pytest.approx(TARGET, rel=1e-6)


def test_a_visit_ends_when_the_reading_stays_where_it_should_be() -> None:
    board = Board(0.0100, 0.0100)
    show = board.begin().show_volts
    assert show is not None
    board.turn_to(0.0105)
    assert board.turn_to(show).kind in (AdviceKind.WAIT, AdviceKind.TURN)
    assert board.wait(4.0).kind is AdviceKind.DONE
    board.coach.end(board.at_s)
    assert board.coach.visits == 1


def test_after_a_visit_it_says_to_wait() -> None:
    board = Board(0.0100, 0.0100)
    show = board.begin().show_volts or 0.0
    board.turn_to(0.0105)
    board.turn_to(show)
    board.wait(4.0)
    board.coach.end(board.at_s)
    board.drift_to = 0.0142
    advice = board.look()
    assert advice.kind is AdviceKind.WAIT
    assert "last turn" in advice.text


def test_what_is_right_is_left_alone() -> None:
    board = Board(0.0133, 0.0136)
    advice = board.look()
    assert advice.kind is AdviceKind.LEAVE_ALONE
    assert advice.text.startswith("Leave the left trimmer alone")
    assert board.begin().kind is AdviceKind.LEAVE_ALONE


def test_as_long_as_the_forecast_is_wide_it_says_to_wait() -> None:
    board = Board(0.0120, 0.0120, at_s=300.0)
    board.half = 0.004
    advice = board.begin()
    assert advice.kind is AdviceKind.WAIT
    assert "it would rest between" in advice.text
    assert not board.coach.turning


def test_nothing_is_turned_in_the_first_minutes() -> None:
    assert Board(0.0060, 0.0060, at_s=60.0).begin().kind is AdviceKind.WAIT


def test_a_trimmer_found_at_its_minimum_is_brought_up_cold_without_promising_where_it_rests() -> None:
    board = Board(0.0004, 0.0050, at_s=30.0)
    board.half = 0.02
    advice = board.begin()
    assert advice.kind is AdviceKind.NUDGE
    assert advice.show_volts == pytest.approx(0.65 * TARGET)
    assert advice.rest_volts is None
    assert board.turn_to(0.0020).text.endswith("until it shows 8.78 mV now; then let it warm up.")


def test_another_channel_that_moves_instead_names_the_wrong_trimmer() -> None:
    board = Board(0.0100, 0.0100)
    board.others = {"right bias": 0.0130}
    board.begin()
    board.others = {"right bias": 0.0139}
    advice = board.wait(1.0)
    assert advice.kind is AdviceKind.WRONG_TRIMMER
    assert "right bias moved, not left bias" in advice.text
    assert "13.00 mV" in advice.text


def test_a_reading_that_does_not_answer_is_asked_for_more_and_then_doubted() -> None:
    board = Board(0.0100, 0.0100)
    board.begin()
    assert board.wait(30.0).text == "Nudge the left trimmer a little further, and wait."
    advice = board.wait(40.0)
    assert advice.kind is AdviceKind.NO_RESPONSE
    assert "test point" in advice.text


def test_a_trimmer_at_its_end_is_recognised_although_heat_moves_the_reading_a_little() -> None:
    board = Board(0.0100, 0.0100)
    board.begin()
    board.turn_to(0.0110)
    for _ in range(60):
        board.turn_to(board.volts + 2e-6, 1.0)
    assert board.said[-1].kind is AdviceKind.RANGE_EXHAUSTED
    assert "end of its range" in board.said[-1].text


def test_play_is_learnt_and_then_the_approach_is_from_below() -> None:
    board = Board(0.0100, 0.0100)
    show = board.begin().show_volts or 0.0
    board.turn_to(0.0095)
    board.wait(6.0)  # turning back takes up the play: nothing moves
    board.turn_to(1.03 * show, 4.0)
    advice = board.wait(1.0)
    assert advice.kind is AdviceKind.APPROACH_FROM_BELOW
    assert "come up from below" in advice.text
    board.turn_to(0.97 * show, 4.0)
    assert board.wait(1.0).kind is AdviceKind.TURN_BACK


def test_the_words_keep_their_meaning_whichever_way_the_hand_last_moved() -> None:
    board = Board(0.0100, 0.0100)
    show = board.begin().show_volts or 0.0
    board.turn_to(0.0105)  # the nudge raised it
    for level, way in ((1.04 * show, "against your nudge"), (0.96 * show, "the way of your nudge")) * 2:
        board.turn_to(level)
        assert way in board.wait(1.0).text


def test_guidance_stops_with_the_reason() -> None:
    board = Board(0.0100, 0.0100)
    board.begin()
    board.stopped = "Left bias fell to zero at once: possible slip: switch off, check the outputs."
    advice = board.look()
    assert advice.kind is AdviceKind.STOP
    assert "possible slip" in advice.text


def test_a_drift_is_not_taken_for_an_answer() -> None:
    board = Board(0.0100, 0.0102)
    board.coach.begin(board.at_s)
    for _ in range(60):
        board.volts += 3e-7  # 1.2 uV/s
        advice = board.look()
    assert advice.kind is AdviceKind.NUDGE


def test_without_known_resistors_only_small_moves_are_advised() -> None:
    mosfet = ChannelSetup("left bias", target_volts=TARGET, stage=OutputStage.LATERAL_MOSFET)
    need = TrimAim(mosfet).need(0.0060, forecast(0.0060))
    assert need.show_volts - 0.0060 <= 0.25 * TARGET + 1e-9
    exact = TrimAim(SETUP).need(0.0060, forecast(0.0060))
    assert exact.show_volts > need.show_volts


def test_later_heat_is_learnt_from_what_a_move_became() -> None:
    aim = TrimAim(SETUP)
    before = aim.need(0.0080, forecast(0.0080)).show_volts
    aim.moved(0.0080, 0.0120, forecast(0.0080))
    aim.learn(forecast(0.0140))
    assert aim.need(0.0080, forecast(0.0080)).show_volts < before


def test_a_channel_without_a_target_has_no_coach() -> None:
    with pytest.raises(ValueError, match="no target"):
        TrimAim(ChannelSetup("left bias"))


def test_a_missing_reading_is_not_guided() -> None:
    board = Board(0.0100, 0.0100)
    scene = Scene(ChannelState("left bias", 1.0), forecast(0.01), {}, 1600.0)
    assert board.coach.observe(scene).kind is AdviceKind.CANNOT_SAY


def test_where_it_will_rest_is_said_as_an_interval_as_wide_as_is_known() -> None:
    board = Board(0.0125, 0.0125)
    board.half = 2e-4
    board.begin()
    board.turn_to(0.0127)
    board.turn_to(board.look().show_volts or 0.0)
    done = board.wait(4.0)
    assert done.kind is AdviceKind.DONE
    # closed form: 0.21 mV of the forecast and 1.96 * 12 % of a move of 1 mV make +-0.31 mV, rounded outwards
    assert "it will rest between 13.1 and 13.9 mV" in done.text
    need = TrimAim(SETUP).need(0.0125, forecast(0.0125, 2e-4))
    assert need.rest_within is not None
    low, high = need.rest_within
    # The doubt about the later heat of the move comes to that of the forecast.
    assert high - low > 4e-4
    assert low < TARGET < high


def test_a_wide_early_forecast_is_believed_by_as_much_as_it_knows() -> None:
    known = TrimAim(SETUP).need(0.0300, forecast(0.0250, 1e-4))
    vague = TrimAim(SETUP).need(0.0300, forecast(0.0250, 0.0120))
    assert vague.wanted < 0.0
    assert abs(vague.wanted) < 0.9 * abs(known.wanted)
    assert vague.show_volts > known.show_volts


@pytest.mark.parametrize(("at_s", "kind"), [(1700.0, AdviceKind.WAIT), (2500.0, AdviceKind.NUDGE)])
def test_after_the_half_hour_and_ten_minutes_more_what_is_known_must_do(
    at_s: float, kind: AdviceKind
) -> None:
    board = Board(0.0128, 0.0128, at_s=at_s)
    board.half = 7e-4  # 5 %: more than the window has to either side
    assert board.begin().kind is kind


def test_a_visit_that_would_change_little_is_spared() -> None:
    board = Board(0.01365, 0.01365, at_s=2500.0)
    board.half = 4e-4
    assert board.begin().kind is AdviceKind.LEAVE_ALONE
