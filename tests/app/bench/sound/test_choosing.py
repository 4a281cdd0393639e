"""What is heard follows from the snapshot: guidance only while trimming, alarms before everything."""

from __future__ import annotations

import dataclasses

import pytest
from fake_bench import LEFT, RIGHT, setup, trimming_picture

from app.bench.snapshot import Snapshot, SoFar
from app.bench.sound.choosing import AGAIN_S, LATE_S, REMIND_S, Choice, SoundChooser
from app.bench.sound.heard import Alarmed, GuidanceOver, Guiding, Heard, NeedsYou, Settled, Silent
from procedures.analysis.channel import AdviceKind, TrimAdvice
from procedures.events import Action, Alarm, Event, Instruction, Question, Request, RunEnded, Tier
from procedures.view import ActiveAlarm, RunView

BEGIN = Request(1.0, "request 1", Action.GUIDE, LEFT, {"guide": "begin"})
END = Request(9.0, "request 2", Action.GUIDE, LEFT, {"guide": "end"})


class Listener:
    """A chooser, and the picture that it is shown."""

    def __init__(self, typed: bool = False) -> None:
        picture = trimming_picture()
        self.chooser = SoundChooser({name: setup(name, typed) for name in (LEFT, RIGHT)})
        self.view: RunView = picture.view
        self.traces = picture.traces
        self.events: list[Event] = []
        self.now_s = 100.0
        advice = TrimAdvice(LEFT, AdviceKind.TURN, "Keep turning.", 0.0132, 0.0135, reach_volts=1e-4)
        self.change(advice=(advice,))

    def change(self, **changes: object) -> None:
        self.view = dataclasses.replace(self.view, **changes)  # type: ignore[arg-type]

    def state(self, channel: str = LEFT, **changes: object) -> None:
        self.change(
            channels=tuple(
                dataclasses.replace(one, **changes) if one.channel == channel else one  # type: ignore[arg-type]
                for one in self.view.channels
            )
        )

    def alarm(self, tier: Tier, acknowledged: bool = False) -> None:
        self.change(alarms=(ActiveAlarm(Alarm(5.0, "level/left", tier, LEFT, "It is high."), acknowledged),))

    def look(self, after_s: float = 0.5, reading: bool = True) -> Choice:
        self.now_s += after_s
        if reading:
            grown = self.traces[0]
            self.traces = (
                dataclasses.replace(grown, values=grown.values[: len(grown.values) - 1]),
                self.traces[1],
            )
        snapshot = Snapshot(1, self.view, self.traces, events=SoFar(self.events, len(self.events)))
        return self.chooser.look(snapshot, self.now_s)

    def guided(self) -> Choice:
        self.events.append(BEGIN)
        return self.look()


def test_nothing_guides_before_the_run_asks_and_after_it_has_ended_asking() -> None:
    """A bench that is only watched is silent; guidance ends audibly."""
    listener = Listener()
    assert listener.look() == Choice(Silent(), (), listener.view.instruction.text)  # type: ignore[union-attr]

    assert isinstance(listener.guided().lasting, Guiding)
    listener.events.append(END)
    ended = listener.look()
    assert (ended.lasting, ended.once) == (Silent(), (GuidanceOver(),))
    assert listener.look().once == ()


def test_the_next_trimmer_begins_with_the_end_of_the_last_one() -> None:
    """Right after left: otherwise one would go on turning the left one by the sound of the right one."""
    listener = Listener()
    listener.guided()
    advice = TrimAdvice(RIGHT, AdviceKind.NUDGE, "Nudge the right trimmer.", 0.0132, reach_volts=1e-4)
    listener.events += [END, Request(9.0, "request 3", Action.GUIDE, RIGHT, {"guide": "begin"})]
    listener.change(focus=RIGHT, step="right", advice=(advice,))
    heard = listener.look()

    assert heard.once == (GuidanceOver(),)
    assert heard.lasting.channel == RIGHT  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("value", "offset"), [(0.0130, -2.0), (0.01315, -0.5), (0.0132, 0.0), (0.01325, 0.5), (0.0134, 2.0)]
)
def test_the_sound_tells_how_far_the_reading_is_from_what_is_to_be_turned_to(
    value: float, offset: float
) -> None:
    """Counted in what counts as near enough, to what an ear can tell."""
    listener = Listener()
    listener.state(value=value)
    heard = listener.guided().lasting

    assert isinstance(heard, Guiding)
    assert heard.channel == LEFT
    assert heard.offset == pytest.approx(offset, rel=0.2, abs=0.01)


@pytest.mark.parametrize(
    ("value", "least", "most"), [(0.0030, 0.0, 0.0), (0.0068, 1.01, 3.0), (0.03, 20.0, 40.0)]
)
def test_turning_down_is_guided_until_it_is_low_enough(value: float, least: float, most: float) -> None:
    """Above sounds above, whatever is below the aim is right; no advice is needed."""
    listener = Listener()
    listener.change(advice=())
    listener.state(value=value)
    listener.events.append(dataclasses.replace(BEGIN, parameters={"guide": "begin", "at_most_volts": 0.0066}))
    heard = listener.look().lasting

    assert isinstance(heard, Guiding)
    assert least <= heard.offset <= most


def test_without_advice_on_the_drift_the_target_itself_is_turned_to() -> None:
    """The window of acceptance is inside."""
    listener = Listener()
    listener.change(advice=(TrimAdvice(LEFT, AdviceKind.CANNOT_SAY, "Nothing can be said yet."),))
    listener.state(value=0.0135, accept_low=0.013, accept_high=0.014)
    assert listener.guided().lasting == Guiding(0.0, LEFT)

    listener.state(value=0.0125)
    assert listener.look().lasting.offset < -1.0  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("kind", "heard"),
    [
        (AdviceKind.STOP, NeedsYou()),
        (AdviceKind.WRONG_TRIMMER, NeedsYou()),
        (AdviceKind.NO_RESPONSE, NeedsYou()),
        (AdviceKind.RANGE_EXHAUSTED, NeedsYou()),
        (AdviceKind.LEAVE_ALONE, GuidanceOver()),
    ],
)
def test_nobody_is_guided_where_turning_on_would_be_wrong(kind: AdviceKind, heard: Heard) -> None:
    """The tone ends; what has to be looked at calls, and does not sound like an end."""
    listener = Listener()
    assert isinstance(listener.guided().lasting, Guiding)
    listener.change(advice=(TrimAdvice(LEFT, kind, "Stop turning.", 0.0132, reach_volts=1e-4),))

    ended = listener.look()
    assert (ended.lasting, ended.once) == (Silent(), (heard,))


@pytest.mark.parametrize(
    "changes",
    [
        {"paused": True},
        {"focus": RIGHT},
        {"ended": RunEnded(9.0, True, "The run is over.")},
        {"advice": ()},
    ],
)
def test_guidance_ends_with_what_it_was_for(changes: dict[str, object]) -> None:
    """Paused, another channel, the end of the run, no advice."""
    listener = Listener()
    listener.guided()
    listener.change(**changes)
    ended = listener.look()

    assert ended.lasting == Silent()
    assert GuidanceOver() in ended.once


def test_a_tone_does_not_outlive_its_readings() -> None:
    """A gap ends it at once; readings that no longer come, after a while."""
    listener = Listener()
    listener.guided()
    assert isinstance(listener.look(LATE_S - 1.0, reading=False).lasting, Guiding)
    late = listener.look(1.5, reading=False)
    assert (late.lasting, late.once) == (Silent(), (GuidanceOver(),))

    assert isinstance(listener.look().lasting, Guiding)
    listener.state(gap="no answer")
    assert listener.look().lasting == Silent()


def test_who_types_readings_is_not_guided() -> None:
    """A tone of a value that somebody typed a while ago would lie."""
    assert Listener(typed=True).guided().lasting == Silent()


@pytest.mark.parametrize("tier", [Tier.ACT, Tier.OFF, Tier.LEAD])
def test_an_urgent_alarm_interrupts_guidance_until_it_is_acknowledged(tier: Tier) -> None:
    """Nothing else is heard meanwhile."""
    listener = Listener()
    listener.guided()
    listener.alarm(tier)
    assert listener.look() == Choice(Alarmed(tier), (), urgent=True)
    assert listener.look(60.0).lasting == Alarmed(tier)

    listener.alarm(tier, acknowledged=True)
    assert isinstance(listener.look().lasting, Guiding)


@pytest.mark.parametrize("tier", [Tier.LOOK, Tier.BLIND])
def test_a_milder_alarm_is_said_now_and_again(tier: Tier) -> None:
    """Guidance goes on between; acknowledged, it is quiet."""
    listener = Listener()
    listener.guided()
    listener.alarm(tier)
    first = listener.look()
    assert (type(first.lasting), first.once) == (Guiding, (Alarmed(tier),))
    assert listener.look().once == ()
    assert listener.look(AGAIN_S).once == (Alarmed(tier),)

    listener.alarm(tier, acknowledged=True)
    assert listener.look(2.0 * AGAIN_S).once == ()


def test_the_most_urgent_of_several_alarms_is_heard() -> None:
    """Off before act."""
    listener = Listener()
    alarms = [Alarm(5.0, str(tier), tier, LEFT, "It is high.") for tier in (Tier.ACT, Tier.OFF, Tier.LOOK)]
    listener.change(alarms=tuple(ActiveAlarm(alarm) for alarm in alarms))

    assert listener.look().lasting == Alarmed(Tier.OFF)


def test_settling_is_heard_once() -> None:
    """When it becomes so; not at the first look, and not while it stays so."""
    listener = Listener()
    listener.state(settled=True)
    assert listener.look().once == ()

    listener.state(RIGHT, settled=True)
    assert listener.look().once == (Settled(),)
    assert listener.look().once == ()


def test_a_person_is_called_when_the_work_comes_to_wait() -> None:
    """Once, and twice more; not when nobody is waited for."""
    listener = Listener()
    listener.change(step="warm", next_label="", focus=None)
    listener.look()
    asked = Question(20.0, "warm/1", "warm", "What now?")
    listener.change(question=asked, next_label="Wait longer")

    heard: list[tuple[Heard, ...]] = [listener.look().once]
    heard += [listener.look(REMIND_S + 1.0).once for _ in range(4)]
    assert heard == [(NeedsYou(),), (NeedsYou(),), (NeedsYou(),), (), ()]

    listener.change(question=None, next_label="")
    assert listener.look().once == ()


def test_nobody_is_called_to_a_step_that_goes_on_by_itself() -> None:
    """A way round the wait is asked beside it all the time; the tone would bring somebody for nothing."""
    listener = Listener()
    listener.change(step="warm", next_label="", focus=None)
    listener.look()
    asked = Question(20.0, "rest/1", "rest", "Leave everything as it is.")
    listener.change(step="rest", question=asked, by_itself=True)
    assert [listener.look(REMIND_S + 1.0).once for _ in range(3)] == [(), (), ()]

    listener.change(step="lid", question=None, by_itself=False, next_label="The lid is on")
    assert listener.look().once == (NeedsYou(),)


def test_whoever_has_the_trimmer_in_hand_is_not_called() -> None:
    """The trim step has its question all the time."""
    listener = Listener()
    listener.change(next_label="", focus=None)
    listener.look()
    listener.change(next_label="The left trimmer is set", focus=LEFT)

    assert listener.guided().once == ()


def test_an_instruction_is_a_sentence_to_speak_when_it_is_new() -> None:
    """Once each; while guided only the first one, because the tone says the rest."""
    listener = Listener()
    assert listener.look().sentence == "Turn the left trimmer until it shows 13.2 mV"
    assert listener.look().sentence == ""

    assert listener.guided().sentence == "Turn the left trimmer until it shows 13.2 mV"
    listener.change(instruction=Instruction(30.0, "left", "Keep turning."))
    assert listener.look().sentence == ""
    listener.events.append(END)
    listener.change(step="right", instruction=Instruction(40.0, "right", "Clip on."))
    assert listener.look().sentence == "Clip on."

    listener.change(step="warm", instruction=Instruction(50.0, "warm", "Let it warm up: 3 of 20 min."))
    assert listener.look().sentence == "Let it warm up: 3 of 20 min."
    listener.change(instruction=Instruction(110.0, "warm", "Let it warm up: 4 of 20 min."))
    assert listener.look().sentence == ""
