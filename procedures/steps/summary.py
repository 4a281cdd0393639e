"""Summary: the last word on the whole, from the newest verdict of every channel."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar, Literal

from pydantic import Field

from procedures.events import Outcome, Verdict
from procedures.steps.sitting import Sitting
from procedures.steps.step import ChannelName, Conduct, Prompt, StepFields


class Summary(StepFields):
    """The channels that count; all of the bench when none is named."""

    OUTCOMES: ClassVar[tuple[str, ...]] = tuple(outcome.value for outcome in Outcome)
    HANDS: ClassVar[bool] = False

    kind: Literal["summary"]
    channels: tuple[ChannelName, ...] = Field(default=(), max_length=64)

    def open(self, sitting: Sitting) -> Conduct:
        """Sum up."""
        return _Summing(self, sitting)


class _Summing(Conduct):
    def __init__(self, line: Summary, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._channels = sitting.chosen(line.channels)

    def begin(self) -> None:
        newest = {v.channel: v for v in self.sitting.verdicts if v.channel in self._channels}
        outcome = overall(newest[c].outcome if c in newest else Outcome.NOT_MEASURED for c in self._channels)
        reason = "; ".join(f"{c}: {_words(newest.get(c))}" for c in self._channels)
        self.sitting.judge(None, outcome, reason or "no channel was judged")
        self.end(outcome.value, f"{outcome.value}: {reason}")

    def prompt(self) -> Prompt:
        return Prompt("")


def overall(outcomes: Iterable[Outcome]) -> Outcome:
    """The outcome of the whole: one failure fails it, then one missing measurement, then what was passed."""
    found = set(outcomes)
    for outcome in (Outcome.FAILED, Outcome.NOT_MEASURED, Outcome.PASSED):
        if outcome in found:
            return outcome
    return Outcome.LEFT_ALONE if found else Outcome.NOT_MEASURED


def _words(verdict: Verdict | None) -> str:
    return f"{verdict.outcome.value} ({verdict.reason})" if verdict else Outcome.NOT_MEASURED.value
