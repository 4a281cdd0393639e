"""The trim coach of one channel: when to turn, what to turn to, when to wait, when to leave it alone.

Between visits it says whether a visit is worth while; during a visit it guides the hand by the live reading.
Not here: the arithmetic (`trim_aim`), the following of the hand (`trim_hand`), the words (`trim_words`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from procedures.analysis.channel import (
    ChannelSetup,
    ChannelState,
    Forecast,
    TrimAdvice,
)
from procedures.analysis.trim_aim import Need, TrimAim
from procedures.analysis.trim_hand import TrimHand
from procedures.analysis.trim_words import TrimWords
from procedures.analysis.window import TargetWindow

BETWEEN_TRIMS_S = 180.0
BETWEEN_FINE_S = 600.0  # the printed rule: ten minutes more, then repeat
FIRST_TRIM_S = 600.0
HOT_TRIM_S = 150.0
AGAIN_S = 2400.0  # the half hour and the ten minutes more: what is known by then must do
# By how much a visit must make it more probable that the channel rests where it should. Before the ten
# minutes are over only a visit pays that will hardly need another.
_PAYS, _PAYS_AGAIN = 0.93, 0.2
_STAYS = 0.8  # as probable as this it is left alone
_SHARE_OF_WINDOW = 0.85  # how much of the window's half-width a hand may use up
_LEAST_TOLERANCE, _MOST_TOLERANCE = 0.008, 0.03
_HOT = 0.30  # so far above the target nobody waits for a better forecast
_REACH = 0.3  # of the tolerance: how near a hand should come
_HAND_SD = 0.2  # of the tolerance: how near hands do come


@dataclass(frozen=True, slots=True)
class Scene:
    """What the coach may look at.

    `aim` is the forecast for the condition of the target, `others` the readings of the other bias channels,
    `step` the display's, `stopped` why nobody may be guided now.
    """

    state: ChannelState
    aim: Forecast | None
    others: Mapping[str, float]
    since_on_s: float
    step: float = 0.0
    stopped: str = ""


class TrimCoach:
    """Advises about one trimmer for a whole run."""

    def __init__(self, setup: ChannelSetup, window: TargetWindow) -> None:
        self._setup = setup
        self._window = window
        self._aim = TrimAim(setup)
        self._words = TrimWords(setup)
        self._hand: TrimHand | None = None
        self._need: Need | None = None
        self._aimed: Forecast | None = None
        self._in_visit = False
        self._visits = 0
        self._fine_s: float | None = None
        self._ended_s: float | None = None
        self._advice = self._words.cannot_say("Nothing can be said about the trimmer yet.")
        half = 0.5 * (window.accept_high - window.accept_low) / abs(window.target)
        self._tolerance = min(max(_SHARE_OF_WINDOW * half, _LEAST_TOLERANCE), _MOST_TOLERANCE)
        self._half = self._tolerance / _SHARE_OF_WINDOW

    @property
    def advice(self) -> TrimAdvice:
        """The latest advice."""
        return self._advice

    @property
    def turning(self) -> bool:
        """Whether a hand is, or is asked to be, on the trimmer: readings move on purpose."""
        return self._in_visit and self._hand is not None

    @property
    def visits(self) -> int:
        """How many visits changed the reading."""
        return self._visits

    def begin(self, at_s: float) -> None:
        """A visit begins: somebody has the trimmer in reach."""
        self._in_visit = True
        self._hand = self._need = None

    def end(self, at_s: float) -> None:
        """The visit is over."""
        hand, self._hand, self._in_visit = self._hand, None, False
        if hand is None or not hand.answered or hand.base is None:
            return
        self._visits += 1
        self._ended_s = at_s
        if self._need is not None and not self._need.far:
            self._fine_s = at_s
        if self._need is not None:
            aimed = None if self._need.blind else self._aimed
            self._aim.moved(hand.base, hand.show_volts if hand.level is None else hand.level, aimed)

    def declared(self, at_s: float) -> None:
        """A person says that the trimmer was turned, without being guided."""
        self._visits += 1
        self._ended_s = at_s

    def forget(self) -> None:
        """Another supply: what was learnt of the drift no longer holds, the trimmer is the same."""
        self._hand = self._need = self._aimed = self._ended_s = self._fine_s = None

    def observe(self, scene: Scene) -> TrimAdvice:
        """Take the present state; the advice."""
        self._advice = self._advise(scene)
        return self._advice

    # --- inside -------------------------------------------------------------------------------------

    def _advise(self, scene: Scene) -> TrimAdvice:
        if scene.stopped:
            self._hand = None
            return self._words.stop(scene.stopped)
        state = scene.state
        if state.value is None:
            return self._words.cannot_say("No reading: the trimmer cannot be guided.")
        if self._hand is None:
            verdict = self._decide(scene, state.level if state.level is not None else state.value)
            if self._hand is None:
                return verdict
        assert self._need is not None
        seen = self._hand.see(state.at_s, abs(state.value), scene.others)
        advice = self._words.guide(seen, self._need, self._need.wanted < 0.0 and self._hand.risen)
        return replace(advice, reach_volts=self._hand.reach_volts)

    def _decide(self, scene: Scene, level: float) -> TrimAdvice:
        """Between turns: is it worth while? In a visit that calls for it, take the hand."""
        aim, at_s = scene.aim, scene.state.at_s
        if aim is None:
            return self._words.cannot_say("Nothing can be said about the trimmer yet.")
        left_s = BETWEEN_TRIMS_S - (at_s - self._ended_s) if self._ended_s is not None else 0.0
        if left_s <= BETWEEN_TRIMS_S - BETWEEN_FINE_S:
            self._aim.learn(aim)
        need = self._aim.need(abs(level), aim)
        if self._right(need, aim, scene.since_on_s):
            right = self._words.set_already if self._visits > 0 else self._words.leave_alone
            return right(aim)
        left_s = max(left_s, self._fine_left_s(need, at_s))
        if left_s > 0.0:
            return self._words.wait_after_trim(left_s)
        if not self._worth_it(need, scene):
            return self._words.wait_to_know(aim)
        if self._in_visit:
            self._need, self._aimed = need, aim
            reach = _REACH * self._tolerance * need.show_volts
            drift = scene.state.rate_per_s or 0.0
            self._hand = TrimHand(abs(self._window.target), need.show_volts, reach, scene.step, drift)
        return self._words.due(need)

    def _right(self, need: Need, aim: Forecast, since_on_s: float) -> bool:
        stays, late = self._stays(need), since_on_s > AGAIN_S
        if self._visits > 0:
            return stays >= _STAYS or (late and self._gain(need) < _PAYS_AGAIN)
        within = self._window.accept_low <= aim.low_volts and aim.high_volts <= self._window.accept_high
        return within or (late and stays >= _STAYS)

    def _fine_left_s(self, need: Need, at_s: float) -> float:
        """How long the last move still needs to show where it ends: a fine one, or any before a far one."""
        if need.blind:
            return 0.0
        last_s = self._ended_s if need.far else self._fine_s
        return BETWEEN_FINE_S - (at_s - last_s) if last_s is not None else 0.0

    def _worth_it(self, need: Need, scene: Scene) -> bool:
        """A coarse move early if it is far off; a fine one when it will probably be the last."""
        if need.blind:
            return True
        earliest_s = HOT_TRIM_S if need.wanted < -_HOT else FIRST_TRIM_S
        if scene.since_on_s < earliest_s:
            return False
        if need.far:
            return need.sure
        return self._gain(need) > (_PAYS if scene.since_on_s < AGAIN_S else _PAYS_AGAIN)

    def _stays(self, need: Need) -> float:
        """How probably it rests inside the window if nobody turns."""
        return _inside(need.wanted, need.sd, self._half)

    def _gain(self, need: Need) -> float:
        """By how much a visit makes it more probable that it rests inside the window."""
        after = math.hypot(need.sd_after, _HAND_SD * self._tolerance)
        return _inside(0.0, after, self._half) - self._stays(need)


def _inside(off: float, sd: float, half: float) -> float:
    """Probability that a normal value, `off` from the middle, lies within `half` of it."""
    root = max(sd, 1e-9) * math.sqrt(2.0)
    return 0.5 * (math.erf((half - off) / root) + math.erf((half + off) / root))
