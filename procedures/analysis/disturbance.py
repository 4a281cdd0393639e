"""Disturbances of readings, each named with a sentence; none is averaged away.

Here: which finder's result is which kind, what is said, and how often. A sentence says what the reading did
and what usually does that, never a cause as a fact. Not here: the finders (`jumps`, `beat`, `frozen`,
`vanishing`) and the alarms.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from enum import StrEnum

from procedures.analysis.beat import BeatFinder
from procedures.analysis.blocks import Block
from procedures.analysis.channel import ChannelSetup
from procedures.analysis.figures import amount, duration
from procedures.analysis.frozen import FrozenFinder
from procedures.analysis.jumps import Bend, BendFinder, Step, StepFinder
from procedures.analysis.vanishing import Vanished, VanishFinder
from procedures.events import Disturbance


class Kind(StrEnum):
    """Names of disturbances in the record."""

    STEP = "step"
    JOINT = "intermittent joint"
    SCRATCHY = "scratchy wiper"
    MAINS = "mains step"
    HUM = "hum beat"
    LID = "lid"
    DRAUGHT = "lid or draught"
    SLIP = "possible slip"
    LEAD_OFF = "lead off"
    SUPPLY_LOST = "supply lost"
    DRIVE = "drive"
    ASLEEP = "meter asleep"


UNEXPLAINED = frozenset({Kind.STEP, Kind.JOINT, Kind.SCRATCHY, Kind.SLIP, Kind.LEAD_OFF})
"""Kinds after which a reading is not called settled for a while."""

STOPS_GUIDANCE = frozenset({Kind.SLIP, Kind.LEAD_OFF, Kind.SUPPLY_LOST})
"""Kinds after which nobody is told to turn anything."""

_MEMORY_S = 900.0
_TOGETHER_S = 20.0
_REPEAT_S = 60.0
_NOISY = 0.015  # scatter of single readings, of the target
_NOISY_BLOCKS = 6
_HANDS_S = 60.0
_QUIET_S = 60.0
_DRIVEN_V = 0.05


class ChannelDisturbances:
    """Everything that may happen to one channel's readings."""

    def __init__(self, setup: ChannelSetup) -> None:
        self.setup = setup
        self._steps, self._bends = StepFinder(), BendFinder()
        self._beat, self._frozen = BeatFinder(), FrozenFinder()
        self._recent: deque[Step] = deque(maxlen=12)
        self._noisy: deque[bool] = deque(maxlen=_NOISY_BLOCKS)
        self._told: dict[Kind, float] = {}
        self._quiet_until_s = float("-inf")
        self.scale = abs(setup.target_volts or 0.0)

    def reading(self, at_s: float, value: float) -> tuple[Disturbance, ...]:
        """Take a reading."""
        if self.setup.typed:
            return ()
        held_s = self._frozen.see(at_s, value)
        if held_s is None:
            return ()
        text = (
            f"{self._name} has not changed by a digit for {duration(held_s)} although it flickered before: "
            "the meter may be asleep, or repeat an old value."
        )
        return (Disturbance(at_s, self.setup.channel, Kind.ASLEEP, text),)

    def block(
        self, block: Block, display_step: float
    ) -> tuple[tuple[Disturbance, ...], Step | None, Bend | None]:
        """Take a block: what is certain now, and a step or bend that the bench compares across channels."""
        if self.scale == 0.0:
            self.scale = abs(block.level)  # without a target the first level is the measure
        at_s, level = block.at_s, block.level
        scale = max(self.scale, abs(level) * 0.2)
        step = self._steps.see(at_s, level, scale, display_step)
        bend = self._bends.see(at_s, level, scale, display_step)
        found: list[Disturbance] = []
        beat = self._beat.see(at_s, level, scale, display_step)
        if beat and self._may_tell(Kind.HUM, at_s):
            swing = amount(2.0 * beat.amplitude, self.setup.unit)
            text = (
                f"{self._name} beats every {beat.period_s:.0f} s by {swing}, as mains hum does that a meter "
                "samples: set the meter to 50 Hz integration (or the local mains frequency)."
            )
            found.append(Disturbance(block.end_s, self.setup.channel, Kind.HUM, text))
        found += self._noise(block, scale, display_step)
        if at_s < self._quiet_until_s:
            return tuple(found), None, None
        if step:
            self._bends.forget()
        return tuple(found), step, bend

    def step(self, at_s: float, step: Step) -> tuple[Disturbance, ...]:
        """Name a step of this channel alone: the first, one that comes and goes, or one of many."""
        self._recent.append(step)
        recent = [s for s in self._recent if step.at_s - s.at_s <= _MEMORY_S]
        height = amount(step.height, self.setup.unit)
        often = f"{len(recent)} times in {duration(max(60.0, step.at_s - recent[0].at_s))}"
        heights = [abs(s.height) for s in recent]
        both_ways = len({s.height > 0.0 for s in recent}) == 2
        if both_ways and max(heights) <= 1.6 * min(heights):
            kind, does = (
                Kind.JOINT,
                f"jumps by about {height} and back, {often}, as an intermittent joint does",
            )
        elif len(recent) >= 3:
            kind = Kind.SCRATCHY
            does = f"jumped {often} by different amounts, as a scratchy trimmer does"
        else:
            way = "up" if step.height > 0.0 else "down"
            text = f"{self._name} stepped {way} by {height} at once, cause unknown."
            return (Disturbance(at_s, self.setup.channel, Kind.STEP, text),)
        if not self._may_tell(kind, at_s, _REPEAT_S):
            return ()
        return (Disturbance(at_s, self.setup.channel, kind, f"{self._name} {does}."),)

    def explained(self, at_s: float) -> None:
        """What the level does now has a known reason (a trim, a lost supply): it is no step."""
        self.quiet(at_s)
        self.forget()

    def quiet(self, at_s: float) -> None:
        """Look for no step in the minute that follows."""
        self._quiet_until_s = at_s + _QUIET_S

    def forget(self) -> None:
        """What was seen before does not continue."""
        self._steps.forget()
        self._bends.forget()
        self._beat.forget()
        self._noisy.clear()

    def _noise(self, block: Block, scale: float, display_step: float) -> list[Disturbance]:
        limit = max(_NOISY * scale, 3.0 * display_step)
        usual = max(block.noise or 0.0, self._steps.usual if not self.setup.typed else 0.0)
        self._noisy.append(usual > limit)
        if sum(self._noisy) < _NOISY_BLOCKS - 1 or not self._may_tell(Kind.SCRATCHY, block.at_s):
            return []
        text = (
            f"{self._name} crackles by about {amount(usual, self.setup.unit)}, as a scratchy trimmer, "
            "a loose probe or a signal does."
        )
        return [Disturbance(block.end_s, self.setup.channel, Kind.SCRATCHY, text)]

    def _may_tell(self, kind: Kind, at_s: float, every_s: float = 300.0) -> bool:
        if at_s - self._told.get(kind, float("-inf")) < every_s:
            return False
        self._told[kind] = at_s
        return True

    @property
    def _name(self) -> str:
        return self.setup.channel[:1].upper() + self.setup.channel[1:]


class BenchDisturbances:
    """Disturbances of all channels: what happens to one, and what happens to several together."""

    def __init__(self, setups: Sequence[ChannelSetup], bias: Sequence[str]) -> None:
        self._channels = {setup.channel: ChannelDisturbances(setup) for setup in setups}
        self._bias = tuple(bias)
        self._vanish = VanishFinder(self._bias)
        self._steps: dict[str, Step] = {}
        self._bends: dict[str, Bend] = {}
        self._hands_until_s = float("-inf")
        self._lid_s = float("-inf")
        self._driven: dict[str, bool] = {}

    def reading(self, at_s: float, channel: str, value: float) -> tuple[Disturbance, ...]:
        """Take a reading of a channel."""
        one = self._channels[channel]
        found = list(one.reading(at_s, value))
        if channel in self._bias:
            urgent = at_s <= self._hands_until_s
            gone = self._vanish.see(at_s, channel, value / one.scale, one.setup.typed, urgent)
            if gone:
                found += self._vanished(at_s, *gone)
        return tuple(found)

    def overload(self, at_s: float, channel: str) -> tuple[Disturbance, ...]:
        """An input went out of range while hands are on the board: possibly a slip."""
        if channel not in self._bias or at_s > self._hands_until_s:
            return ()
        self._hands_until_s = float("-inf")
        return (Disturbance(at_s, channel, Kind.SLIP, _slip_text(channel, "went out of range")),)

    def block(self, channel: str, block: Block, display_step: float) -> tuple[Disturbance, ...]:
        """Take a block of a channel."""
        found, step, bend = self._channels[channel].block(block, display_step)
        more = list(found)
        if step:
            self._steps[channel] = step
        if bend:
            self._bends[channel] = bend
        return (*more, *self._settle_steps(block.end_s), *self._settle_bends(block.end_s))

    def hands_on(self, at_s: float) -> None:
        """Somebody works on the board."""
        self._hands_until_s = at_s + _HANDS_S

    def trimmed(self, at_s: float, channel: str) -> None:
        """A trimmer is being turned: hands are on the board, and the other channel may move too."""
        self.hands_on(at_s)
        for name, one in self._channels.items():
            if name == channel or name in self._bias:
                one.explained(at_s)
                pending = self._steps.get(name)
                if pending is not None and pending.at_s > at_s - _HANDS_S:
                    del self._steps[name]  # it was the hand

    def turning(self, at_s: float, channel: str) -> None:
        """A trimmer is still being turned, however long it takes."""
        self.hands_on(at_s)
        for name, one in self._channels.items():
            if name == channel or name in self._bias:
                one.quiet(at_s)

    def lid(self, at_s: float, fitted: bool) -> tuple[Disturbance, ...]:
        """The lid was moved, as declared."""
        self._lid_s = at_s
        did = "put on" if fitted else "taken off"
        text = f"The lid was {did}: the readings will move for some minutes."
        return (Disturbance(at_s, None, Kind.LID, text),)

    def forget(self, channel: str | None = None) -> None:
        """What was seen before does not continue, on one channel or (another supply) on all."""
        for name, one in self._channels.items():
            if channel is None or name == channel:
                one.forget()
        if channel is None:
            self._vanish.forget()
            self._steps.clear()
            self._bends.clear()

    def driven(self, channel: str, block: Block) -> bool | None:
        """Whether a signal is seen on an output by this block; None when the channel cannot tell."""
        if not channel.endswith(("offset", "output")) or block.noise is None:
            return None
        seen = block.noise > (_DRIVEN_V / 2.0 if self._driven.get(channel) else _DRIVEN_V)
        self._driven[channel] = seen
        return any(self._driven.values())

    def lifted(self, channel: str) -> bool:
        """The lead was taken off a channel; whether the signal was seen there alone, and so no longer is."""
        saw = self._driven.pop(channel, False)
        return saw and not any(self._driven.values())

    # --- inside -------------------------------------------------------------------------------------

    def _vanished(self, at_s: float, what: Vanished, gone: tuple[str, ...]) -> list[Disturbance]:
        for channel in gone:
            self._channels[channel].explained(at_s)
        if what is Vanished.ALL:
            text = "All bias channels went to zero together: the supply was lost (mains, fuse or switch)."
            return [Disturbance(at_s, None, Kind.SUPPLY_LOST, text)]
        channel = gone[0]
        if at_s <= self._hands_until_s:
            return [Disturbance(at_s, channel, Kind.SLIP, _slip_text(channel, "fell to zero at once"))]
        text = (
            f"{_first_upper(channel)} fell to zero at once: lead off, or the output stage lost its current. "
            "Switch off, then check the lead and the outputs."
        )
        return [Disturbance(at_s, channel, Kind.LEAD_OFF, text)]

    def _settle_steps(self, now_s: float) -> list[Disturbance]:
        """Tell steps once no other channel can still join them."""
        found: list[Disturbance] = []
        for channel, step in list(self._steps.items()):
            twins = [
                name
                for name, other in self._steps.items()
                if name != channel
                and abs(other.at_s - step.at_s) <= _TOGETHER_S
                and other.height * step.height > 0.0
            ]
            if twins and channel in self._bias:
                for name in (channel, *twins):
                    self._steps.pop(name, None)
                text = (
                    f"{_first_upper(' and '.join((channel, *twins)))} stepped together, as after a change of "
                    "the mains voltage or of something that both share."
                )
                return [*found, Disturbance(now_s, None, Kind.MAINS, text)]
            if len(self._channels) == 1 or now_s - step.at_s > _TOGETHER_S + 25.0:
                self._steps.pop(channel)
                found += self._channels[channel].step(now_s, step)
        return found

    def _settle_bends(self, now_s: float) -> list[Disturbance]:
        """A bend counts only when every bias channel that is read bends at about the same time."""
        bends = {name: bend for name, bend in self._bends.items() if name in self._bias}
        if not bends or len(bends) < min(2, len(self._bias)):
            return []
        moments = [bend.at_s for bend in bends.values()]
        if max(moments) - min(moments) > 2.0 * _HANDS_S:
            oldest = min(bends, key=lambda name: bends[name].at_s)
            self._bends.pop(oldest)
            return []
        self._bends.clear()
        if min(moments) - self._lid_s < _MEMORY_S:
            return []
        names = _first_upper(" and ".join(bends))
        turned = "began to move" if len(bends) == 1 else "began to move together"
        return [
            Disturbance(
                now_s, None, Kind.DRAUGHT, f"{names} {turned}, as when the lid is moved or a draught blows."
            )
        ]


def _slip_text(channel: str, did: str) -> str:
    return f"{_first_upper(channel)} {did}: possible slip: switch off, check the outputs."


def _first_upper(text: str) -> str:
    return text[:1].upper() + text[1:]
