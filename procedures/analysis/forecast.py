"""Where a channel's reading will be, with an interval that keeps its promise, or silence.

The bank of models (`forecast_bank`) gives mean and spread; here they get units and honesty: past forecasts of
"now" are held against what came, and when they were off the interval grows; what cannot be known yet is not
spoken. Steps and trims are taken in without spoiling what was learnt. Not here: whether a reading is settled.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from procedures.analysis.blocks import Block
from procedures.analysis.channel import Forecast
from procedures.analysis.forecast_bank import Filter
from procedures.analysis.remembered import Course, RememberedWarmUp
from procedures.analysis.z_domain import ZDomain

Floats = NDArray[np.float64]

REST_S = 1800.0  # "at rest" is judged half an hour after power-on,
REST_AHEAD_S = 900.0  # or a quarter of an hour ahead when that is later
SPOKEN_HALF_WIDTH = 0.05
SPEAKS_AFTER_S = 300.0  # before, no forecast can have been tested
_SPEAKS_REMEMBERED_S = 120.0
_BEGINS_S = 10.0
_COVERAGE = 1.96
_MINUTE_S = 60.0
_LEADS_S: Floats = np.arange(1, 31, dtype=np.float64) * _MINUTE_S
_OFF_ALLOWED = 2.0  # a past forecast may be off by so many of its sd before intervals grow
_OLDEST_SHARE = 0.25  # only forecasts older than a quarter of the warm-up say something about the next
_OUTLIER = 6.0
_SMALLEST_STEP = 0.006
_STEP_BLOCKS = 3
_LEAST_SD = 1e-4
# What a remembered warm-up leaves open: the size of its course, and the share of every mode that may differ.
# Both grow with how differently the channel is set now; the other channel of a unit is a poorer witness.
_MEMORY_DOUBT, _MEMORY_LEAVES, _MEMORY_OTHER = 0.07, 0.045, 0.15
_OTHER_CHANNEL = 1.6
_MEMORY_CAUTION = 0.15
_EVIDENCE_AGAINST = 12.0


@dataclass(frozen=True, slots=True)
class Outlook:
    """What lies ahead of a channel, in its unit; arrays of shape (n,), one a lead time.

    `levels` and `changes` (from now) are means, `level_sds` and `change_sds` standard deviations that have
    been widened by how far past forecasts were off.
    """

    leads_s: Floats
    levels: Floats
    level_sds: Floats
    changes: Floats
    change_sds: Floats


@dataclass(frozen=True, slots=True)
class _Said:
    """A forecast of the next half hour, kept to be held against what came (relative to the scale)."""

    at_s: float
    levels: Floats
    sds: Floats


class Forecaster:
    """Follows one channel block by block. Constant cost whatever the length.

    `odd_blocks` counts the blocks that no warm-up explains: spikes, and the beginning of every step.
    """

    odd_blocks: int

    def __init__(self, target: float | None, smallest_scale: float, domain: ZDomain | None = None) -> None:
        self._target, self._domain = target, domain
        self._smallest = smallest_scale
        self._warm_up: RememberedWarmUp | None = None
        self._bank: Filter | None = None
        self._plain: Filter | None = None
        self._course: Course | None = None
        self._against = 0.0
        self._said: deque[_Said] = deque(maxlen=len(_LEADS_S))
        self.forget()

    def forget(self) -> None:
        """Begin anew with the next block."""
        self._bank = self._plain = self._course = None
        self._scale = 1.0
        self._at_s = self._on_s = 0.0
        self._outliers = 0
        self._moving = False
        self._expects_move = False
        self._against = 0.0
        self.odd_blocks = 0
        self._said.clear()
        self._off = 1.0
        self._next_said_s = 0.0

    def remember(self, warm_up: RememberedWarmUp) -> None:
        """Use an earlier warm-up of this unit from the next begin on."""
        self._warm_up = warm_up

    @property
    def following(self) -> bool:
        """Whether there is anything to forecast from."""
        return self._bank is not None

    @property
    def followed_s(self) -> float:
        """How long the channel has been followed without a break."""
        return self._bank.age_s + _BEGINS_S if self._bank is not None else 0.0

    @property
    def since_on_s(self) -> float:
        """Time from power-on to the latest block."""
        return self._at_s - self._on_s

    # --- what comes in ------------------------------------------------------------------------------

    def absorb(self, block: Block, variance: float, power_on_s: float | None) -> None:
        """Take a block; `variance` is that of its level as a measurement, in the unit squared."""
        if self._bank is None:
            self._begin(block, power_on_s)
            return
        if block.at_s <= self._at_s:
            return
        step_s = block.at_s - self._at_s
        self._at_s = block.at_s
        level = block.level / self._scale
        spread = max(variance / self._scale**2, _LEAST_SD**2)
        shape = self._shape(block.at_s)
        self._bank.elapse(step_s)
        if self._plain is not None:
            self._plain.elapse(step_s)
        if self._moving or not self._plausible(level, spread, shape):
            return
        evidence = self._bank.learn(level, spread, shape)
        if self._plain is not None:
            self._weigh_memory(self._plain.learn(level, spread) - evidence)
        if block.at_s >= self._next_said_s:
            self._hindcast(level, spread)

    def begin_move(self) -> None:
        """The level is being moved on purpose: follow it without learning from it."""
        self._moving = True

    def end_move(self) -> None:
        """The move is over: the next block shows the new level."""
        self._moving = False
        self._expects_move = True

    def stir(self, amount: float) -> None:
        """The cooling changed: allow for an effect of `amount` (a fraction of the level)."""
        if self._bank is not None:
            self._bank.stir(amount)
            self._said.clear()

    # --- what goes out ------------------------------------------------------------------------------

    def outlook(self, leads_s: Floats) -> Outlook | None:
        """What lies `leads_s` (n,) ahead of the latest block; None while there is nothing to say."""
        if self._bank is None:
            return None
        levels, sds, changes, change_sds = self._bank.ahead(leads_s, self._shapes(leads_s))
        wide = self._scale * self._off * self._caution()
        return Outlook(leads_s, levels * self._scale, sds * wide, changes * self._scale, change_sds * wide)

    def forecast(self, at_s: float | None = None) -> Forecast | None:
        """The resting value as it looks now; `at_s` asks for another moment instead.

        None while there is nothing to forecast from.
        """
        for_s = at_s if at_s is not None else self._rest_s()
        found = self.outlook(np.array([max(0.0, for_s - self._at_s)]))
        return self._told(found, for_s) if found is not None else None

    def look(self, leads_s: Floats) -> tuple[Outlook | None, Forecast | None]:
        """The outlook over `leads_s` (n,) and the resting value, for the price of one."""
        rest_s = self._rest_s()
        found = self.outlook(np.append(leads_s, rest_s - self._at_s))
        if found is None:
            return None, None
        near = Outlook(
            leads_s, found.levels[:-1], found.level_sds[:-1], found.changes[:-1], found.change_sds[:-1]
        )
        return near, self._told(found, rest_s)

    # --- inside -------------------------------------------------------------------------------------

    def _rest_s(self) -> float:
        return max(self._on_s + REST_S, self._at_s + REST_AHEAD_S)

    def _told(self, found: Outlook, for_s: float) -> Forecast:
        """The last moment of an outlook as a forecast."""
        volts, half = float(found.levels[-1]), _COVERAGE * float(found.level_sds[-1])
        early = _SPEAKS_REMEMBERED_S if self._course is not None else SPEAKS_AFTER_S
        known = min(self.since_on_s, self.followed_s) >= early
        spoken = known and self._outliers == 0 and half <= SPOKEN_HALF_WIDTH * abs(volts)
        return Forecast(self._at_s, for_s, volts, volts - half, volts + half, spoken)

    def _begin(self, block: Block, power_on_s: float | None) -> None:
        on_s = power_on_s if power_on_s is not None else block.start_s
        if power_on_s is not None and block.at_s - on_s < _BEGINS_S:
            return
        self._on_s, self._at_s = on_s, block.at_s
        half_target = 0.5 * abs(self._target) if self._target is not None else 0.0
        self._scale = max(abs(block.level), half_target, self._smallest)
        level = block.level / self._scale
        self._bank = Filter(level)
        if self._warm_up is not None:
            self._course = Course(self._warm_up, self._domain, block.at_s - on_s, block.level)
            witness = 1.0 if self._warm_up.same_channel else _OTHER_CHANNEL
            apart = _MEMORY_OTHER * self._course.other
            self._plain = self._bank
            self._bank = Filter(level, modes_scale=min(1.0, witness * (_MEMORY_LEAVES + apart)))
            self._bank.doubt_memory(witness * (_MEMORY_DOUBT + apart))
        self._next_said_s = block.at_s + _MINUTE_S

    def _shape(self, at_s: float) -> float:
        return self._course.change(at_s - self._on_s) / self._scale if self._course is not None else 0.0

    def _shapes(self, leads_s: Floats) -> Floats | None:
        if self._course is None:
            return None
        return np.array([self._shape(self._at_s + float(lead)) for lead in leads_s])

    def _plausible(self, level: float, spread: float, shape: float) -> bool:
        """Whether a level may be learnt from; a lasting step is taken in as a shift first."""
        assert self._bank is not None
        expected, sd = self._bank.expected(shape)
        miss = level - expected
        if not self._expects_move:
            if abs(miss) <= max(_SMALLEST_STEP, _OUTLIER * (sd * sd + spread) ** 0.5):
                self._outliers = 0
                return True
            self._outliers += 1
            self.odd_blocks += 1
            if self._outliers < _STEP_BLOCKS:
                return False
        self._outliers, self._expects_move = 0, False
        self._bank.shift(miss, 0.1 * abs(miss) + 0.005)
        if self._plain is not None:
            self._plain.shift(level - self._plain.expected()[0], 0.1 * abs(miss) + 0.005)
        if self._course is not None and self._warm_up is not None:
            self._bank.rebase(shape)
            elapsed_s = self._at_s - self._on_s
            self._course = Course(self._warm_up, self._domain, elapsed_s, level * self._scale)
        self._said.clear()
        return True

    def _weigh_memory(self, against: float) -> None:
        """Let go of the remembered warm-up when the plain models foresee the readings better."""
        self._against = max(-_EVIDENCE_AGAINST, self._against + against)
        if self._against > _EVIDENCE_AGAINST:
            self._bank, self._plain, self._course = self._plain, None, None
            self._said.clear()

    def _hindcast(self, level: float, spread: float) -> None:
        """Hold past forecasts of now against what came, and keep what is said now."""
        assert self._bank is not None
        old_enough_s = max(_MINUTE_S, _OLDEST_SHARE * self.since_on_s)
        worst = 0.0
        for said in self._said:
            age_s = self._at_s - said.at_s
            if old_enough_s <= age_s <= _LEADS_S[-1]:
                mean = float(np.interp(age_s, _LEADS_S, said.levels))
                sd = float(np.interp(age_s, _LEADS_S, said.sds))
                worst = max(worst, abs(level - mean) / (sd * sd + spread) ** 0.5)
        self._off = max(1.0, worst / _OFF_ALLOWED)
        levels, sds, _, _ = self._bank.ahead(_LEADS_S, self._shapes(_LEADS_S))
        self._said.append(_Said(self._at_s, levels, sds))
        self._next_said_s = self._at_s + _MINUTE_S

    def _caution(self) -> float:
        """Intervals are wider before there is anything to hold them against."""
        if self._course is not None:
            # As the interval narrows, what no memory can know (weather, mains) counts for more of it.
            return 1.0 + _MEMORY_CAUTION * min(1.0, max(0.0, self.since_on_s - 180.0) / 120.0)
        late_s = self.since_on_s - SPEAKS_AFTER_S
        return 1.0 + 0.3 * float(np.exp(-max(late_s, 0.0) / 150.0))
