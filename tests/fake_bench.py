"""A bench made by hand: remembers what was asked of it and shows whatever picture the test wants."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np

from app.bench.read_off import value_read_off
from app.bench.snapshot import Trace
from app.windows.ports import BenchPicture, Hands, TraceMark, Trimmer
from drivers.meter import MeterAccuracy
from drivers.reading import MeterState, MeterStatus, Unit
from procedures.analysis.channel import (
    AdviceKind,
    ChannelSetup,
    ChannelState,
    Forecast,
    Position,
    TrimAdvice,
)
from procedures.events import Alarm, Choice, Instruction, Question, RecordedValue, StepState, Supply, Tier
from procedures.leads import Lead, Leads
from procedures.view import RunView, StepLine

LEFT, RIGHT = "left bias", "right bias"


def setup(channel: str, typed: bool = False) -> ChannelSetup:
    """25 mA through two 0.27 ohm in series is 13.5 mV, tolerance 5 %."""
    return ChannelSetup(
        channel=channel,
        target_volts=0.0135,
        low_volts=0.012825,
        high_volts=0.014175,
        resistance_ohm=0.54,
        accuracy=MeterAccuracy(resolution=1e-5),
        typed=typed,
    )


def warm_up(channel: str, start: float, rest: float, until_s: float) -> Trace:
    """A slow rise with a little scatter, two readings a second, one gap in the middle."""
    seconds = np.arange(0.0, until_s, 0.5)
    values = rest - (rest - start) * (0.6 * np.exp(-seconds / 70.0) + 0.4 * np.exp(-seconds / 480.0))
    values = values + 6e-6 * np.sin(seconds * 12.9898) + 8e-6 * np.sin(seconds * 0.37)
    keep = (seconds < until_s * 0.5) | (seconds > until_s * 0.52)
    joined = np.ones(int(keep.sum()), dtype=bool)
    joined[int((seconds < until_s * 0.5).sum()) - 1] = False
    missed = seconds[~keep]
    return Trace(channel, Unit.VOLT, seconds[keep], values[keep], joined, missed)


def state(trace: Trace, rest: float, **changes: object) -> ChannelState:
    """How a channel stands at the end of a trace."""
    level = float(trace.values[-1])
    position = (
        Position.INSIDE if 0.0129 <= level <= 0.0141 else Position.BELOW if level < 0.013 else Position.ABOVE
    )
    base = ChannelState(
        channel=trace.channel,
        at_s=float(trace.seconds[-1]),
        value=level,
        level=level,
        noise=1.2e-5,
        position=position,
        settled=False,
        reason="still rising 0.6 % a minute",
        forecast=Forecast(0.0, 1800.0, rest, rest - 0.00021, rest + 0.00021, True),
        time_left_s=(240.0, 420.0),
        accept_low=0.01293,
        accept_high=0.01407,
        amperes=level / 0.54,
    )
    return dataclasses.replace(base, **changes)  # type: ignore[arg-type]


STEPS = (
    StepLine("connect", "Clip on, power switched off", StepState.DONE),
    StepLine("found", "As found, both channels", StepState.DONE),
    StepLine("down", "Turn down", StepState.SKIPPED, "found within 2.0 of target"),
    StepLine("warm", "Warm up until settled", StepState.DONE),
    StepLine("left", "Trim left", StepState.ACTIVE),
    StepLine("right", "Trim right", StepState.WAITING),
    StepLine("more", "Ten minutes more", StepState.WAITING),
    StepLine("check", "Check both, repeat what moved", StepState.WAITING),
    StepLine("lid", "Lid on, last word", StepState.WAITING),
)


def trimming_view(traces: tuple[Trace, ...], **changes: object) -> RunView:
    """Left channel being trimmed."""
    at_s = float(traces[0].seconds[-1])
    base = RunView(
        at_s=at_s,
        procedure="two-channel-trim",
        title="Two-channel bias trim",
        steps=STEPS,
        step="left",
        instruction=Instruction(
            at_s,
            "left",
            "Turn the left trimmer until it shows 13.2 mV",
            "Both test points are live. One hand.",
        ),
        next_label="Left is done",
        focus=LEFT,
        channels=(state(traces[0], 0.0128), state(traces[1], 0.0136)),
        advice=(
            TrimAdvice(LEFT, AdviceKind.TURN, "Clockwise raised it: go on to 13.2 mV", show_volts=0.0132),
            TrimAdvice(RIGHT, AdviceKind.LEAVE_ALONE, "Leave it alone while left is trimmed"),
        ),
        recorded=(
            RecordedValue(130.0, "as found", LEFT, 0.01062, Unit.VOLT),
            RecordedValue(150.0, "as found", RIGHT, 0.01188, Unit.VOLT),
        ),
        supply=Supply.MAINS,
        power_on_s=20.0,
    )
    return dataclasses.replace(base, **changes)  # type: ignore[arg-type]


def trimming_picture(serial: int = 1, **changes: object) -> BenchPicture:
    """A two-channel trim, twenty minutes in."""
    traces = (warm_up(LEFT, 0.0082, 0.0127, 1260.0), warm_up(RIGHT, 0.0091, 0.01362, 1260.0))
    base = BenchPicture(
        serial=serial,
        view=trimming_view(traces),
        setups=(setup(LEFT), setup(RIGHT)),
        traces=traces,
        marks=(
            TraceMark(20.0, "supply", "on the mains"),
            TraceMark(130.0, "step", "as found"),
            TraceMark(170.0, "step", "warm up"),
            TraceMark(1150.0, "step", "trim left"),
        ),
        meters=(
            MeterStatus("meter A", MeterState.POLLING, 0.0),
            MeterStatus("meter B", MeterState.POLLING, 0.0),
        ),
        leads=Leads((Lead("meter A", "1", LEFT), Lead("meter B", "1", RIGHT))),
        unit_name="Halden 60 · no. 0417",
    )
    return dataclasses.replace(base, **changes)  # type: ignore[arg-type]


class FakePractice:
    """Hands that remember."""

    def __init__(self) -> None:
        self.done: list[tuple[object, ...]] = []
        self._supply, self._lid, self._speed = Supply.OFF, False, 10.0
        self._knobs = {LEFT: 0.31, RIGHT: 0.36}

    def hands(self) -> Hands:
        knobs = tuple(Trimmer(c, p) for c, p in self._knobs.items())
        return Hands(self._supply, self._lid, knobs, self._speed)

    def switch(self, supply: Supply) -> None:
        self.done.append(("switch", supply))
        self._supply = supply

    def turn(self, channel: str, by: float) -> None:
        self.done.append(("turn", channel, by))
        self._knobs[channel] = min(1.0, max(0.0, self._knobs[channel] + by))

    def fit_lid(self, fitted: bool) -> None:
        self.done.append(("lid", fitted))
        self._lid = fitted

    def slip(self, channel: str) -> None:
        self.done.append(("slip", channel))

    def short(self, channel: str) -> None:
        self.done.append(("short", channel))

    def drive(self, driven: bool) -> None:
        self.done.append(("drive", driven))

    def set_speed(self, speed: float) -> None:
        self.done.append(("speed", speed))
        self._speed = speed


class FakeBench:
    """Shows the picture it was given; `done` holds what was asked of it, in order."""

    def __init__(self, picture: BenchPicture, practice: FakePractice | None = None) -> None:
        self._picture = picture
        self._practice = practice
        self.done: list[tuple[object, ...]] = []
        self.left = False

    @property
    def practice(self) -> FakePractice | None:
        return self._practice

    def show(self, **changes: object) -> None:
        """Change parts of the picture."""
        serial = self._picture.serial + 1
        self._picture = dataclasses.replace(self._picture, serial=serial, **changes)  # type: ignore[arg-type]

    def show_view(self, **changes: object) -> None:
        """Change parts of the run's view."""
        self.show(view=dataclasses.replace(self._picture.view, **changes))  # type: ignore[arg-type]

    def picture(self) -> BenchPicture:
        return self._picture

    def press_next(self) -> None:
        self.done.append(("next",))

    def answer(self, question: str, choice: str, text: str = "") -> None:
        self.done.append(("answer", question, choice, text))

    def read_off(self, channel: str, text: str) -> None:
        self.done.append(("typed", channel, value_read_off(self._picture.setup_of(channel), text)))

    def unchanged(self, channel: str) -> None:
        self.done.append(("unchanged", channel))

    def move_lead(self, meter: str, meter_input: str, channel: str | None) -> None:
        self.done.append(("lead", meter, meter_input, channel))

    def supply(self, supply: Supply) -> None:
        self.done.append(("supply", supply))

    def lid(self, fitted: bool) -> None:
        self.done.append(("lid", fitted))

    def driven(self, driven: bool) -> None:
        self.done.append(("driven", driven))

    def note(self, text: str, channel: str | None = None) -> None:
        self.done.append(("note", text, channel))

    def undo_note(self) -> str:
        self.done.append(("undo",))
        return "buzz when touched"

    def acknowledge(self, alarm: str) -> None:
        self.done.append(("acknowledge", alarm))

    def pause(self, paused: bool) -> None:
        self.done.append(("pause", paused))
        self.show_view(paused=paused)

    def away(self, away: bool) -> None:
        self.done.append(("away", away))
        self.show_view(away=away)

    def stop(self, reason: str) -> None:
        self.done.append(("stop", reason))

    def name(self, unit: str, job: str) -> None:
        self.done.append(("name", unit, job))

    def export_csv(self, path: Path) -> str:
        self.done.append(("export", path))
        return f"Written: {path}"

    def leave_open(self) -> None:
        """Remember that it was left open."""
        self.done.append(("left open",))
        self.leave()

    def leave(self) -> None:
        self.left = True


HIGH = Alarm(1200.0, "level/left bias", Tier.OFF, LEFT, "Switch the mains off now: left bias 41.2 mV")
AS_FOUND = Question(
    130.0,
    "found/1/left",
    "found",
    "What holds for the left channel?",
    choices=(
        Choice("keep", "Keep 10.62 mV", True),
        Choice("dead", "Not measured: dead"),
        Choice("hot", "Not measured: too hot"),
    ),
)
