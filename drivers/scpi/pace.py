"""How fast a meter measures, learned from it: an answer to an older question can be told by its haste.

On a raw socket or a serial port nothing says to which question a line belongs. Stale lines are found before
a question is sent; one that arrives in the instant after it is found by this. What remains is an unasked
number in the later part of a measuring time; message-based transports (HiSLIP, VXI-11) do not have even that.
"""

from __future__ import annotations

from collections import deque
from statistics import median

_REMEMBERED = 15
_ENOUGH = 5
_CONVINCED = 3


class Pace:
    """The usual time from question to answer.

    Args:
        from_s: below this usual time haste says nothing (a simulated meter, a fast reading).
        share: an answer in less than this share of the usual time is not believed.
    """

    def __init__(self, from_s: float = 0.02, share: float = 0.4) -> None:
        self._from_s = from_s
        self._share = share
        self._recent: deque[float] = deque(maxlen=_REMEMBERED)
        self._doubted = 0

    def plausible(self, taken_s: float) -> bool:
        """Whether an answer that took `taken_s` can be one; remembers it if so."""
        if len(self._recent) >= _ENOUGH:
            usual_s = median(self._recent)
            if usual_s >= self._from_s and taken_s < self._share * usual_s:
                self._doubted += 1
                if self._doubted >= _CONVINCED:
                    # The link was resynchronised in between, so these are no old answers: it is faster now.
                    self.forget()
                return False
        self._doubted = 0
        self._recent.append(taken_s)
        return True

    def forget(self) -> None:
        """The speed has been changed."""
        self._recent.clear()
        self._doubted = 0
