"""The alarms of a bench: the normative table of tiers, what is said, and when it falls silent.

| tier | when (bias channels with a target, no drive) |
|---|---|
| look | above 1.5 x target for 5 s; rising faster than 3 %/min after 5 min; forecast leaves window upwards |
| act | heading for twice the target (`runaway`), or above 2.5 x target |
| off | above 3 x target and the heat over its limit or the limit unknown; faster than 10 %/min above 1.3 x |
| lead | overload or out of range |
| blind | a polled channel without readings for 15 s |

Rate rules are blank for 150 s after a trim. An acknowledged alarm is silent until the level is 10 % higher;
one to switch off is said again every two minutes, for as long as it holds.
The program says what to do; it cannot switch anything. Not here: how symptoms are found (`runaway`).
"""

from __future__ import annotations

from collections.abc import Sequence

from drivers.reading import GapReason
from procedures.analysis.alarm_words import bias_text, blind_text, lead_text
from procedures.analysis.channel import ChannelSetup, Forecast
from procedures.analysis.heat import device_watts
from procedures.analysis.runaway import Danger, RunawayWatch, Symptom
from procedures.analysis.standing import RANK, Since, Standing
from procedures.events import Alarm, AlarmCleared, Disturbance, Tier

BLANK_AFTER_TRIM_S = 150.0
BLIND_S = 15.0
_HIGH, _FAR, _EXTREME = 1.5, 2.5, 3.0
_HIGH_FOR_S = 5.0
_RELEASE = 0.97  # a standing level symptom ends a little below where it began
_OVERLOAD_FOR_S = 3.0
_FORECAST_FOR_S = 30.0
_RATE_SYMPTOMS = (Symptom.STILL_RISING, Symptom.HEADING_UP, Symptom.HOT_RISING, Symptom.FAST)

Finding = Alarm | AlarmCleared | Disturbance


def is_bias(setup: ChannelSetup) -> bool:
    """Whether the table of alarms applies: a channel with a target above zero that is no offset."""
    return bool(setup.target_volts) and not setup.channel.endswith("offset")


class ChannelAlarms:
    """All alarms of one channel."""

    def __init__(self, setup: ChannelSetup) -> None:
        self.setup = setup
        self._bias = Standing(f"bias:{setup.channel}", setup.channel)
        self._lead = Standing(f"lead:{setup.channel}", setup.channel)
        self._blind = Standing(f"blind:{setup.channel}", setup.channel)
        self._watch = RunawayWatch()
        self._high, self._far, self._extreme = Since(), Since(), Since()
        self._overload, self._forecast = Since(), Since()
        self._levels: tuple[Danger, ...] = ()
        self._course: tuple[Danger, ...] = ()
        self._course_until_s = 0.0
        self._blank_until_s = self._now_s = float("-inf")
        self._block_s: float | None = None
        self._answered_s: float | None = None
        self._interval_s = 0.0
        self._lost_reason = ""
        self._is_bias = is_bias(setup)

    # --- facts --------------------------------------------------------------------------------------

    def reading(self, at_s: float, value: float, unjudged: bool) -> tuple[Finding, ...]:
        """Take a reading: the level rules, and the end of lead and blind alarms.

        `unjudged` where bias is not judged: with a signal, and without power.
        """
        if self._answered_s is not None and at_s - self._answered_s > self._patience_s():
            self._unseen(at_s)
        self._answer(at_s)
        if self._calm() and (unjudged or not self._is_bias or self._ratio(value) <= _HIGH):
            return ()
        found: list[Finding] = [*self._lead.clear(at_s, "a value is read again")]
        found += self._blind.clear(at_s, "read again")
        self._overload.update(at_s, False)
        if self._is_bias and not unjudged:
            ratio = self._ratio(value)
            self._levels = self._level_dangers(at_s, ratio)
            found += self._decide(at_s, ratio)
        return tuple(found)

    def block(
        self,
        at_s: float,
        level: float,
        *,
        since_on_s: float,
        unjudged: bool,
        step: float = 0.0,
        forecast: Forecast | None = None,
    ) -> tuple[Finding, ...]:
        """Take a block's level: the rate rules and the forecast. `step` is the display's, in the unit.

        A block is known when it is over: what it leads to is said at the latest reading's time, not before.
        """
        if not self._is_bias or unjudged:
            return ()
        ratio, target = self._ratio(level), abs(self.setup.target_volts or 1.0)
        course = self._watch.see(at_s, ratio, since_on_s, step / target)
        if at_s < self._blank_until_s:
            course = tuple(danger for danger in course if danger.symptom not in _RATE_SYMPTOMS)
        if self._forecast.update(at_s, self._forecast_high(forecast, level)) >= _FORECAST_FOR_S:
            course += (Danger(Symptom.FORECAST_HIGH, ratio, self._watch.rate_per_min()),)
        self._course = course
        usual_s = at_s - self._block_s if self._block_s is not None else 5.0
        self._course_until_s = at_s + 2.5 * max(5.0, usual_s)
        self._block_s = at_s
        return self._decide(max(at_s, self._now_s), ratio, forecast)

    def gap(self, at_s: float, reason: GapReason, detail: str) -> tuple[Finding, ...]:
        """Take note of a missing value. Overload raises the lead alarm when a second one follows."""
        if reason is GapReason.MOVED:
            return self.unpolled(at_s)
        if self._answered_s is None:
            self._answered_s = at_s
        if reason is not GapReason.OVERLOAD:
            self._lost_reason = detail or reason.value
            return ()
        self._answer(at_s)
        held_s = self._overload.update(at_s, True)
        if held_s < _OVERLOAD_FOR_S and not (self.setup.typed or self._overload.count >= 3):
            return ()
        return self._lead.hold(at_s, Tier.LEAD, 0.0, lead_text(self.setup.channel))

    def tick(self, at_s: float, powered: bool) -> tuple[Finding, ...]:
        """Time passed: raise the blind alarm of a polled channel that stays silent."""
        due_s = self.blind_due_s()
        if due_s is None or at_s < due_s or not powered:
            return ()
        silent_s = at_s - (self._answered_s or 0.0)
        return self._blind.hold(
            at_s, Tier.BLIND, 0.0, blind_text(self.setup.channel, silent_s, self._lost_reason)
        )

    def blind_due_s(self) -> float | None:
        """When a silent channel counts as not watched; None for a typed or unread one, or once said."""
        if self.setup.typed or self._answered_s is None or self._blind.tier is not None:
            return None
        return self._answered_s + self._patience_s()

    def within_reach(self, at_s: float) -> None:
        """Somebody is about to turn the trimmer: the rate rules wait, whenever the turn will be seen."""
        self._blank_until_s = max(self._blank_until_s, at_s + BLANK_AFTER_TRIM_S)

    def trimmed(self, at_s: float) -> None:
        """The trimmer was, or is being, turned: the rate rules wait."""
        self.within_reach(at_s)
        self.interrupted()

    def interrupted(self) -> None:
        """The course up to now does not continue: a step, a gap, a moved lead."""
        self._watch.forget()
        self._course = tuple(d for d in self._course if d.symptom not in _RATE_SYMPTOMS)

    def unpolled(self, at_s: float) -> tuple[Finding, ...]:
        """The lead was taken away: nothing is watched here, on purpose."""
        self._answered_s, self._interval_s = None, 0.0
        return self._end(at_s, "the lead was moved")

    def begin_anew(self, at_s: float, reason: str) -> tuple[Finding, ...]:
        """Another supply, or a new lead: all alarms end, nothing acknowledged is kept."""
        found = self._end(at_s, reason)
        self._bias.forget()
        self._blank_until_s = float("-inf")
        self._answered_s = None
        return found

    def suspend(self, at_s: float, reason: str) -> tuple[Finding, ...]:
        """Bias is not judged for a while (drive): its alarm ends."""
        self._levels, self._course = (), ()
        self.interrupted()
        return self._bias.clear(at_s, reason)

    def acknowledge(self, alarm_id: str) -> None:
        """A person has seen the alarm of that id."""
        for standing in (self._bias, self._lead, self._blind):
            if standing.id == alarm_id:
                standing.acknowledge()

    # --- inside -------------------------------------------------------------------------------------

    def _patience_s(self) -> float:
        return max(BLIND_S, 2.5 * self._interval_s)

    def _unseen(self, at_s: float) -> None:
        """Nothing was read for long: what was about to be raised has not held meanwhile; the rest stands."""
        standing = {danger.symptom for danger in (*self._levels, *self._course)}
        for since, symptom in (
            (self._high, Symptom.HIGH),
            (self._far, Symptom.FAR_ABOVE),
            (self._extreme, Symptom.EXTREME),
            (self._forecast, Symptom.FORECAST_HIGH),
        ):
            if symptom not in standing:
                since.update(at_s, False)

    def _calm(self) -> bool:
        """Nothing is raised or about to be: the case of nearly every reading, kept short."""
        return (
            not self._levels
            and not self._course
            and self._bias.idle
            and self._lead.tier is None
            and self._blind.tier is None
            and not self._overload.count
            and not self._high.count
        )

    def _answer(self, at_s: float) -> None:
        self._now_s = max(self._now_s, at_s)
        if self._answered_s is not None and at_s > self._answered_s:
            step_s = at_s - self._answered_s
            # A pause is not a new rhythm: one long interval counts at most double.
            step_s = min(step_s, 2.0 * self._interval_s) if self._interval_s else step_s
            self._interval_s += (step_s - self._interval_s) * (0.2 if self._interval_s else 1.0)
        self._answered_s = at_s if self._answered_s is None else max(at_s, self._answered_s)
        self._lost_reason = ""

    def _ratio(self, value: float) -> float:
        # Reversed probes show the same current with the other sign.
        return abs(value) / abs(self.setup.target_volts or 1.0)

    def _level_dangers(self, at_s: float, ratio: float) -> tuple[Danger, ...]:
        standing = {danger.symptom for danger in self._levels}
        rate = self._watch.rate_per_min()
        found: list[Danger] = []
        for since, limit, hold_s, symptom in (
            (self._high, _HIGH, _HIGH_FOR_S, Symptom.HIGH),
            (self._far, _FAR, 0.0, Symptom.FAR_ABOVE),
            (self._extreme, _EXTREME, 0.0, Symptom.EXTREME),
        ):
            release = _RELEASE if symptom in standing else 1.0
            held_s = since.update(at_s, ratio > limit * release)
            # One reading of a fast meter may be a spike; one of a slow meter, or typed, is all there is.
            enough = since.count >= 2 or self.setup.typed or self._interval_s > _HIGH_FOR_S
            if held_s >= 0.0 and enough and (held_s >= hold_s or self._interval_s > _HIGH_FOR_S):
                found.append(Danger(symptom, ratio, rate))
        return tuple(found)

    def _forecast_high(self, forecast: Forecast | None, level: float) -> bool:
        """Whether the forecast leaves the window upwards. One that comes down from above it does not."""
        high = self.setup.high_volts
        if forecast is None or high is None or not forecast.spoken:
            return False
        return forecast.volts > max(high, level)

    def _decide(self, at_s: float, ratio: float, forecast: Forecast | None = None) -> tuple[Finding, ...]:
        course = self._course if at_s <= self._course_until_s else ()
        dangers = (*self._levels, *course)
        if not dangers:
            return self._bias.release(at_s, ratio, "no longer high or rising")
        worst = max(dangers, key=lambda d: (RANK[self._tier(d)], d.symptom is not Symptom.HIGH))
        tier = self._tier(worst)
        value = ratio * abs(self.setup.target_volts or 1.0)
        text = bias_text(self.setup, tier, worst, value, forecast)
        return self._bias.hold(at_s, tier, ratio, text)

    def _tier(self, danger: Danger) -> Tier:
        """The tier of a symptom; three times the target within the declared heat limit is only *act*."""
        if danger.symptom is not Symptom.EXTREME:
            return danger.tier
        watts = device_watts(self.setup, danger.ratio * abs(self.setup.target_volts or 1.0))
        limit = self.setup.device_limit_watts
        return Tier.ACT if watts is not None and limit is not None and watts <= limit else Tier.OFF

    def _end(self, at_s: float, reason: str) -> tuple[Finding, ...]:
        self._levels, self._course = (), ()
        self._watch.forget()
        for since in (self._high, self._far, self._extreme, self._overload, self._forecast):
            since.update(at_s, False)
        return tuple(
            found
            for standing in (self._bias, self._lead, self._blind)
            for found in standing.clear(at_s, reason)
        )


class AlarmBoard:
    """The alarms of every channel, and what concerns them all: drive and supply."""

    DRIVE = "drive"

    def __init__(self, setups: Sequence[ChannelSetup]) -> None:
        self._channels = {setup.channel: ChannelAlarms(setup) for setup in setups}
        self._driven = False
        self._powered = True
        self._told_typed: set[str] = set()
        self._blind_not_before_s = float("-inf")

    def of(self, channel: str) -> ChannelAlarms:
        """The alarms of one channel. Raises KeyError for a channel that is not watched."""
        return self._channels[channel]

    @property
    def driven(self) -> bool:
        """Whether bias alarms are suspended because of a signal."""
        return self._driven

    @property
    def powered(self) -> bool:
        """Whether the unit has power, or nobody has said that it has not."""
        return self._powered

    @property
    def unjudged(self) -> bool:
        """Whether bias means nothing now: a signal, or rails that decay after the power was switched off."""
        return self._driven or not self._powered

    def reading(self, at_s: float, channel: str, value: float) -> tuple[Finding, ...]:
        """Take a reading of a channel, and look whether another one has fallen silent."""
        alarms = self._channels[channel]
        found = list(alarms.reading(at_s, value, self.unjudged))
        if alarms.setup.typed and is_bias(alarms.setup) and channel not in self._told_typed:
            self._told_typed.add(channel)
            text = f"{_first_upper(channel)} is watched only when you type."
            found.append(Disturbance(at_s, channel, "typed", text))
        return (*found, *self.tick(at_s))

    def gap(self, at_s: float, channel: str, reason: GapReason, detail: str = "") -> tuple[Finding, ...]:
        """Take note of a missing value of a channel, and look whether any has fallen silent."""
        return (*self._channels[channel].gap(at_s, reason, detail), *self.tick(at_s))

    def drive(
        self, at_s: float, driven: bool, seen: bool = False, lifted: bool = False
    ) -> tuple[Finding, ...]:
        """A signal is applied (declared, or `seen` on the output), or no longer: bias alarms pause.

        `lifted`: the lead that saw it reads something else now.
        """
        if driven == self._driven:
            return ()
        self._driven = driven
        how = "A signal seems to be on the output" if seen else "A signal is applied"
        text = (
            f"{how}: bias alarms are suspended." if driven else "No signal any more: bias alarms watch again."
        )
        if lifted:
            text = "Nobody watches the output for a signal any more: bias alarms watch again."
        found: list[Finding] = [Disturbance(at_s, None, self.DRIVE, text)]
        for alarms in self._channels.values():
            found += alarms.suspend(at_s, "bias alarms are suspended: a signal is applied")
        return tuple(found)

    def supply(self, at_s: float, powered: bool, reason: str) -> tuple[Finding, ...]:
        """The supply was changed: every alarm begins anew."""
        self._powered = powered
        self._blind_not_before_s = float("-inf")
        return tuple(f for alarms in self._channels.values() for f in alarms.begin_anew(at_s, reason))

    def acknowledge(self, alarm_id: str) -> None:
        """A person has seen an alarm."""
        for alarms in self._channels.values():
            alarms.acknowledge(alarm_id)

    def tick(self, at_s: float) -> tuple[Finding, ...]:
        """Time passed."""
        if at_s < self._blind_not_before_s:
            return ()
        found = tuple(f for alarms in self._channels.values() for f in alarms.tick(at_s, self._powered))
        due = [d for alarms in self._channels.values() if (d := alarms.blind_due_s()) is not None]
        # Readings only put it off; what is read for the first time is due BLIND_S later at the earliest.
        self._blind_not_before_s = min([at_s + BLIND_S, *due])
        return found

    def next_deadline(self) -> float | None:
        """When a silent channel would have to be reported; None when none can be."""
        if not self._powered:
            return None
        due = [d for alarms in self._channels.values() if (d := alarms.blind_due_s()) is not None]
        return min(due) if due else None


def _first_upper(text: str) -> str:
    return text[:1].upper() + text[1:]
