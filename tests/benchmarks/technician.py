"""A technician at a simulated unit: a hand with an error, play in the trimmer, and an ear for the coach.

The guided one does what the advice of the Monitor says and knows nothing else: "the same way" and "back" are
followed even where they are wrong. The naive one sets the reading to the target and looks again later.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from drivers.meter import MeterAccuracy
from drivers.simulated.parameters import UnitParameters
from drivers.simulated.physics import Amplifiers
from procedures.analysis.channel import AdviceKind, ChannelSetup, TrimAdvice
from procedures.analysis.monitor import Monitor
from procedures.events import ChannelReading, Supply, SupplyChanged

Floats = npt.NDArray[np.float64]

NAMES = ("left bias", "right bias")
REACTION_S = 2
LOOKS_EVERY_S = 20
READS_EVERY_S = 10  # between visits; every second while a hand is on a trimmer
LONGEST_VISIT_S = 240
FASTEST = 0.03  # of the travel, one movement of the hand
TOLERANCE = 0.02
_ENDS = (
    AdviceKind.NO_RESPONSE,
    AdviceKind.RANGE_EXHAUSTED,
    AdviceKind.WRONG_TRIMMER,
    AdviceKind.STOP,
    AdviceKind.LEAVE_ALONE,
)


@dataclass
class Outcome:
    """What became of one channel."""

    visits: int = 0
    movements: int = 0
    wrong_words: int = 0
    given_up: str = ""
    last_s: float = 0.0
    moments: list[float] = field(default_factory=list)


class Trimmer:
    """The knobs of both channels: play between knob and wiper, and end stops."""

    def __init__(self, model: Amplifiers, play: Floats) -> None:
        self._model, self._play = model, play
        self.knob = model.wiper

    def turn(self, unit: int, channel: int, by: float) -> None:
        knob = float(np.clip(self.knob[unit, channel] + by, 0.0, 1.0))
        self.knob[unit, channel] = knob
        half = 0.5 * float(self._play[unit, channel])
        wiper = float(np.clip(self._model.wiper[unit, channel], knob - half, knob + half))
        self._model.set_wiper(wiper, (unit, channel))

    def wanted(self, unit: int, channel: int, wiper: float, direction: int) -> float:
        """By how much the knob must turn so that the wiper arrives at `wiper`, taking up the play."""
        half = 0.5 * float(self._play[unit, channel])
        return wiper + direction * half - float(self.knob[unit, channel])


class Guided:
    """One technician at one unit, following the advice."""

    def __init__(
        self, unit: int, units: UnitParameters, target: Floats, *, hand: float, seed: list[int], step: float
    ) -> None:
        self.outcomes = (Outcome(), Outcome())
        self._unit, self._hand = unit, hand
        self._random = np.random.default_rng(seed)
        self._ohm = units.measured_ohm[unit]
        setups = [
            ChannelSetup(
                name,
                target_volts=float(target[unit, c]),
                low_volts=float(target[unit, c]) * (1.0 - TOLERANCE),
                high_volts=float(target[unit, c]) * (1.0 + TOLERANCE),
                resistance_ohm=float(units.measured_ohm[unit, c]),
                emitter_resistor_ohm=float(units.emitter_ohm[unit, c]),
                accuracy=MeterAccuracy(resolution=step),
            )
            for c, name in enumerate(NAMES)
        ]
        self.monitor = Monitor(setups)
        self.monitor.feed(SupplyChanged(0.0, Supply.MAINS))
        self._at: int | None = None
        self._begun_s = self._acted_s = 0.0
        self._direction = 1
        self._moved = False
        self._ready_s: float | None = None
        self._nudged = 1

    def read(self, at_s: float, channel: int, volts: float) -> None:
        if self._at is None and at_s % READS_EVERY_S:
            return
        self.monitor.feed(ChannelReading(at_s, NAMES[channel], volts))

    def act(self, at_s: float, model: Amplifiers, trimmer: Trimmer) -> None:
        """Look, and do at most one thing."""
        if self._at is None:
            if at_s % LOOKS_EVERY_S == 0:
                self._look(at_s)
            return
        advice = self.monitor.advice(NAMES[self._at])
        if self._over(at_s, advice):
            self._leave(at_s, advice)
        elif at_s - self._acted_s >= REACTION_S:
            self._follow(at_s, advice, model, trimmer)

    def _look(self, at_s: float) -> None:
        for channel, outcome in enumerate(self.outcomes):
            if outcome.given_up:
                continue
            if self.monitor.advice(NAMES[channel]).kind is AdviceKind.NUDGE:
                self._at, self._begun_s, self._acted_s, self._moved = channel, at_s, at_s, False
                self._direction = self._nudged = int(self._random.choice([-1, 1]))
                self._ready_s = None
                self.monitor.begin_trim(NAMES[channel], at_s)
                return

    def _over(self, at_s: float, advice: TrimAdvice) -> bool:
        if at_s - self._begun_s > LONGEST_VISIT_S:
            return True
        if advice.kind not in (AdviceKind.DONE, *_ENDS):
            self._ready_s = None
            return False
        self._ready_s = at_s if self._ready_s is None else self._ready_s
        return at_s - self._ready_s >= 5.0

    def _leave(self, at_s: float, advice: TrimAdvice) -> None:
        assert self._at is not None
        outcome = self.outcomes[self._at]
        self.monitor.end_trim(NAMES[self._at], at_s)
        if self._moved:
            outcome.visits += 1
            outcome.last_s = at_s
            outcome.moments.append(at_s)
        if advice.kind in _ENDS and advice.kind is not AdviceKind.LEAVE_ALONE:
            outcome.given_up = advice.kind.value
        self._at = None

    def _follow(self, at_s: float, advice: TrimAdvice, model: Amplifiers, trimmer: Trimmer) -> None:
        assert self._at is not None
        unit, channel = self._unit, self._at
        if advice.kind is AdviceKind.NUDGE:
            self._acted_s = at_s
            self._moved = True
            trimmer.turn(unit, channel, self._direction * float(self._random.uniform(0.006, 0.014)))
            return
        if advice.kind not in (AdviceKind.TURN, AdviceKind.TURN_BACK, AdviceKind.APPROACH_FROM_BELOW):
            return
        assert advice.show_volts is not None
        self._direction = -self._nudged if "against your nudge" in advice.text else self._nudged
        self._acted_s, self._moved = at_s, True
        self.outcomes[channel].movements += 1
        error = abs(float(self._random.normal(0.0, self._hand))) * float(
            self._random.choice([-1.0, 1.0, 1.0])
        )
        now = float(model.reading_volts[unit, channel])
        rises = advice.show_volts > now
        landing = advice.show_volts * (1.0 + (error if rises else -error))
        wiper = float(model.wiper_for_amperes(landing / self._ohm[channel])[unit, channel])
        away = wiper - float(model.wiper[unit, channel])
        honest = (landing > now) is rises
        if honest and away * self._direction < 0.0:
            self.outcomes[channel].wrong_words += 1
            trimmer.turn(unit, channel, self._direction * 0.004)
        else:
            by = trimmer.wanted(unit, channel, wiper, self._direction) if honest else self._direction * 5e-4
            trimmer.turn(unit, channel, float(np.clip(by, -FASTEST, FASTEST)))


class Naive:
    """Sets the reading to the target as soon as it is seen off by more than 2 %, every five minutes."""

    FIRST_S, EVERY_S = 60, 300
    REACH = 0.006

    def __init__(self, hand: float, seed: list[int], shape: tuple[int, ...]) -> None:
        self._hand = hand
        self._random = np.random.default_rng(seed)
        self.visits: npt.NDArray[np.int64] = np.zeros(shape, dtype=np.int64)

    def act(self, at_s: int, model: Amplifiers, target: Floats, ohm: Floats) -> None:
        if at_s < self.FIRST_S or (at_s - self.FIRST_S) % self.EVERY_S:
            return
        off = np.abs(model.reading_volts / target - 1.0) > TOLERANCE
        error = self._random.normal(0.0, self._hand, target.shape)
        for _ in range(60):  # as patient with the live reading as the guided one
            far = np.abs(error) > self.REACH
            error = np.where(far, self._random.normal(0.0, self._hand, target.shape), error)
        wiper = np.clip(model.wiper_for_amperes(target * (1.0 + error) / ohm), 0.0, 1.0)
        if off.any():
            model.set_wiper(wiper[off], off)
        self.visits += off
