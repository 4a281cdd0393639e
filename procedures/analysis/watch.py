"""One channel under analysis: from its readings to what is known about it.

Everything here costs the same for the thousandth reading as for the millionth: readings are gathered into
blocks, and only the blocks of the last quarter of an hour are kept.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from drivers.reading import GapReason, Unit
from procedures.analysis.bench import Bench
from procedures.analysis.blocks import Block, BlockBuilder, DisplayStep
from procedures.analysis.channel import AnalysisSettings, ChannelSetup, ChannelState, Forecast, Position
from procedures.analysis.remembered import RememberedWarmUp
from procedures.analysis.settling import Evidence, Judgement, SettlingJudge
from procedures.analysis.trend import Trend, trend
from procedures.analysis.window import window_of

_KEPT_BLOCKS = 180  # a quarter of an hour of five-second blocks
_TREND_S = 300.0
_RATE_S = 60.0
_STALE_S = 15.0


class ChannelWatch:
    """Follows one channel."""

    def __init__(self, setup: ChannelSetup, settings: AnalysisSettings, bench: Bench) -> None:
        self.setup = setup
        self.window = window_of(setup, settings.rule)
        self._bench = bench
        self._judge = SettlingJudge(self.window, settings) if self.window else None
        self._builder = BlockBuilder(typed=setup.typed)
        declared = setup.accuracy.resolution if setup.accuracy else 0.0
        self._display = DisplayStep(declared)
        self._recent: deque[Block] = deque(maxlen=_KEPT_BLOCKS)
        self._at_s = 0.0
        self._value: float | None = None
        self._gap = ""
        self._disturbed = ""
        self._quiet_from_s: float | None = None
        self._trimming = False
        self._forecast: Forecast | None = None
        self._remembered: RememberedWarmUp | None = None

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
        self._value, self._gap, self._forecast = None, reason, None
        self._at_s = max(self._at_s, at_s)
        if self._judge:
            self._judge.forget(at_s, reason)

    def disturbed(self, at_s: float, text: str, unexplained: bool) -> None:
        """Take note of a disturbance; an unexplained one delays the verdict."""
        self._disturbed = text
        if unexplained:
            self._quiet_from_s = at_s

    def trimmed(self, at_s: float) -> None:
        """A trim is known or declared: the trend before it says nothing any more."""
        self._recent.clear()
        if self._judge:
            self._judge.forget(at_s, "just trimmed")

    def remember(self, warm_up: RememberedWarmUp) -> None:
        """Use an earlier warm-up of this unit for the forecast."""
        self._remembered = warm_up

    # --- what goes out ------------------------------------------------------------------------------

    def absorb(self, block: Block) -> Judgement | None:
        """Take a closed block into the analysis; the judgement it leads to where there is a target."""
        for value in (block.low, block.high):
            self._display.see(value)
        self._recent.append(block)
        if self._judge is None:
            return None
        return self._judge.judge(
            Evidence(
                at_s=block.end_s,
                level=block.level,
                noise=block.noise or 0.0,
                step=self._display.step,
                trend=self._trend(_TREND_S),
                forecast=self._forecast,
                ahead=None,
                quiet_s=block.end_s - self._quiet_from_s if self._quiet_from_s is not None else float("inf"),
                barred=self._bench.barred(),
            )
        )

    def _trend(self, span_s: float) -> Trend | None:
        """The trend over the last `span_s`, stretched until it holds four blocks of a slow channel."""
        if not self._recent:
            return None
        newest_s = self._recent[-1].at_s
        used: list[Block] = []
        for block in reversed(self._recent):
            if newest_s - block.at_s > span_s and len(used) >= 4:
                break
            used.append(block)
        used.reverse()
        at_s = np.array([b.at_s for b in used])
        levels = np.array([b.level for b in used])
        return trend(at_s, levels, self._display.step)

    def level(self) -> float | None:
        """The level of the latest block; None when there is none or it is old."""
        if not self._recent:
            return None
        block = self._recent[-1]
        allowed_s = max(_STALE_S, 3.0 * self._builder.interval_s)
        return block.level if self._at_s - block.end_s <= allowed_s and not self._gap else None

    def state(self) -> ChannelState:
        """Everything that is known now."""
        level, block = self.level(), self._recent[-1] if self._recent else None
        slope = self._trend(_RATE_S)
        judgement = self._judge.judgement if self._judge else None
        window = self.window
        amperes = self._amperes(level)
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
            forecast=self._forecast,
            accept_low=window.accept_low if window else None,
            accept_high=window.accept_high if window else None,
            amperes=amperes,
            watts_per_device=self._watts(amperes),
            gap=self._gap,
            disturbed=self._disturbed,
        )

    def _amperes(self, level: float | None) -> float | None:
        if level is None or self.setup.unit is not Unit.VOLT or not self.setup.resistance_ohm:
            return None
        return level / self.setup.resistance_ohm

    def _watts(self, amperes: float | None) -> float | None:
        """Idle heat of one output device: its share of the current times what is left of the rail."""
        setup = self.setup
        if amperes is None or setup.rail_volts is None:
            return None
        drop = amperes * (setup.emitter_resistor_ohm or 0.0)
        return max(0.0, setup.rail_volts - drop) * abs(amperes)
