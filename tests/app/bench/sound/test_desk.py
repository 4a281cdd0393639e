"""From a snapshot to the loudspeaker: what is chosen, where it may go, and what is said when it cannot."""

from __future__ import annotations

import dataclasses
import sys
import threading
from pathlib import Path

import pytest
from fake_bench import LEFT, RIGHT, setup, trimming_picture
from listening import loudness, pitch
from sounding import INTERFACE, ROUTED, SPEAKERS, FakeDevices

from app.bench.snapshot import Snapshot, SoFar
from app.bench.sound.desk import MUTED, RETRY_S, SoundDesk
from app.bench.sound.devices import NoSound, OutputDevice, choose_output, same_device
from app.bench.sound.heard import Settled
from app.bench.sound.speech import Speaker, SpeechProgram, find_speech
from app.settings import ChannelSound, SoundChoice
from procedures.analysis.channel import AdviceKind, TrimAdvice
from procedures.events import Action, Alarm, Event, Request, RequestClosed, Tier
from procedures.view import ActiveAlarm, RunView

BEGIN = Request(1.0, "request 1", Action.GUIDE, LEFT, {"guide": "begin"}, 11.0)


class Heard:
    """A desk that is advanced by hand, without its thread."""

    def __init__(self, choice: SoundChoice | None = None, devices: FakeDevices | None = None) -> None:
        self.devices = devices or FakeDevices()
        self.kept: list[SoundChoice] = []
        self.spoken: list[str] = []
        self.closed: list[RequestClosed] = []
        self.now_s = 0.0
        self.desk = SoundDesk(
            choice or SoundChoice(volume=1.0),
            devices=self.devices,
            speaker=self,  # type: ignore[arg-type]
            keep=self.kept.append,
        )
        self.desk.hold = lambda: None  # type: ignore[method-assign]
        self.desk.attend([setup(LEFT), setup(RIGHT)])
        self.picture = trimming_picture()
        advice = TrimAdvice(LEFT, AdviceKind.TURN, "Keep turning.", 0.0132, reach_volts=1e-4)
        self.view: RunView = dataclasses.replace(self.picture.view, advice=(advice,))

    def say(self, sentence: str, voice: object = None) -> bool:
        self.spoken.append(sentence)
        return True

    def stop(self) -> None:
        self.spoken.append("(stopped)")

    def look_for(self, code: str) -> bool:
        return True

    def look_no_longer(self) -> None:
        pass

    def voice(self, code: str) -> None:
        return None

    def post(self, item: RequestClosed) -> None:
        self.closed.append(item)

    def show(self, after_s: float = 0.4, **changes: object) -> None:
        self.now_s += after_s
        self.view = dataclasses.replace(self.view, **changes)  # type: ignore[arg-type]
        events: list[Event] = [BEGIN]
        self.desk.show(Snapshot(1, self.view, self.picture.traces, events=SoFar(events, 1)))
        self.desk.advance(self.now_s)


def test_guidance_is_heard_on_the_output() -> None:
    """Below what is wanted: the low pitch, pulsing."""
    heard = Heard()
    heard.show()

    assert pitch(heard.devices.now.hear(2.0)) == pytest.approx(330.0, abs=3.0)
    assert heard.desk.notice == ""


def test_an_alarm_takes_the_place_of_guidance_within_a_block() -> None:
    """What was guided falls silent, the alarm is heard."""
    heard = Heard()
    heard.show()
    heard.devices.now.hear(1.0)
    heard.show(alarms=(ActiveAlarm(Alarm(2.0, "high", Tier.OFF, LEFT, "Switch the mains off now.")),))
    made = heard.devices.now.hear(1.0)

    assert loudness(made[480:2400]).max() > 0.1
    assert 500.0 <= pitch(made) <= 1500.0


def test_each_channel_has_a_volume_of_its_own() -> None:
    """Half as loud for left; none when left is muted, while chimes go on."""
    loud = Heard()
    loud.show()
    soft = Heard(SoundChoice(volume=1.0, channels=(ChannelSound(channel=LEFT, volume=0.5),)))
    soft.show()
    ratio = loudness(soft.devices.now.hear(2.0)).max() / loudness(loud.devices.now.hear(2.0)).max()
    assert ratio == pytest.approx(0.25, rel=0.05)

    muted = {"channels": (ChannelSound(channel=LEFT, muted=True),)}
    soft.desk.choose(soft.desk.choice.model_copy(update=muted))
    soft.show()
    soft.devices.now.hear(0.1)
    assert not soft.devices.now.hear(1.0).any()
    soft.desk.try_out(Settled())
    soft.show()
    assert soft.devices.now.hear(1.0).any()


def test_muted_the_output_is_let_go_and_the_screen_says_so() -> None:
    """And taken again when it is unmuted; both are kept."""
    heard = Heard()
    heard.show()
    heard.desk.choose(heard.desk.choice.model_copy(update={"muted": True}))
    heard.show()
    assert heard.devices.now.closed
    assert heard.desk.notice == MUTED

    heard.desk.choose(heard.desk.choice.model_copy(update={"muted": False}))
    heard.show()
    assert (heard.desk.notice, len(heard.devices.opened)) == ("", 2)
    assert heard.devices.now.hear(1.0).any()
    assert [choice.muted for choice in heard.kept] == [True, False]


def test_a_request_to_guide_is_met_or_refused_with_the_reason() -> None:
    """The run and the record know whether anybody could hear it."""
    heard = Heard()
    heard.desk.answer(BEGIN, heard)
    heard.show()
    heard.desk.answer(BEGIN, heard)
    heard.desk.choose(SoundChoice(muted=True))
    heard.desk.answer(BEGIN, heard)

    assert heard.closed == [
        RequestClosed(1.0, "request 1", False, "the sound output is not open yet"),
        RequestClosed(1.0, "request 1", True, ""),
        RequestClosed(1.0, "request 1", False, MUTED),
    ]


def test_without_sound_the_program_says_so_and_works_on() -> None:
    """Neither library nor device: one sentence; tried again after a while, not all the time."""
    devices = FakeDevices(trouble="No sound: the sound library PortAudio is missing.")
    heard = Heard(devices=devices)
    heard.show()
    assert heard.desk.notice == "No sound: the sound library PortAudio is missing."

    devices.trouble = ""
    heard.show()
    assert heard.desk.notice != ""
    heard.show(RETRY_S)
    assert (heard.desk.notice, len(devices.opened)) == ("", 1)


def test_an_output_that_goes_away_is_said_and_tried_again() -> None:
    """A plug that was pulled."""
    heard = Heard()
    heard.show()
    heard.devices.now.alive = False
    heard.show()
    assert "has gone" in heard.desk.notice

    heard.show(RETRY_S)
    assert heard.desk.notice == ""
    assert heard.devices.now.hear(1.0).any()


# --- never through the measuring device -------------------------------------------------------------------


def test_with_only_the_measuring_device_sound_is_muted_and_the_screen_says_so() -> None:
    """Also when the system's default might lead there."""
    for there in ((INTERFACE,), (INTERFACE, ROUTED)):
        heard = Heard(SoundChoice(measuring=INTERFACE.name), FakeDevices(there))
        heard.show()

        assert heard.devices.opened == []
        assert heard.desk.notice == "Muted: the only sound output is assigned to measurement."


def test_assigning_the_output_in_use_to_measurement_silences_it_at_once() -> None:
    """The output is closed before anything else is played."""
    heard = Heard()
    heard.show()
    heard.desk.choose(SoundChoice(measuring=SPEAKERS.name))
    heard.show()

    assert heard.devices.now.closed
    assert heard.desk.notice.startswith("Muted:")


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("Two-channel interface: USB (hw:1,0)", "Two-channel interface: USB (hw:1,3)", True),
        ("Two-channel interface: USB (hw:1,0)", "Built-in: Analog (hw:0,0)", False),
        ("Built-in: Analog (hw:1,0)", "Built-in: Analog (hw:11,0)", False),
        ("Speakers (Two-channel interface)", "Line (Two-channel interface)", True),
        ("Speakers (Two-channel interfa", "Speakers (Two-channel interface)", True),
        ("Speakers (Two-channel interface)", "Speakers (Built-in audio)", False),
        ("Built-in Output", "Built-in Output", True),
        ("Built-in Output", "", False),
    ],
)
def test_one_piece_of_hardware_is_known_under_its_names(one: str, other: str, same: bool) -> None:
    """Another jack of the same card is the same card; a name cut short is the same name."""
    assert same_device(one, other) is same
    assert same_device(other, one) is same


def test_a_chosen_output_is_used_and_a_missing_one_is_said() -> None:
    """Chosen, default, first; a routed or measuring one only when it may be."""
    there: tuple[OutputDevice, ...] = (INTERFACE, SPEAKERS, ROUTED)
    assert choose_output(there, "", "") == SPEAKERS
    assert choose_output(there, INTERFACE.name, "") == INTERFACE
    assert choose_output(there, "default", "") == ROUTED
    assert choose_output(there, "", SPEAKERS.name) == INTERFACE
    for wanted, measuring, words in (
        ("Headphones", "", "is not there"),
        ("default", SPEAKERS.name, "may lead to"),
        (SPEAKERS.name, SPEAKERS.name, "may lead to"),
    ):
        with pytest.raises(NoSound, match=words):
            choose_output(there, wanted, measuring)
    with pytest.raises(NoSound, match="no sound output"):
        choose_output((), "", "")


# --- the thread -------------------------------------------------------------------------------------------


def test_the_thread_ends_and_the_output_is_closed_with_the_last_holder() -> None:
    """Two hold it (a bench and a dialog); a desk can be held again."""
    devices = FakeDevices()
    desk = SoundDesk(SoundChoice(), devices=devices)
    for _ in range(2):
        desk.hold()
        desk.hold()
        desk.release()
        assert any(thread.name == "sound" for thread in threading.enumerate())
        desk.release()
        assert not any(thread.name == "sound" for thread in threading.enumerate())
    assert all(played.closed for played in devices.opened)


def test_an_error_inside_costs_the_sound_and_nothing_else() -> None:
    """The thread goes on, the screen says so, nobody sees a traceback."""

    class Broken(FakeDevices):
        def outputs(self) -> tuple[OutputDevice, ...]:
            raise RuntimeError("out of luck")

    desk = SoundDesk(SoundChoice(), devices=Broken())
    desk.hold()
    for _ in range(200):
        if desk.notice:
            break
        threading.Event().wait(0.01)
    alive = any(thread.name == "sound" for thread in threading.enumerate())
    desk.release()

    assert alive
    assert desk.notice == "No sound, by an error of this program (RuntimeError: out of luck)."


# --- speech -----------------------------------------------------------------------------------------------


def test_instructions_are_spoken_only_when_that_was_chosen_and_never_over_an_alarm() -> None:
    """Off by default; an alarm stops the voice."""
    quiet = Heard()
    quiet.show()
    assert set(quiet.spoken) == {"(stopped)"}

    told = Heard(SoundChoice(speech=True))
    told.show()
    assert told.spoken == ["Turn the left trimmer until it shows 13.2 mV"]
    told.show(alarms=(ActiveAlarm(Alarm(2.0, "high", Tier.ACT, LEFT, "Turn down now.")),))
    assert told.spoken[-1] == "(stopped)"


def test_a_voice_cannot_be_kept_from_the_measuring_device_so_it_is_silent() -> None:
    """And the screen can say why."""
    heard = Heard(SoundChoice(speech=True, measuring=INTERFACE.name))
    heard.show()

    assert heard.spoken == ["(stopped)"]
    assert "assigned to measurement" in heard.desk.speech_notice


@pytest.mark.parametrize(
    ("platform", "there", "command"),
    [
        ("linux", ("espeak-ng", "spd-say"), ("/bin/espeak-ng", "--stdin")),
        ("linux", ("spd-say",), ("/bin/spd-say", "--wait", "--")),
        ("darwin", ("say",), ("/bin/say", "-f", "-")),
        ("linux", (), None),
    ],
)
def test_the_systems_own_speech_program_is_found(
    platform: str, there: tuple[str, ...], command: tuple[str, ...] | None
) -> None:
    """By name, on the path."""
    found = find_speech(platform, lambda name: f"/bin/{name}" if name in there else None)

    assert (found.command if found is not None else None) == command


@pytest.mark.parametrize("by_argument", [False, True])
def test_text_reaches_the_speech_program_as_text_and_nothing_else(tmp_path: Path, by_argument: bool) -> None:
    """Whatever is in it: no shell, no option."""
    heard = tmp_path / "heard"
    words = '--help; $(touch x) `y` "Turn" until 13,2 mV'
    source = "sys.argv[-1]" if by_argument else "sys.stdin.read()"
    code = f"import sys, pathlib; pathlib.Path({str(heard)!r}).write_text({source})"
    speaker = Speaker(SpeechProgram((sys.executable, "-c", code), by_argument))
    assert speaker.say(words)
    assert speaker._process is not None
    speaker._process.wait(20)
    speaker.stop()

    assert heard.read_text() == words


def test_a_voice_is_stopped_at_once_and_a_missing_program_is_no_error() -> None:
    """The process ends; a program that has gone only means that nothing is said."""
    speaker = Speaker(SpeechProgram((sys.executable, "-c", "import time; time.sleep(60)")))
    assert speaker.say("Turn.")
    process = speaker._process
    assert process is not None
    assert process.poll() is None
    speaker.stop()
    assert process.poll() is not None

    assert not Speaker(SpeechProgram(("/nowhere/speech",))).say("Turn.")
