"""How far filing has come, said on the command line once it takes more than a moment."""

from __future__ import annotations

import sys
from collections.abc import Callable

from drivers.clock import host_seconds

PATIENCE_S = 0.5  # what is over sooner is not worth a word
AGAIN_S = 2.0


def _print(words: str) -> None:
    print(words, file=sys.stderr, flush=True)


class FilingProgress:
    """Told after each session; says how many are filed, from half a second on and every two seconds."""

    def __init__(
        self, say: Callable[[str], object] = _print, seconds: Callable[[], float] = host_seconds
    ) -> None:
        self._say, self._seconds = say, seconds
        self._due_s = seconds() + PATIENCE_S
        self._said = False

    def __call__(self, done: int, of: int) -> None:
        """So many are filed of so many."""
        now = self._seconds()
        if now >= self._due_s or (self._said and done == of):
            self._due_s, self._said = now + AGAIN_S, True
            self._say(f"{done} of {of} sessions are filed in the archive …")
