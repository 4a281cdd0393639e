"""What the trim coach says: one sentence, verb first. A direction is only ever "the same way" or "back"."""

from __future__ import annotations

from procedures.analysis.channel import AdviceKind, ChannelSetup, Forecast, TrimAdvice
from procedures.analysis.figures import duration, figure, side, span
from procedures.analysis.trim_aim import Need
from procedures.analysis.trim_hand import Guidance


class TrimWords:
    """Sentences about one channel's trimmer."""

    def __init__(self, setup: ChannelSetup) -> None:
        self._setup = setup
        self._side = side(setup.channel)
        self._resolution = setup.accuracy.resolution if setup.accuracy else None

    def stop(self, reason: str) -> TrimAdvice:
        """Guidance stops."""
        return self._say(AdviceKind.STOP, f"Hands off the {self._side} trimmer. {reason}")

    def cannot_say(self, reason: str) -> TrimAdvice:
        """Nothing can be said."""
        return self._say(AdviceKind.CANNOT_SAY, reason)

    def wait_after_trim(self, left_s: float) -> TrimAdvice:
        """The last trim has not shown its whole effect."""
        return self._say(
            AdviceKind.WAIT, f"Wait {duration(left_s)}: the last turn has not shown its whole effect yet."
        )

    def wait_to_know(self, aim: Forecast) -> TrimAdvice:
        """The forecast is too wide for a move."""
        return self._say(AdviceKind.WAIT, f"Wait: it would rest {self._span(aim)}; too early to turn.")

    def leave_alone(self, aim: Forecast) -> TrimAdvice:
        """The channel is right as found."""
        text = f"Leave the {self._side} trimmer alone: it will rest {self._span(aim)}, inside the window."
        return TrimAdvice(self._setup.channel, AdviceKind.LEAVE_ALONE, text, None, aim.volts)

    def set_already(self, aim: Forecast) -> TrimAdvice:
        """The channel has been trimmed and will be right."""
        text = f"The {self._side} trimmer is set: it will rest {self._span(aim)}."
        return TrimAdvice(self._setup.channel, AdviceKind.DONE, text, None, aim.volts)

    def due(self, need: Need) -> TrimAdvice:
        """It is worth turning now."""
        return self._with(need, AdviceKind.NUDGE, self._nudge())

    def guide(self, seen: Guidance, need: Need, at_once: bool) -> TrimAdvice:
        """The next sentence for a hand on the trimmer; `at_once` when a high reading was made higher."""
        kind = seen.kind
        does = "rises" if seen.rising else "falls"
        way = f"the way of your nudge (it {does})" if seen.with_nudge else f"against your nudge (it {does})"
        until = f"until it shows {self._volts(need.show_volts)} now; {self._rests(need)}"
        texts = {
            AdviceKind.WAIT: f"Stop there and hold: {self._volts(need.show_volts)}.",
            AdviceKind.DONE: f"Let go of the {self._side} trimmer; {self._rests(need)}.",
            AdviceKind.TURN: f"Keep turning the same way, {way}, {until}.",
            AdviceKind.TURN_BACK: f"Turn back, {way}, {until}.",
            AdviceKind.APPROACH_FROM_BELOW: (
                f"Past it: turn {way} below {self._volts(seen.show_volts)}, "
                f"then come up from below to {self._volts(need.show_volts)}."
            ),
            AdviceKind.NO_RESPONSE: (
                f"Stop turning: {self._setup.channel} does not follow. Is this the {self._side} trimmer, and "
                "is the probe on the right test point? A worn trimmer does that too."
            ),
            AdviceKind.RANGE_EXHAUSTED: (
                f"Stop turning: {self._setup.channel} no longer follows at {self._volts(seen.show_volts)}; "
                "the trimmer may be at the end of its range."
            ),
            AdviceKind.WRONG_TRIMMER: (
                f"Turn back to where it was: {seen.other} moved, not {self._setup.channel}. "
                f"{seen.other.capitalize()} showed {self._volts(seen.show_volts)} before."
            ),
        }
        if kind is AdviceKind.NUDGE:
            text = (
                self._nudge() if seen.first else f"Nudge the {self._side} trimmer a little further, and wait."
            )
        elif kind is AdviceKind.TURN_BACK and at_once:
            text = f"Turn back at once, the reading rises: go on {way} {until}."
        else:
            text = texts[kind]
        show = seen.show_volts if kind is AdviceKind.APPROACH_FROM_BELOW else need.show_volts
        return TrimAdvice(self._setup.channel, kind, text, show, need.rest_volts)

    # --- inside -------------------------------------------------------------------------------------

    def _nudge(self) -> str:
        return f"Nudge the {self._side} trimmer a few degrees, either way, and wait."

    def _rests(self, need: Need) -> str:
        if need.rest_within is None:
            return "then let it warm up"
        return f"it will rest {span(*need.rest_within, self._setup.unit, self._resolution)}"

    def _span(self, aim: Forecast) -> str:
        return span(aim.low_volts, aim.high_volts, self._setup.unit, self._resolution)

    def _volts(self, value: float | None) -> str:
        return "-" if value is None else figure(value, self._setup.unit, self._resolution)

    def _with(self, need: Need, kind: AdviceKind, text: str) -> TrimAdvice:
        return TrimAdvice(self._setup.channel, kind, text, need.show_volts, need.rest_volts)

    def _say(self, kind: AdviceKind, text: str) -> TrimAdvice:
        return TrimAdvice(self._setup.channel, kind, text)
