"""How long to wait before trying again to reach an instrument that is away."""

from __future__ import annotations

from collections.abc import Callable

FIRST_WAIT_S = 0.2
LONGEST_WAIT_S = 5.0
EXHAUSTED_AFTER_S = 300.0


class Patience:
    """Waits that double from 0.2 s to 5 s, spread by a fifth either way so that meters do not try in step.

    Args:
        jitter: gives numbers in [0, 1).
    """

    def __init__(self, jitter: Callable[[], float]) -> None:
        self._jitter = jitter
        self._failures = 0
        self._since_s: float | None = None
        self._exhausted = False

    @property
    def tried(self) -> bool:
        """Whether at least one try has failed since the last success."""
        return self._failures > 0

    @property
    def exhausted(self) -> bool:
        """Whether the instrument has been away for so long that a person should look at it."""
        return self._exhausted

    def begin(self, now_s: float) -> None:
        """The instrument is away from now on, if it was not before."""
        if self._since_s is None:
            self._since_s = now_s

    def next_wait_s(self, now_s: float) -> float:
        """A try has failed at `now_s`; how long to wait for the next."""
        self.begin(now_s)
        assert self._since_s is not None
        self._exhausted = now_s - self._since_s >= EXHAUSTED_AFTER_S
        wait_s = min(LONGEST_WAIT_S, FIRST_WAIT_S * 2.0 ** min(self._failures, 10))
        self._failures += 1
        return wait_s * (0.8 + 0.4 * self._jitter())

    def reset(self) -> None:
        """A reading came."""
        self._failures = 0
        self._since_s = None
        self._exhausted = False
