"""Summary: the last word on the whole, from the newest verdict of every channel."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar, Literal

from pydantic import Field, model_validator

from procedures.events import Outcome, Verdict
from procedures.steps.sitting import Sitting
from procedures.steps.step import ChannelName, Conduct, Prompt, StepFields, StepId

_TELL = (Outcome.FAILED, Outcome.NOT_MEASURED)


class Summary(StepFields):
    """The channels that count; all of the bench when none is named.

    None at all with `no_channels`; with `only_judged` those that were judged. What was judged and is no
    channel (a contact, a joint, a checklist) counts always, by its newest verdict.

    `found_by` names steps, or parts of a route, that look for what is wrong: what they found is told, and is
    not what the job came to.
    """

    OUTCOMES: ClassVar[tuple[str, ...]] = tuple(outcome.value for outcome in Outcome)
    HANDS: ClassVar[bool] = False

    kind: Literal["summary"]
    channels: tuple[ChannelName, ...] = Field(default=(), max_length=64)
    no_channels: bool = False
    only_judged: bool = False
    found_by: tuple[StepId, ...] = Field(default=(), max_length=100)

    @model_validator(mode="after")
    def _names_channels_or_none(self) -> Summary:
        if self.no_channels and self.channels:
            raise ValueError("channels are named although no_channels is true; keep one of the two")
        return self

    def open(self, sitting: Sitting) -> Conduct:
        """Sum up."""
        return _Summing(self, sitting)


class _Summing(Conduct):
    def __init__(self, line: Summary, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._found_by = line.found_by
        self._channels = () if line.no_channels else sitting.chosen(line.channels)
        if line.only_judged:
            judged = {verdict.channel for verdict in sitting.verdicts}
            self._channels = tuple(channel for channel in self._channels if channel in judged)

    def begin(self) -> None:
        newest = {v.channel: v for v in self.sitting.verdicts if v.channel in self._channels}
        subjects = {v.subject: v for v in self.sitting.verdicts if v.channel is None and v.subject}
        sought = {name: v for name, v in subjects.items() if self._is_search(v)}
        subjects = {name: v for name, v in subjects.items() if name not in sought}
        found = [newest[c].outcome if c in newest else Outcome.NOT_MEASURED for c in self._channels]
        outcome = overall([*found, *(v.outcome for v in subjects.values())])
        parts = [f"{c}: {_words(newest.get(c))}" for c in self._channels]
        parts += [f"{v.outcome.value} ({v.reason})" for v in subjects.values() if v.outcome in _TELL]
        passed = sum(v.outcome not in _TELL for v in subjects.values())
        parts += [f"{passed} judged and in order"] if passed else []
        wrong = [v.reason for v in sought.values() if v.outcome is Outcome.FAILED]
        parts += [f"found on the way: {'; '.join(wrong)}"] if wrong else []
        reason = "; ".join(parts)
        self.sitting.judge(None, outcome, reason or "nothing was judged")
        self.end(outcome.value, f"{outcome.value}: {reason}")

    def _is_search(self, verdict: Verdict) -> bool:
        part = verdict.step.partition("--")[0]
        return verdict.step in self._found_by or part in self._found_by

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
