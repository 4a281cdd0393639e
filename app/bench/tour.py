"""The tour: a short job on the simulated bench, for somebody who sees the program for the first time.

The person does the real thing on the real working screen; what is shown instead of a procedure's steps are
the tour's own, each of which ends when picture and hands say that it was done. Not here: when the tour is
begun (`app.windows.touring`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from app.bench.live_bench import BenchParts, LiveBench
from app.bench.practice_unit import SimulatedHands
from app.windows.ports import BenchPicture, Hands
from procedures.analysis.channel import ChannelState, Position
from procedures.events import Instruction, RunEnded, StepState, Supply, Tier
from procedures.view import RunView, StepLine

BRISK, SLOW, FAST = 20.0, 5.0, 60.0  # bench seconds a second
RISES_S = 120.0  # so long the bubble is watched, in bench time
SETTLES_S = 2700.0  # longer than any healthy unit takes
TRIMMED, RAISED = "left bias", "right bias"
_CURRENT = (Tier.LOOK, Tier.ACT, Tier.OFF)


@dataclass(frozen=True, slots=True)
class Scene:
    """What the tour looks at: the picture as it was drawn, the hands, and how long the step has gone on."""

    picture: BenchPicture
    hands: Hands
    lasted_s: float

    @property
    def view(self) -> RunView:
        """The run."""
        return self.picture.view

    def channel(self, name: str) -> ChannelState | None:
        """How a channel stands."""
        return next((one for one in self.view.channels if one.channel == name), None)

    def inside(self, name: str) -> bool:
        """Whether a channel's level is inside its window."""
        state = self.channel(name)
        return state is not None and state.position is Position.INSIDE

    @property
    def alarmed(self) -> bool:
        """Whether too much current is told of, and nobody has said that it was seen."""
        return any(one.alarm.tier in _CURRENT and not one.acknowledged for one in self.view.alarms)


@dataclass(frozen=True, slots=True)
class TourStep:
    """A line of the tour. `key` names what Space does and is empty where hands must do it."""

    title: str
    words: Callable[[Scene], str]
    done: Callable[[Scene], bool]
    key: str = ""
    speed: float = BRISK


def _never(_scene: Scene) -> bool:
    return False


def _switched_on(scene: Scene) -> bool:
    return scene.hands.supply is not Supply.OFF


def _told_on(scene: Scene) -> bool:
    return scene.view.supply is not Supply.OFF


def _risen(scene: Scene) -> bool:
    return scene.lasted_s >= RISES_S


def _trimmed(scene: Scene) -> bool:
    """In the middle or a little above it: near the lower mark a healthy unit would still fall out."""
    state, target = scene.channel(TRIMMED), scene.picture.setup_of(TRIMMED).target_volts
    if state is None or state.value is None or target is None:
        return False
    return scene.inside(TRIMMED) and state.value >= 0.99 * target


def _settled(scene: Scene) -> bool:
    state = scene.channel(TRIMMED)
    return (state is not None and state.settled) or scene.lasted_s > SETTLES_S


def _alarm_stands(scene: Scene) -> bool:
    return scene.alarmed


def _alarm_seen(scene: Scene) -> bool:
    return not scene.alarmed


def _told_off(scene: Scene) -> bool:
    return scene.hands.supply is Supply.OFF and scene.view.supply is Supply.OFF


def _constant(text: str) -> Callable[[Scene], str]:
    return lambda _scene: text


def _waiting(scene: Scene) -> str:
    if not scene.inside(TRIMMED):
        return "It left the window: turn the left trimmer until the bubble is back between the marks."
    return (
        "Hands off and wait, at sixty times the speed of life. Settled is said when the reading will stay, "
        "not when it was inside once."
    )


STEPS: tuple[TourStep, ...] = (
    TourStep(
        "The big key",
        _constant(
            "A simulated amplifier and two minutes: nothing can break. Space does what is written beside it."
        ),
        _never,
        key="Begin",
    ),
    TourStep(
        "Switch it on",
        _constant("Under “Your hands” choose Mains (Ctrl+Shift+P): that is the switch of the amplifier."),
        _switched_on,
    ),
    TourStep(
        "Say that it is on",
        _constant("The program sees readings, never your switch: press F6, then Enter: “On the mains”."),
        _told_on,
    ),
    TourStep(
        "Watch the bubble",
        _constant("The bubble is the reading, the two marks are the window. It warms up: watch it move."),
        _risen,
    ),
    TourStep(
        "Turn a trimmer",
        _constant(
            "Turn the left trimmer (Ctrl+Shift+T, then ↑ or the wheel) until its bubble is in the middle."
        ),
        _trimmed,
        speed=SLOW,
    ),
    TourStep("What settled means", _waiting, _settled, speed=FAST),
    TourStep(
        "Raise an alarm",
        _constant(
            "Only here: turn the right trimmer (Ctrl+Shift+T again) up and up, Page Up, until an alarm comes."
        ),
        _alarm_stands,
        speed=SLOW,
    ),
    TourStep(
        "Say that you saw it",
        _constant("That is an alarm: what it is, and what to do first. F8 says that you have seen it."),
        _alarm_seen,
        speed=SLOW,
    ),
    TourStep(
        "Switch it off",
        _constant("The cause is still there: switch the amplifier Off, and say so: F6, Enter."),
        _told_off,
        speed=SLOW,
    ),
)
LAST_WORDS = (
    "That was the tour. On a real amplifier the steps, the cautions and the readings are the job's own."
)


class TourBench(LiveBench):
    """The simulated bench whose picture shows the tour's steps; `after` is called when it has been left."""

    def __init__(self, parts: BenchParts, hands: SimulatedHands, after: Callable[[], object]) -> None:
        parts.unit_name = "Tour of the simulated bench · Esc ends it"
        super().__init__(parts)
        self._simulated = hands
        self._after = after
        self._place = 0
        self._since_s = 0.0
        self._speed = 0.0

    @property
    def place(self) -> int:
        """How many steps of the tour have been done."""
        return self._place

    def picture(self) -> BenchPicture:
        """The picture of the bench with the tour's step in it."""
        picture = super().picture()
        scene = self._scene(picture)
        if self._place < len(STEPS) and STEPS[self._place].done(scene):
            self._go_on(picture.view.at_s)
            scene = self._scene(picture)
        self._keep_pace(scene)
        serial = picture.serial * (2 * len(STEPS) + 2) + 2 * self._place + scene.inside(TRIMMED)
        return replace(picture, serial=serial, view=self._told(scene), tour=True)

    def press_next(self) -> None:
        """Go on where the tour asks for the big key."""
        if self._place < len(STEPS) and STEPS[self._place].key:
            self._go_on(self.view.at_s)

    def leave_open(self) -> None:
        """Nothing of a tour is taken up again."""
        self.leave()

    def leave(self) -> None:
        """Stop, and let nothing of it remain."""
        super().leave()
        self._after()

    def _scene(self, picture: BenchPicture) -> Scene:
        return Scene(picture, self._simulated.hands(), picture.view.at_s - self._since_s)

    def _go_on(self, at_s: float) -> None:
        self._place += 1
        self._since_s = at_s
        if self._place < len(STEPS) and STEPS[self._place].done is _trimmed:
            self.trim(TRIMMED)  # as a procedure's step would say it

    def _keep_pace(self, scene: Scene) -> None:
        """The step's speed; slower while a hand has to follow a reading."""
        speed = STEPS[self._place].speed if self._place < len(STEPS) else SLOW
        if speed == FAST and not scene.inside(TRIMMED):
            speed = SLOW
        if speed != self._speed:
            self._speed = speed
            self._simulated.set_speed(speed)

    def _told(self, scene: Scene) -> RunView:
        view, place = scene.view, self._place
        lines = tuple(
            StepLine(f"tour-{number}", step.title, _state(number, place)) for number, step in enumerate(STEPS)
        )
        if place == len(STEPS):
            ended = RunEnded(view.at_s, True, LAST_WORDS)
            return replace(view, title="Tour", steps=lines, instruction=None, ended=ended)
        step = STEPS[place]
        told = Instruction(view.at_s, f"tour-{place}", step.words(scene))
        return replace(view, title="Tour", steps=lines, step=told.step, instruction=told, next_label=step.key)


def _state(number: int, place: int) -> StepState:
    if number < place:
        return StepState.DONE
    return StepState.ACTIVE if number == place else StepState.WAITING
