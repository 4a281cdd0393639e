"""One stream of samples out of changing sounds: no click, no gap, and silence when nobody renews it.

`fill` belongs to the audio callback, everything else to the thread that decides; they meet in one queue.
"""

from __future__ import annotations

import queue
from dataclasses import dataclass

import numpy as np

from app.bench.sound.synthesis import Samples

FADE_S = 0.008
CUES_WAITING = 3


@dataclass(frozen=True, slots=True)
class Lasting:
    """A sound that is repeated until another takes its place.

    With `lease_s` it falls silent by itself unless it is renewed within that time, and `ending` is heard.
    """

    turn: Samples
    lease_s: float | None = None
    ending: Samples | None = None


@dataclass(slots=True)
class _Voice:
    """A repeated sound on its way in or out: where it is, how loud, and whether it is to stay."""

    turn: Samples
    place: int
    gain: float = 0.0
    stays: bool = True


class Mixer:
    """Mixes for one output at `rate` samples a second."""

    def __init__(self, rate: float) -> None:
        self.rate = rate
        self._orders: queue.SimpleQueue[Lasting | Samples | str] = queue.SimpleQueue()
        self._fade = max(1, round(FADE_S * rate))
        self._voices: list[_Voice] = []
        self._cues: list[Samples] = []
        self._cue: Samples | None = None
        self._cue_place = 0
        self._lasting: Lasting | None = None
        self._lapsed: Lasting | None = None
        self._left = 0

    # --- the deciding thread ------------------------------------------------------------------------

    def last(self, sound: Lasting) -> None:
        """From now on this is repeated; where the former one was in its turn, the new one goes on."""
        self._orders.put(sound)

    def say(self, cue: Samples) -> None:
        """Say this once; what lasts makes room for it. Shape (n,)."""
        self._orders.put(cue)

    def hush(self) -> None:
        """Fade out what is being said once, and drop what waits."""
        self._orders.put("hush")

    def renew(self) -> None:
        """What lasts is still true."""
        self._orders.put("renew")

    # --- the audio callback -------------------------------------------------------------------------

    def fill(self, count: int) -> Samples:
        """The next samples, shape (count,), within -1..1."""
        self._take_orders()
        self._keep_lease(count)
        made = np.zeros(count)
        said = self._say(made)
        self._repeat(made, quiet=said)
        return np.clip(made, -1.0, 1.0, out=made)

    def _take_orders(self) -> None:
        while True:
            try:
                order = self._orders.get_nowait()
            except queue.Empty:
                return
            if isinstance(order, Lasting):
                self._begin(order)
            elif isinstance(order, np.ndarray):
                # What waits longest is no longer news.
                self._cues = [*self._cues, order][-CUES_WAITING:]
            elif order == "renew":
                self._renew()
            else:
                self._hush()

    def _begin(self, sound: Lasting) -> None:
        former = next((voice for voice in self._voices if voice.stays), None)
        share = former.place / len(former.turn) if former is not None else 0.0
        for voice in self._voices:
            voice.stays = False
        self._lasting, self._lapsed = sound, None
        self._renew()
        self._voices.append(_Voice(sound.turn, int(share * len(sound.turn)) % len(sound.turn)))

    def _renew(self) -> None:
        if self._lapsed is not None:
            self._begin(self._lapsed)
        elif self._lasting is not None and self._lasting.lease_s is not None:
            self._left = round(self._lasting.lease_s * self.rate)

    def _keep_lease(self, count: int) -> None:
        sound = self._lasting
        if sound is None or sound.lease_s is None:
            return
        self._left -= count
        if self._left < 0:
            self._lasting, self._lapsed = None, sound
            for voice in self._voices:
                voice.stays = False
            if sound.ending is not None:
                self._cues.append(sound.ending)

    def _hush(self) -> None:
        self._cues.clear()
        if self._cue is not None:
            # Cut to what is left of the fade: the rest is never heard.
            rest = self._cue[self._cue_place : self._cue_place + self._fade]
            self._cue = rest * np.linspace(1.0, 0.0, len(rest))
            self._cue_place = 0

    def _say(self, made: Samples) -> bool:
        """Add what is said once; whether anything is."""
        place = 0
        while place < len(made):
            if self._cue is None:
                if not self._cues:
                    break
                # The pause is what the repeated sound needs to fade out.
                self._cue = np.concatenate([np.zeros(self._fade), self._cues.pop(0)])
                self._cue_place = 0
            piece = self._cue[self._cue_place : self._cue_place + len(made) - place]
            made[place : place + len(piece)] += piece
            place += len(piece)
            self._cue_place += len(piece)
            if self._cue_place >= len(self._cue):
                self._cue = None
        return place > 0

    def _repeat(self, made: Samples, quiet: bool) -> None:
        count = len(made)
        slope = np.arange(1, count + 1) / self._fade
        for voice in self._voices:
            aim = 1.0 if voice.stays and not quiet else 0.0
            gains = np.minimum(voice.gain + slope, 1.0) if aim else np.maximum(voice.gain - slope, 0.0)
            places = (voice.place + np.arange(count)) % len(voice.turn)
            made += voice.turn[places] * gains
            voice.gain = float(gains[-1]) if count else voice.gain
            voice.place = (voice.place + count) % len(voice.turn)
        self._voices = [voice for voice in self._voices if voice.stays or voice.gain > 0.0]
