"""One channel under analysis: from its readings to what is known about it.

Everything here costs the same for the thousandth reading as for the millionth: readings are gathered into
blocks, blocks into a filter of constant size, and only the blocks of the last quarter of an hour are kept.
"""

from __future__ import annotations

import numpy as np

from drivers.reading import GapReason, Unit
from procedures.amplifier import ConditionKind
from procedures.analysis.bench import Bench
from procedures.analysis.blocks import Block, BlockBuilder, DisplayStep, RecentBlocks
from procedures.analysis.channel import AnalysisSettings, ChannelSetup, ChannelState, Forecast, Position
from procedures.analysis.condition import ConditionJudge, Sink
from procedures.analysis.forecast import Forecaster
from procedures.analysis.heat import amperes_of, device_watts
from procedures.analysis.remembered import RememberedWarmUp
from procedures.analysis.settling import Evidence, Judgement, SettlingJudge
from procedures.analysis.trend import Trend, trend
from procedures.analysis.window import window_of
from procedures.analysis.z_domain import ZDomain

_KEPT_BLOCKS = 180  # a quarter of an hour of five-second blocks
_TREND_S = 180.0
_RATE_S = 60.0
_STALE_S = 15.0
_DECLARED_MOVE_S = 20.0  # a trim that is only declared is taken to last so long
_LID_EFFECT = 0.05
_SAME_STEP_S = 30.0
_LEADS_S = np.array([300.0, 600.0, 900.0])
_LEFT_LEADS_S = np.arange(0.0, 4501.0, 60.0)
_SMALLEST_SCALE = {Unit.VOLT: 1e-3, Unit.AMPERE: 1e-3}


class ChannelWatch:
    """Follows one channel."""

    def __init__(self, setup: ChannelSetup, settings: AnalysisSettings, bench: Bench) -> None:
        self.setup = setup
        self.window = window_of(setup, settings.rule)
        self._settings, self._bench = settings, bench
        self._at_rest: SettlingJudge | None = None
        self._conditional: ConditionJudge | None = None
        if self.window is not None and setup.condition.kind is ConditionKind.AT_REST:
            self._at_rest = SettlingJudge(self.window, settings)
        elif self.window is not None:
            self._conditional = ConditionJudge(self.window, setup.condition)
        self._builder = BlockBuilder(typed=setup.typed)
        self._display = DisplayStep(setup.accuracy.resolution if setup.accuracy else 0.0)
        smallest = _SMALLEST_SCALE.get(setup.unit, 1.0)
        self._forecaster = Forecaster(setup.target_volts, smallest, ZDomain.of(setup))
        self._leads_s = _LEADS_S * (settings.horizon_s / float(_LEADS_S[-1]))
        self._recent = RecentBlocks(_KEPT_BLOCKS)
        self._noise_square = 0.0
        self._at_s = 0.0
        self._value: float | None = None
        self._gap = ""
        self._disturbed = ""
        self._trim_until_s: float | None = None
        self._forecast: Forecast | None = None
        self._slope: Trend | None = None
        self._left_s: tuple[float, float] | None = None
        self._slope_known = self._left_known = False
        self._calm()

    # --- what comes in ------------------------------------------------------------------------------

    def reading(self, at_s: float, value: float) -> tuple[Block, ...]:
        """Take a reading; the blocks that it completed."""
        if at_s >= self._at_s:
            self._at_s, self._value, self._gap = at_s, value, ""
        return self._builder.add(at_s, value)

    def gap(self, at_s: float, reason: GapReason, detail: str) -> Block | None:
        """Take note of a missing reading."""
        if at_s >= self._at_s:
            self._at_s, self._value, self._gap = at_s, None, detail or reason.value
        return self._builder.close_by(at_s)

    def due_s(self) -> float | None:
        """When the open block must be closed at the latest."""
        return self._builder.due_s()

    def close_by(self, now_s: float) -> Block | None:
        """Close the open block if its time is over."""
        return self._builder.close_by(now_s)

    def break_off(self, at_s: float, reason: str) -> None:
        """Begin anew: what was seen before does not continue (supply, lead, unwatched time)."""
        self._builder.drop()
        self._recent.clear()
        self._forecaster.forget()
        self._forecast = None
        self._changed()
        self._value, self._gap, self._disturbed = None, reason, ""
        self._at_s = max(self._at_s, at_s)
        self._trim_until_s = None
        self._calm()
        self._forget_judgement(at_s, reason)

    def disturbed(self, at_s: float, text: str, unexplained: bool) -> None:
        """Take note of a disturbance; an unexplained one delays the verdict."""
        self._disturbed = text
        if unexplained:
            self._stepped(at_s)

    def begin_trim(self, at_s: float, until_s: float | None = None) -> None:
        """The trimmer is being turned, until told otherwise or until `until_s`."""
        self._trim_until_s = until_s if until_s is not None else float("inf")
        self._forecaster.begin_move()
        self._recent.clear()
        self._changed()
        self._forget_judgement(at_s, "the trimmer is being turned")

    def declare_trim(self, at_s: float) -> None:
        """The trimmer was turned about now."""
        self.begin_trim(at_s, at_s + _DECLARED_MOVE_S)

    def end_trim(self, at_s: float) -> None:
        """The trimmer is let go."""
        self._trim_until_s = None
        self._builder.drop()
        self._recent.clear()
        self._forecaster.end_move()
        self._changed()
        self._calm()
        self._forget_judgement(at_s, "just trimmed")

    def lid_moved(self, at_s: float, fitted: bool) -> None:
        """The lid was put on or taken off: the cooling is another."""
        self._forecaster.stir(_LID_EFFECT)
        self._changed()
        self._forget_judgement(at_s, f"the lid was just {'put on' if fitted else 'taken off'}")

    def remember(self, warm_up: RememberedWarmUp) -> None:
        """Use an earlier warm-up of this unit for the forecast."""
        self._forecaster.remember(warm_up)
        self._changed()

    def absorb(self, block: Block, sink: Sink | None) -> Judgement | None:
        """Take a closed block into the analysis; the judgement it leads to where there is a target."""
        if self._trim_until_s is not None and block.end_s > self._trim_until_s:
            self.end_trim(block.start_s)
        self._display.see(block.low)
        self._display.see(block.high)
        self._note_noise(block)
        self._recent.append(block)
        odd = self._forecaster.odd_blocks
        self._forecaster.absorb(block, self._variance(block), self._bench.fed_since_s)
        self._forecast = None
        self._changed()
        if self._forecaster.odd_blocks > odd:
            self._stepped(block.at_s)
        if self._at_rest is not None:
            return self._at_rest.judge(self._evidence(block))
        if self._conditional is not None:
            return self._conditional.judge(self._evidence(block), sink)
        return None

    # --- what goes out ------------------------------------------------------------------------------

    @property
    def step(self) -> float:
        """The step in which the display counts; 0 when finer than can be told."""
        return self._display.step

    @property
    def value(self) -> float | None:
        """The newest reading; None while there is a gap."""
        return self._value

    @property
    def since_on_s(self) -> float:
        """Time from power-on (or from the first block) to the latest block."""
        return self._forecaster.since_on_s

    @property
    def latest_forecast(self) -> Forecast | None:
        """The resting value as it looked at the latest block; worked out when it is asked for."""
        if self._forecast is None:
            self._forecast = self._forecaster.forecast()
        return self._forecast

    def forecast(self, at_s: float | None = None) -> Forecast | None:
        """The value at a moment (the resting value without one) as it looks now."""
        return self._forecaster.forecast(at_s)

    def level(self) -> float | None:
        """The level of the latest block; None when there is none or it is old."""
        block = self._recent.newest
        if block is None:
            return None
        allowed_s = max(_STALE_S, 3.0 * self._builder.interval_s)
        return block.level if self._at_s - block.end_s <= allowed_s and not self._gap else None

    def slope(self) -> Trend | None:
        """The trend of the last minute (more for a slow channel)."""
        if not self._slope_known:
            self._slope, self._slope_known = self._trend(_RATE_S), True
        return self._slope

    def state(self) -> ChannelState:
        """Everything that is known now."""
        level, block, slope = self.level(), self._recent.newest, self.slope()
        judgement = self._judgement()
        window = self.window
        return ChannelState(
            channel=self.setup.channel,
            at_s=self._at_s,
            value=self._value,
            level=level,
            noise=block.noise if block else None,
            rate_per_s=slope.rate_per_s if slope else None,
            position=window.position(level) if window else Position.UNKNOWN,
            settled=judgement.settled if judgement else None,
            at_rest=judgement.at_rest if judgement else None,
            reason=judgement.reason if judgement else "",
            forecast=self.latest_forecast,
            time_left_s=self._time_left_s(),
            accept_low=window.accept_low if window else None,
            accept_high=window.accept_high if window else None,
            amperes=amperes_of(self.setup, level) if level is not None else None,
            watts_per_device=device_watts(self.setup, level) if level is not None else None,
            gap=self._gap,
            disturbed=self._disturbed,
        )

    # --- inside -------------------------------------------------------------------------------------

    def _changed(self) -> None:
        """Another block, or another course: what was worked out from the blocks is worked out anew."""
        self._slope_known = self._left_known = False

    def _calm(self) -> None:
        self._quiet_from_s: float | None = None
        self._unexplained = 0

    def _stepped(self, at_s: float) -> None:
        if self._quiet_from_s is None or at_s - self._quiet_from_s > _SAME_STEP_S:
            self._unexplained += 1
        self._quiet_from_s = at_s

    def _judgement(self) -> Judgement | None:
        if self._at_rest is not None:
            return self._at_rest.judgement
        return self._conditional.judgement if self._conditional is not None else None

    def _forget_judgement(self, at_s: float, reason: str) -> None:
        for judge in (self._at_rest, self._conditional):
            if judge is not None:
                judge.forget(at_s, reason)

    def _note_noise(self, block: Block) -> None:
        """Keep the variance of a single reading: from within blocks, or from how slow readings bend."""
        if block.noise is not None and block.count >= 3:
            square = block.noise**2
        elif len(self._recent) >= 2:
            _, levels = self._recent.within(0.0, 2)
            bend = block.level - 2.0 * float(levels[-1]) + float(levels[-2])
            square = bend * bend / 6.0  # closed form: variance of a second difference of white noise
        else:
            return
        self._noise_square += (square - self._noise_square) * (0.1 if self._noise_square else 1.0)

    def _variance(self, block: Block) -> float:
        """Variance of a block's level as a measurement: noise, and the display's step where it shows."""
        step = self._display.step
        dithered = self._noise_square > 0.25 * step * step
        rounding = step * step / 12.0 / (block.count if dithered else 1)
        return self._noise_square / block.count + rounding

    def _evidence(self, block: Block) -> Evidence:
        quiet_s = block.end_s - self._quiet_from_s if self._quiet_from_s is not None else float("inf")
        outlook, self._forecast = self._forecaster.look(self._leads_s)
        return Evidence(
            at_s=block.end_s,
            level=block.level,
            step=self._display.step,
            trend=self._trend(_TREND_S),
            outlook=outlook,
            forecast=self._forecast,
            since_on_s=self._forecaster.since_on_s,
            followed_s=self._forecaster.followed_s,
            quiet_s=quiet_s,
            unexplained=self._unexplained,
            barred=self._bench.barred(),
            on_told=self._bench.supply is not None,
        )

    def _trend(self, span_s: float) -> Trend | None:
        """The trend over the last `span_s`, stretched until it holds four blocks of a slow channel."""
        return trend(*self._recent.within(span_s), self._display.step)

    def _time_left_s(self) -> tuple[float, float] | None:
        if self._conditional is not None:
            usable_s = self._conditional.usable_s
            return (usable_s, usable_s) if usable_s is not None else None
        if self._at_rest is None or self._at_rest.judgement.settled or self._bench.barred():
            return None
        if not self._left_known:
            self._left_s, self._left_known = self._outlook_left_s(self._at_rest), True
        return self._left_s

    def _outlook_left_s(self, judge: SettlingJudge) -> tuple[float, float] | None:
        outlook = self._forecaster.outlook(_LEFT_LEADS_S)
        if outlook is None or self.since_on_s < 60.0:
            return None
        sd = float(np.interp(self._settings.horizon_s, outlook.leads_s, outlook.change_sds))
        return judge.time_left_s(outlook.leads_s, outlook.levels, sd, max(60.0, self.since_on_s))
