"""The trim coaches of a bench: which channel has one, and what each may look at.

Not here: the advice itself (`trim`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from procedures.amplifier import ConditionKind
from procedures.analysis.bench import Bench
from procedures.analysis.channel import AdviceKind, ChannelState, Forecast, TrimAdvice
from procedures.analysis.forecast import REST_AHEAD_S
from procedures.analysis.trim import Scene, TrimCoach
from procedures.analysis.watch import ChannelWatch

TRIM_FOR_S = 2700.0  # the half hour of the warm-up, ten minutes more, and what both take (common practice)


class Coaching:
    """Coaches of all bias channels; `stopped` says why a channel must not be guided now."""

    def __init__(
        self,
        watches: Mapping[str, ChannelWatch],
        bias: tuple[str, ...],
        bench: Bench,
        stopped: Callable[[str], str],
    ) -> None:
        self._watches, self._bench, self._stopped = watches, bench, stopped
        self._coaches = {
            name: TrimCoach(watches[name].setup, window)
            for name in bias
            if (window := watches[name].window) is not None
        }
        self._visited: str | None = None

    def begin(self, channel: str, at_s: float) -> bool:
        """A visit begins; whether the readings are to be taken as moved on purpose from now on."""
        coach = self._coaches.get(channel)
        if coach is None:
            return True
        coach.begin(at_s)
        self._visited = channel
        return False

    def end(self, channel: str, at_s: float) -> bool:
        """A visit is over; whether the readings had been moved on purpose."""
        coach = self._coaches.get(channel)
        if coach is None:
            return True
        turning = coach.turning
        coach.end(at_s)
        self._visited = None if self._visited == channel else self._visited
        return turning

    def declared(self, channel: str, at_s: float) -> None:
        """A trim that nobody guided."""
        if channel in self._coaches:
            self._coaches[channel].declared(at_s)

    def forget(self) -> None:
        """Another supply."""
        for coach in self._coaches.values():
            coach.forget()

    def turning(self, channel: str) -> bool:
        """Whether a hand is, or is asked to be, on the channel's trimmer."""
        return channel == self._visited and self._coaches[channel].turning

    def reading(self, channel: str) -> bool:
        """A reading of a channel came; whether its trimmer has just been taken in hand."""
        if channel != self._visited:
            return False
        before = self._coaches[channel].turning
        self._look(channel)
        return self._coaches[channel].turning and not before

    def advice(self, channel: str) -> TrimAdvice:
        """The advice about a channel: of the latest reading while a hand is on it, else of the moment."""
        coach = self._coaches.get(channel)
        if coach is None:
            text = "Without a target nothing can be said about a trimmer."
            return TrimAdvice(channel, AdviceKind.CANNOT_SAY, text)
        if not coach.turning:
            self._look(channel)
        return coach.advice

    # --- inside -------------------------------------------------------------------------------------

    def _look(self, channel: str) -> None:
        """Bring the advice about a channel up to date."""
        coach, watch = self._coaches.get(channel), self._watches[channel]
        if coach is None:
            return
        state = watch.state()
        coach.observe(
            Scene(
                state=state,
                aim=self._aim(watch, state),
                others=self._others(channel) if coach.turning else {},
                since_on_s=watch.since_on_s,
                step=watch.step,
                stopped=self._stopped(channel),
            )
        )

    def _others(self, channel: str) -> dict[str, float]:
        return {
            name: value
            for name in self._coaches
            if name != channel and (value := self._watches[name].value) is not None
        }

    def _aim(self, watch: ChannelWatch, state: ChannelState) -> Forecast | None:
        """Where the level will be when its target counts; where that is now, the level itself."""
        condition = watch.setup.condition
        if condition.kind is ConditionKind.AT_REST:
            on_s = state.at_s - watch.since_on_s
            # What counts is where it rests after the hands are off, not while they go over both channels.
            return watch.forecast(max(on_s + TRIM_FOR_S, state.at_s + REST_AHEAD_S))
        if condition.kind is ConditionKind.AT_TIME and condition.time_s is not None:
            fed_s = self._bench.fed_since_s
            due_s = condition.time_s + (fed_s if fed_s is not None else state.at_s - watch.since_on_s)
            if state.at_s < due_s:
                return watch.forecast(due_s)
        level = state.level if state.level is not None else state.value
        if level is None:
            return None
        spread = 2.0 * max(state.noise or 0.0, watch.step / 3.0)
        return Forecast(state.at_s, state.at_s, level, level - spread, level + spread, True)
