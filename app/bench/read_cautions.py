"""Which units' cautions were read in this sitting, when, and in which session.

A sitting is this program's run, and not longer than a working day. A unit is known by its serial number: one
whose number nobody has said is asked about in every session, because it may be another one. The cautions of a
situation (first power-up, lamp removed, bridged output, earthed instrument, high voltage) are not remembered:
they are read again in each session that leads into them.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

from app.bench.live_bench import LiveBench
from app.records.session_folder import JOURNAL
from procedures.events import Answer
from procedures.records.codec import LineRefused
from procedures.records.journal import Header
from procedures.steps.before_work import ACKNOWLEDGED, BEFORE_WORK_ID

SITTING = timedelta(hours=10)  # common practice, no source


class ReadCautions:
    """The memory of one sitting. `now` is this computer's time, with its zone."""

    def __init__(self, now: Callable[[], datetime]) -> None:
        self._now = now
        self._read: dict[str, tuple[datetime, str]] = {}

    def of(self, unit: str) -> str:
        """When and in which session the cautions of a unit were read; empty where they were not."""
        read = self._read.get(unit)
        if read is None or self._now() - read[0] > SITTING:
            return ""
        return f"at {read[0].astimezone():%H:%M} in session {read[1]}"

    def learn(self, bench: LiveBench) -> None:
        """Remember that a session's cautions were read in it, if they were."""
        answers = (fact for fact in bench.snapshot().inputs if isinstance(fact, Answer))
        read = next((one for one in answers if _reads(one)), None)
        if read is None:
            return
        try:
            with (bench.record.folder / JOURNAL).open(encoding="utf-8") as journal:
                header = Header.read(journal.readline())
        except (OSError, ValueError, LineRefused):
            return  # then they are read once more
        self._read[header.unit] = (header.started_utc + timedelta(seconds=read.at_s), header.session)


def _reads(answer: Answer) -> bool:
    return answer.choice == ACKNOWLEDGED and answer.question.startswith(f"{BEFORE_WORK_ID}/")
