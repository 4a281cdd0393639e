"""Turn down: bring a bias that was found far too high down first, with the direction learned by a nudge.

No word of direction is said before a nudge has shown it; a reading that rises is answered by "turn it back".
"""

from __future__ import annotations

from enum import StrEnum
from typing import ClassVar, Literal

from pydantic import Field

from procedures import cautions
from procedures.analysis.figures import figure, side
from procedures.events import Action, Answer, ChannelGap, ChannelReading, Choice, Input, LeadMoved, Tier
from procedures.steps.findings import FAR_HIGH, FAR_HIGH_FACTOR
from procedures.steps.sitting import Sitting
from procedures.steps.steadiness import Steadiness
from procedures.steps.step import Asked, ChannelName, Conduct, Prompt, StepFields
from procedures.steps.trim import TRIM_PERIOD_S, USUAL_PERIOD_S
from procedures.steps.wanted import fixed_bias, lead_wanted

NUDGE_SHARE = 0.03  # of the reading: a smaller change may be drift
NUDGE_LEAST_VOLTS = 1e-4
CREEP_SHARE = 0.15
JUMPY_CHANGES = 5  # of direction within JUMPY_S: no hand follows advice so fast; common practice, no source
JUMPY_S = 90.0
AIM_FOR_S = 3.0
_LOWEST, _GIVE_UP = "lowest", "give up"


class TurnDown(StepFields):
    """Which channels: those that are far too high, or all of those named."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("turned down", "not needed", "given up")

    kind: Literal["turn-down"]
    channels: tuple[ChannelName, ...] = Field(default=(), max_length=64)
    which: Literal["far high", "all"] = "far high"
    to_percent: float = Field(default=50.0, gt=0.0, lt=100.0)

    def unfit(self, sitting: Sitting) -> str:
        """Without a trimmer there is nothing to turn."""
        return fixed_bias(sitting)

    def open(self, sitting: Sitting) -> Conduct:
        """Start with the first channel."""
        return _TurningDown(self, sitting)


class _Way(StrEnum):
    """What is known about the direction."""

    UNKNOWN = "unknown"
    RISES = "rises"
    FALLS = "falls"


class _TurningDown(Conduct):
    needs_power = True

    def __init__(self, line: TurnDown, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line
        self._pending = [c for c in sitting.chosen(line.channels) if self._calls_for_it(c)]
        self._given_up = False
        self._start_channel()

    def begin(self) -> None:
        if not self._pending:
            self.end("not needed", "no channel is far above its target")

    def feed(self, fact: Input) -> None:
        channel = self._channel
        if channel is None or not self.sitting.readable(channel):
            return
        self._take_in_hand(channel)
        if isinstance(fact, ChannelGap) and fact.channel == channel:
            self._seen.forget()
        elif isinstance(fact, LeadMoved) and fact.channel == channel:
            self._start_reading()
        elif isinstance(fact, ChannelReading) and fact.channel == channel:
            self._seen.take(fact.at_s, fact.value)
            self._look(channel)

    def answer(self, name: str, answer: Answer) -> None:
        if self._channel is not None and answer.choice in (_LOWEST, _GIVE_UP):
            self._given_up = self._given_up or answer.choice == _GIVE_UP
            self._finish_channel(self._channel)

    def lose_power(self) -> None:
        self._start_reading()

    def leave(self) -> None:
        if self._channel is not None and self._in_hand:
            self._let_go(self._channel)

    # --- inside -------------------------------------------------------------------------------------

    def _calls_for_it(self, channel: str) -> bool:
        setup = self.sitting.channels.get(channel)
        if setup is None or setup.target_volts is None:
            return False
        level = self.sitting.state(channel).level
        return (
            self._line.which == "all"
            or self.sitting.findings.get(channel) == FAR_HIGH
            or self.sitting.alarmed(channel, Tier.ACT) is not None
            or (level is not None and abs(level) > FAR_HIGH_FACTOR * setup.target_volts)
        )

    @property
    def _channel(self) -> str | None:
        return self._pending[0] if self._pending else None

    def _start_channel(self) -> None:
        self._in_hand = False
        self._start_reading()

    def _start_reading(self) -> None:
        """Nothing is known yet about the reading: the direction has to be shown again."""
        self._way = _Way.UNKNOWN
        self._changed_s: list[float] = []  # when the direction changed
        self._seen = Steadiness()
        self._from: float | None = None
        self._inside_s: float | None = None

    def _take_in_hand(self, channel: str) -> None:
        if not self._in_hand:
            self._in_hand = True
            self.sitting.watcher.begin_trim(channel, self.sitting.at_s)
            self.sitting.request(Action.PERIOD, channel, period_s=TRIM_PERIOD_S)
            if not self.sitting.is_typed(channel):
                aim = self._aim(channel)
                self.sitting.request(Action.GUIDE, channel, guide="begin", at_most_volts=aim)

    def _let_go(self, channel: str) -> None:
        self.sitting.watcher.end_trim(channel, self.sitting.at_s)
        self.sitting.request(Action.PERIOD, channel, period_s=USUAL_PERIOD_S)
        if not self.sitting.is_typed(channel):
            self.sitting.request(Action.GUIDE, channel, guide="end")
        self._in_hand = False

    def _look(self, channel: str) -> None:
        """Learn the direction from how the reading went, and see whether it is low enough.

        Only a change within seconds is a hand's; the drift of a warming amplifier is slower. What has
        crept far away in all counts as well, so that nobody turns slowly into disaster.
        """
        now, before = self._seen.newest(1.5), self._seen.older(4.0)
        if now is None:
            return
        if now < -self._aim(channel):
            # Reversed probes show the same current with the other sign: far too high is not low.
            now, before = -now, None if before is None else -before
        if self._from is None:
            self._from = now
        step = max(NUDGE_LEAST_VOLTS, NUDGE_SHARE * abs(now))
        change = 0.0 if before is None else now - before
        if change > step or now > self._from * (1.0 + CREEP_SHARE):
            self._goes(_Way.RISES, now)
            self._seen.forget()
        elif change < -step or now < self._from * (1.0 - CREEP_SHARE):
            self._goes(_Way.FALLS, now)
        self._inside_s = (self._inside_s or self.sitting.at_s) if now <= self._aim(channel) else None
        if self._inside_s is not None and self.sitting.at_s - self._inside_s >= AIM_FOR_S:
            self._finish_channel(channel)

    def _goes(self, way: _Way, volts: float) -> None:
        if way is not self._way:
            self._changed_s = [*self._changed_s, self.sitting.at_s][-JUMPY_CHANGES:]
        self._way, self._from = way, volts

    @property
    def _jumps(self) -> bool:
        """Whether the direction changes faster than a hand that follows: then it tells nothing."""
        changed = self._changed_s
        return len(changed) == JUMPY_CHANGES and self.sitting.at_s - changed[0] <= JUMPY_S

    def _aim(self, channel: str) -> float:
        target = self.sitting.channels[channel].target_volts or 0.0
        return target * self._line.to_percent / 100.0

    def _finish_channel(self, channel: str) -> None:
        if self._in_hand:
            self._let_go(channel)
        self.sitting.changed.setdefault(channel, "the trimmer was turned down")
        self.sitting.findings.pop(channel, None)
        self._pending.pop(0)
        self._start_channel()
        if not self._pending:
            self.end("given up" if self._given_up else "turned down")

    def prompt(self) -> Prompt:
        channel = self._channel
        if channel is None:
            return Prompt("")
        wanted = lead_wanted(self.sitting, channel)
        if wanted is not None:
            return wanted
        name, aim = side(channel), figure(self._aim(channel))
        text = {
            _Way.UNKNOWN: f"Turn the {name} trimmer by a hair, and watch the reading.",
            _Way.RISES: f"Turn the {name} trimmer back at once, then the other way: the reading rises.",
            _Way.FALLS: f"Go on turning the {name} trimmer that way, slowly, until it shows {aim}.",
        }[self._way]
        if self._jumps:
            text = (
                f"Let go of the {name} trimmer: its reading jumps by itself. "
                "Switch off and look at trimmer and probe, or say that it cannot be set."
            )
        choices = (
            Choice(_LOWEST, f"{channel.capitalize()} goes no lower"),
            Choice(_GIVE_UP, f"The {name} trimmer cannot be set"),
        )
        asked = Asked(f"down {channel}", f"Say if {channel} goes no lower.", choices=choices)
        return Prompt(text, cautions.TRIMMING, asked, focus=channel)
