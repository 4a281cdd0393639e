"""The analysis of a whole bench: readings and declarations in, alarms, disturbances and verdicts out.

Pure: no clock and no input or output of its own; the same inputs give the same outputs. Procedures, the
conductor, the window and the replay of a recording all use this one face.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from drivers.reading import Unit
from procedures.analysis.bench import SUPPLY_GONE, Bench
from procedures.analysis.blocks import Block
from procedures.analysis.channel import AnalysisSettings, ChannelSetup, ChannelState, Forecast, TrimAdvice
from procedures.analysis.coaching import Coaching
from procedures.analysis.condition import Sink
from procedures.analysis.disturbance import UNEXPLAINED
from procedures.analysis.incidents import Incidents
from procedures.analysis.remembered import RememberedWarmUp
from procedures.analysis.watch import ChannelWatch
from procedures.events import (
    Acknowledged,
    Alarm,
    AlarmCleared,
    ChannelGap,
    ChannelReading,
    Disturbance,
    DriveChanged,
    Input,
    LeadMoved,
    LidChanged,
    SegmentOpened,
    SettledChanged,
    Supply,
    SupplyChanged,
    Tick,
    TrimDeclared,
)

Finding = Alarm | AlarmCleared | Disturbance | SettledChanged


class Monitor:
    """Watches every channel of a bench for the whole run, in every step and while paused."""

    def __init__(self, channels: Sequence[ChannelSetup], settings: AnalysisSettings | None = None) -> None:
        self._settings = settings or AnalysisSettings()
        self._bench = Bench()
        self._watches = {c.channel: ChannelWatch(c, self._settings, self._bench) for c in channels}
        if len(self._watches) != len(channels):
            raise ValueError("two channels of a bench have the same name")
        self._incidents = Incidents(channels, self._bench)
        self._coaching = Coaching(self._watches, self._incidents.bias, self._bench, self._incidents.stopped)
        self._sink = next((w for w in self._watches.values() if _is_sink(w.setup)), None)
        self._settled = dict.fromkeys(self._watches, False)
        self._handlers: dict[type, Callable[..., tuple[Finding, ...]]] = {
            ChannelReading: self._reading,
            ChannelGap: self._gap,
            SupplyChanged: self._supply,
            SegmentOpened: self._supply,
            LidChanged: self._lid,
            DriveChanged: self._drive,
            TrimDeclared: self._trim,
            LeadMoved: self._moved,
            Acknowledged: self._acknowledged,
            Tick: self._tick,
        }

    def feed(self, fact: Input) -> tuple[Finding, ...]:
        """Take one fact; what it leads to, in order. Facts of no concern to the analysis are ignored."""
        handler = self._handlers.get(type(fact))
        return handler(fact) if handler else ()

    def next_deadline(self) -> float | None:
        """When a Tick is due if nothing else arrives before; None when nothing is pending."""
        due = [d for watch in self._watches.values() if (d := watch.due_s()) is not None]
        alarm_s = self._incidents.next_deadline()
        if alarm_s is not None:
            due.append(alarm_s)
        return min(due) if due else None

    def state(self, channel: str) -> ChannelState:
        """What is known about a channel now. Raises KeyError for a channel that is not watched."""
        return self._watches[channel].state()

    def states(self) -> tuple[ChannelState, ...]:
        """What is known about every channel, in the order in which they were given."""
        return tuple(watch.state() for watch in self._watches.values())

    def forecast(self, channel: str) -> Forecast | None:
        """The resting value of a channel as it looked at its latest block; None while there is none."""
        return self._watches[channel].latest_forecast

    def remember(self, channel: str, warm_up: RememberedWarmUp) -> None:
        """Sharpen the forecast of a channel with an earlier warm-up of the same unit."""
        self._watches[channel].remember(warm_up)

    def begin_trim(self, channel: str, at_s: float) -> None:
        """The channel's trimmer is within reach: it may be turned when the advice says so."""
        self._incidents.hands_on(at_s, channel)
        if self._coaching.begin(channel, at_s):
            self._take_in_hand(channel, at_s)

    def end_trim(self, channel: str, at_s: float) -> None:
        """The channel's trimmer is let go."""
        if self._coaching.end(channel, at_s):
            self._watches[channel].end_trim(at_s)
            self._incidents.trimmed(at_s, channel)

    def advice(self, channel: str) -> TrimAdvice:
        """What to do with the channel's trimmer now. Raises KeyError for a channel that is not watched."""
        if channel not in self._watches:
            raise KeyError(channel)
        return self._coaching.advice(channel)

    def _take_in_hand(self, channel: str, at_s: float) -> None:
        self._watches[channel].begin_trim(at_s)
        self._incidents.trimmed(at_s, channel)

    # --- inputs -------------------------------------------------------------------------------------

    def _reading(self, fact: ChannelReading) -> tuple[Finding, ...]:
        watch = self._watches.get(fact.channel)
        if watch is None:
            return ()
        found: tuple[Finding, ...] = self._incidents.reading(fact.at_s, fact.channel, fact.value)
        if found:
            self._mind(found)
        blocks = watch.reading(fact.at_s, fact.value)
        if blocks:
            found = (*found, *self._absorb_all(watch, blocks))
        if self._coaching.turning(fact.channel):
            self._incidents.turning(fact.at_s, fact.channel)
        if self._coaching.reading(fact.channel):
            self._take_in_hand(fact.channel, fact.at_s)
            return (*found, *self._unsettle(fact.channel, fact.at_s, "the trimmer is being turned"))
        return found

    def _gap(self, fact: ChannelGap) -> tuple[Finding, ...]:
        watch = self._watches.get(fact.channel)
        if watch is None:
            return ()
        found = self._incidents.gap(fact.until_s, fact.channel, fact.reason, fact.detail)
        block = watch.gap(fact.until_s, fact.reason, fact.detail)
        return (*found, *self._absorb(watch, block)) if block else found

    def _lid(self, fact: LidChanged) -> tuple[Finding, ...]:
        before = self._bench.lid_fitted
        self._bench.take(fact)
        if before is None or before is fact.fitted:
            return ()
        found: list[Finding] = list(self._incidents.lid(fact.at_s, fact.fitted))
        for name, watch in self._watches.items():
            watch.lid_moved(fact.at_s, fact.fitted)
            found.extend(self._unsettle(name, fact.at_s, "the lid was moved"))
        return tuple(found)

    def _drive(self, fact: DriveChanged) -> tuple[Finding, ...]:
        self._bench.take(fact)
        return self._incidents.drive(fact.at_s, fact.driven)

    def _moved(self, fact: LeadMoved) -> tuple[Finding, ...]:
        found = self._incidents.moved(fact)
        if fact.channel is None or fact.channel not in self._watches:
            return found
        reason = "the lead was moved here"
        self._watches[fact.channel].break_off(fact.at_s, reason)
        return (*found, *self._unsettle(fact.channel, fact.at_s, reason))

    def _trim(self, fact: TrimDeclared) -> tuple[Finding, ...]:
        watch = self._watches.get(fact.channel)
        if watch is None:
            return ()
        watch.declare_trim(fact.at_s)
        self._incidents.trimmed(fact.at_s, fact.channel)
        self._coaching.declared(fact.channel, fact.at_s)
        return self._unsettle(fact.channel, fact.at_s, "just trimmed")

    def _acknowledged(self, fact: Acknowledged) -> tuple[Finding, ...]:
        self._incidents.acknowledge(fact.alarm)
        return ()

    def _tick(self, fact: Tick) -> tuple[Finding, ...]:
        found: list[Finding] = list(self._incidents.tick(fact.at_s))
        for watch in self._watches.values():
            block = watch.close_by(fact.at_s)
            if block:
                found.extend(self._absorb(watch, block))
        return tuple(found)

    def _supply(self, fact: SupplyChanged | SegmentOpened) -> tuple[Finding, ...]:
        before = self._bench.supply
        self._bench.take(fact)
        unwatched = isinstance(fact, SegmentOpened)
        if not unwatched and before is fact.supply:
            return ()
        reason = "nobody watched for a while" if unwatched else f"the supply changed to {fact.supply.value}"
        powered = fact.supply is not Supply.OFF
        if not powered:
            reason = SUPPLY_GONE
        found: list[Finding] = list(self._incidents.supply(fact.at_s, powered, reason))
        self._coaching.forget()
        for name, watch in self._watches.items():
            watch.break_off(fact.at_s, reason)
            found.extend(self._unsettle(name, fact.at_s, reason))
        return tuple(found)

    # --- blocks -------------------------------------------------------------------------------------

    def _absorb_all(self, watch: ChannelWatch, blocks: tuple[Block, ...]) -> tuple[Finding, ...]:
        return tuple(found for block in blocks for found in self._absorb(watch, block))

    def _absorb(self, watch: ChannelWatch, block: Block) -> tuple[Finding, ...]:
        name = watch.setup.channel
        judgement = watch.absorb(block, self._sink_now())
        found: list[Finding] = list(
            self._incidents.block(
                name,
                block,
                since_on_s=watch.since_on_s,
                step=watch.step,
                forecast=watch.latest_forecast if watch.window is not None else None,
            )
        )
        self._mind(found)
        if judgement is not None and judgement.settled != self._settled[name]:
            self._settled[name] = judgement.settled
            found.append(SettledChanged(judgement.at_s, name, judgement.settled, judgement.reason))
        return tuple(found)

    def _mind(self, found: Sequence[Finding]) -> None:
        """Let the channels know of what disturbed them."""
        for one in found:
            if isinstance(one, Disturbance):
                for name in self._watches if one.channel is None else (one.channel,):
                    self._watches[name].disturbed(one.at_s, one.text, one.kind in UNEXPLAINED)

    def _sink_now(self) -> Sink | None:
        if self._sink is None:
            return None
        celsius, slope = self._sink.level(), self._sink.slope()
        return Sink(celsius, slope.rate_per_s if slope else 0.0) if celsius is not None else None

    def _unsettle(self, channel: str, at_s: float, reason: str) -> tuple[Finding, ...]:
        if not self._settled[channel]:
            return ()
        self._settled[channel] = False
        return (SettledChanged(at_s, channel, False, reason),)


def _is_sink(setup: ChannelSetup) -> bool:
    return setup.unit is Unit.CELSIUS and "sink" in setup.channel
