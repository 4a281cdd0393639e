"""A past session with a position that moves: held, gone on, sought, at a speed."""

from __future__ import annotations

from collections.abc import Callable

from app.bench.restoring import Restored
from app.bench.review_bench import ReviewBench
from drivers.clock import host_seconds


class WindingBench(ReviewBench):
    """The position and its controls; what is shown at it is the business of whoever winds.

    Belongs to the thread that draws. `seconds` is a clock that never goes backwards.
    """

    def __init__(
        self,
        restored: Restored,
        unit_name: str,
        speed: float,
        seconds: Callable[[], float] = host_seconds,
    ) -> None:
        super().__init__(restored, unit_name)
        self._whole = restored
        self._seconds = seconds
        self._speed = speed
        self._playing = False
        self._position_s = restored.last_s
        self._looked_s = seconds()
        self._serial = 0

    @property
    def length_s(self) -> float:
        """Session seconds from the first to the last fact."""
        return self._whole.last_s

    @property
    def position_s(self) -> float:
        """The session second that is shown."""
        return self._position_s

    @property
    def playing(self) -> bool:
        """Whether it goes on by itself."""
        return self._playing

    @property
    def speed(self) -> float:
        """Session seconds a second."""
        return self._speed

    def play(self, playing: bool) -> None:
        """Go on, or hold. At the end it begins anew."""
        if playing and self._position_s >= self.length_s:
            self.seek(0.0)
        self._playing = playing
        self._looked_s = self._seconds()
        self._serial += 1

    def seek(self, session_s: float) -> None:
        """Show another moment."""
        self._position_s = min(max(0.0, session_s), self.length_s)
        self._looked_s = self._seconds()
        self._serial += 1

    def set_speed(self, speed: float) -> None:
        """Session seconds a second, from here on."""
        self._move()
        self._speed = speed
        self._serial += 1

    def _move(self) -> None:
        """Let the position follow the clock."""
        now = self._seconds()
        if self._playing:
            self._position_s = min(self.length_s, self._position_s + (now - self._looked_s) * self._speed)
            self._playing = self._position_s < self.length_s
            self._serial += 1
        self._looked_s = now
