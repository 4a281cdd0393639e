"""A session on disk checked: what `procedures.verification` says of its journal, and its attachments."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from app.records.attachments import (
    attached_files,
    changed_attachments,
    is_attachment,
    missing_attachments,
)
from app.records.session_folder import open_session
from procedures.events import AudioMeasured
from procedures.observed import Inspected
from procedures.verification import Answered, Finding, Recomputed, nothing_wrong, verify


@dataclass(frozen=True, slots=True)
class CheckedSession:
    """What checking found; `agrees` when nothing is missing or changed."""

    folder: Path
    answers: tuple[Answered, ...]
    verdicts: tuple[Recomputed, ...]

    @property
    def agrees(self) -> bool:
        """Whether nothing is missing or changed; other rules are neither."""
        return nothing_wrong(self.answers)


def check_session(folder: Path) -> CheckedSession:
    """Check digest, completeness, verdicts and attachments. Raises SessionUnreadable."""
    journal = open_session(folder).journal
    verification = verify(journal)
    looked = [fact for fact in journal.facts if isinstance(fact, Inspected)]
    pictures = [name for fact in looked for name in fact.photographs]
    recordings = [fact.capture for fact in journal.facts if isinstance(fact, AudioMeasured) and fact.capture]
    named = [*filter(is_attachment, pictures), *recordings]
    return CheckedSession(folder, (*verification.answers, _attachments(folder, named)), verification.verdicts)


def _attachments(folder: Path, named: Sequence[str]) -> Answered:
    try:
        changed = changed_attachments(folder)
        missing = missing_attachments(folder, named)
        count = len(attached_files(folder))
    except OSError as error:
        words = f"They cannot be read ({error.strerror or error})."
        return Answered("attachments", Finding.INCOMPLETE, words)
    if changed:
        return Answered("attachments", Finding.DIFFERS, " ".join(changed))
    if missing:
        return Answered("attachments", Finding.INCOMPLETE, " ".join(missing))
    words = "There are none." if not count else f"{count} agree with their digests."
    return Answered("attachments", Finding.AGREES, words)
