"""Session folders: one for each sitting at the bench, holding its journal and its attachments.

A folder is named after the moment it began and its random identifier. The list of past sessions is read
from both ends of each journal, never from the middle; a whole journal is read only to open the session.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import secrets
import shutil
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from filelock import FileLock, Timeout

from app.records.attachments import ATTACHMENTS
from app.records.journal_file import JournalFile, last_line, read_ends
from app.records.places import require_writable
from procedures.events import Event, Input, RunEnded
from procedures.job import Naming
from procedures.records import codec
from procedures.records.codec import Fact, LineRefused
from procedures.records.journal import Anchor, Fault, Header, Journal, TakenBack, naming_line, read_journal
from procedures.records.practised import Diagnosis, HandMoved, PractiseLine, UnitTruth

JOURNAL = "journal.jsonl"
IN_USE = ".in-use"
OTHER = "~"  # before what tells another record of the same session from the first, in a folder's name
LONG_BYTES = 4_000_000  # about half a second of reading and judging

Entry = Input | Event | Anchor | Fault | TakenBack | PractiseLine


class SessionUnreadable(ValueError):
    """A session that cannot be opened; the text says which and why."""


def new_session_id() -> str:
    """A random identifier."""
    return secrets.token_hex(6)


def encode_entries(entries: Iterable[Entry]) -> list[str]:
    """Entries as journal lines, in their order."""
    lines: list[str] = []
    facts: list[Fact] = []
    for entry in entries:
        if isinstance(entry, Anchor | Fault | TakenBack | HandMoved | UnitTruth | Diagnosis):
            lines += codec.encode(facts)
            facts = []
            lines.append(entry.line())
        else:
            facts.append(entry)
    return lines + codec.encode(facts)


class SessionRecord:
    """The record of a session that is under way."""

    def __init__(self, folder: Path, journal: JournalFile, lock: FileLock) -> None:
        self.folder = folder
        self.force_soon: Callable[[], None] = _not_sooner
        self._journal = journal
        self._lock = lock
        self._naming: Naming | None = None

    @classmethod
    def create(cls, root: Path, header: Header) -> SessionRecord:
        """Make a session folder with its header.

        Raises:
            FolderUnusable: one sentence, before anything was measured.
        """
        require_writable(root)
        began = header.started_utc.astimezone().strftime("%Y-%m-%d-%H%M")
        folder = root / f"{began}-{header.session}"
        folder.mkdir()
        (folder / ATTACHMENTS).mkdir()
        lock = _take(folder)
        try:
            return cls(folder, JournalFile.create(folder / JOURNAL, header.line()), lock)
        except OSError:
            lock.release()
            shutil.rmtree(folder, ignore_errors=True)  # nothing was kept in it
            raise

    @classmethod
    def resume(cls, folder: Path) -> SessionRecord:
        """Go on with the record of a session that was not closed. Raises OSError, SessionUnreadable."""
        lock = _take(folder)
        try:
            return cls(folder, JournalFile.reopen(folder / JOURNAL), lock)
        except OSError:
            lock.release()
            raise

    def append(self, entries: Sequence[Entry]) -> None:
        """Keep a batch; raises OSError, and then nothing of it was kept."""
        self._journal.append(encode_entries(entries))

    def name(self, naming: Naming) -> None:
        """File the session under a unit and a job. Raises OSError."""
        naming = _beside(self._naming, naming)
        self._journal.append([naming_line(naming)])
        self._naming = naming

    def force(self) -> None:
        """Put everything on the disk. Raises OSError."""
        self._journal.force()

    def close(self) -> None:
        """Close the session with count and digest. Raises OSError.

        A name that was given meanwhile is said once more, where the list of sessions looks for it.
        """
        self._journal.close(*([] if self._naming is None else [naming_line(self._naming)]))
        self._lock.release()

    def abandon(self) -> None:
        """Let go without closing."""
        self._journal.abandon()
        self._lock.release()

    def leave(self, *, closed: bool) -> None:
        """Close, or only let go; what cannot be closed is found as unfinished, with all that was written.

        Either way it is on the disk first: nobody forces it afterwards.
        """
        try:
            if closed:
                self.close()
            else:
                self.force()
        except OSError:
            pass
        finally:
            with contextlib.suppress(OSError):
                self.abandon()


def _not_sooner() -> None:
    """Within the second is soon enough."""


def _take(folder: Path) -> FileLock:
    """Say that this process records into a folder; the system lets go of it if the process dies."""
    lock = FileLock(folder / IN_USE, timeout=0)
    try:
        lock.acquire()
    except Timeout:
        raise SessionUnreadable(f"{folder}: this session is being recorded by another window") from None
    return lock


def is_in_use(folder: Path) -> bool:
    """Whether a process records into the folder now; nobody does where nothing can be written."""
    try:
        if not (folder / IN_USE).exists():
            return False
        _take(folder).release()
    except SessionUnreadable:
        return True
    except OSError:
        return False
    return False


@dataclass(frozen=True, slots=True)
class PastSession:
    """A session as both ends of its journal tell it. `trouble` says why it cannot be opened."""

    key: str
    folder: Path
    header: Header | None
    closed: bool = False
    lasted_s: float | None = None
    ended: RunEnded | None = None
    naming: Naming | None = None
    trouble: str = ""

    @property
    def unit(self) -> str:
        """What the unit is called, the newest name first."""
        if self.naming is not None and str(self.naming.unit):
            return str(self.naming.unit)
        return self.header.unit if self.header is not None else ""


def list_sessions(root: Path) -> tuple[PastSession, ...]:
    """The sessions in a folder, newest first; those that cannot be read come with their trouble."""
    if not root.is_dir():
        return ()
    found = [past_session(path.parent) for path in root.glob(f"*/{JOURNAL}")]
    return tuple(sorted(found, key=lambda session: session.key, reverse=True))


def newest_sessions(root: Path, many: int) -> tuple[PastSession, ...]:
    """The beginning of `list_sessions`, without reading the others."""
    if not root.is_dir():
        return ()
    names = sorted((entry.name for entry in os.scandir(root) if entry.is_dir()), reverse=True)
    recorded = (root / name for name in names if _is_recorded(root / name))
    return tuple(past_session(folder) for folder in itertools.islice(recorded, many))


def _is_recorded(folder: Path) -> bool:
    """Whether there is a journal; a folder that may not be looked into has none to show."""
    try:
        return (folder / JOURNAL).is_file()
    except OSError:
        return False


def find_session(root: Path, key: str) -> Path:
    """The folder of a session by its key, its identifier, the beginning of one of them, or a path.

    Raises:
        SessionUnreadable: none or several are meant.
    """
    if not key.strip():
        raise SessionUnreadable("no session was named; `sessions` lists those that there are")
    for direct in (Path(key), root / key):
        if (direct / JOURNAL).is_file():
            return direct
    if Path(key).name == JOURNAL and Path(key).is_file():
        return Path(key).parent
    names = sorted(path.parent.name for path in root.glob(f"*/{JOURNAL}")) if root.is_dir() else []
    meant = [name for name in names if name.startswith(key) or name.rpartition("-")[2].startswith(key)]
    if len(meant) == 1:
        return root / meant[0]
    if meant:
        raise SessionUnreadable(f"{key!r} could be any of {len(meant)} sessions: {', '.join(meant[:5])}")
    raise _no_session(root, key)


def _no_session(root: Path, key: str) -> SessionUnreadable:
    return SessionUnreadable(f"there is no session {key!r} in {root}; `sessions` lists those that there are")


def find_by_header(root: Path, session: str) -> Path:
    """The folder of a session by the identifier in its header, whatever the folder is called now.

    Raises:
        SessionUnreadable: it is not there.
    """
    folders = [path.parent for path in root.glob(f"*/{JOURNAL}")] if root.is_dir() else []
    for folder in sorted(folders, key=lambda one: one.name.rpartition("-")[2] != session):  # called so first
        header = past_session(folder).header
        if header is not None and header.session == session:
            return folder
    raise _no_session(root, session)


_KNOWN: dict[Path, tuple[tuple[int, int], PastSession]] = {}
"""What was read of a journal, by the time and size that it had: a list of a thousand takes a moment then."""


def past_session(folder: Path) -> PastSession:
    """A session as both ends of its journal tell it; read again only when the file has changed."""
    try:
        now = (folder / JOURNAL).stat()
    except OSError:
        return _read_past(folder)
    stamp = (now.st_mtime_ns, now.st_size)
    known = _KNOWN.get(folder)
    if known is None or known[0] != stamp:
        known = _KNOWN[folder] = (stamp, _read_past(folder))
    return known[1]


def _read_past(folder: Path) -> PastSession:
    try:
        first, tail = read_ends(folder / JOURNAL)
        past = PastSession(folder.name, folder, Header.read(first))
    except (OSError, LineRefused) as error:
        return PastSession(folder.name, folder, None, trouble=f"{folder}: {error}")
    for line in tail:
        past = _with_line(past, line)
    return past if past.ended is not None else _with_ending(past)


def _with_ending(past: PastSession) -> PastSession:
    """The end of the run where readings went on long after it."""
    with contextlib.suppress(OSError, LineRefused):
        for fact in codec.decode(last_line(past.folder / JOURNAL, b'{"kind":"ended"')):
            return replace(past, ended=fact) if isinstance(fact, RunEnded) else past
    return past


def _with_line(past: PastSession, line: str) -> PastSession:
    """What one of the last lines adds to what is known of a session."""
    try:
        entry = codec.parse(line)
        kind = entry["kind"]
        past = replace(past, closed=kind == "closing")
        if kind == "named":
            return replace(past, naming=read_journal([_header_line(past), line]).naming)
        if kind == "anchor":
            return _lasting(past, float(entry["session_s"]))
        if kind in codec.INPUT_KINDS or kind in ("rows", "ended"):
            facts = codec.decode_entry(entry)
            for fact in facts[-1:]:
                past = _lasting(past, fact.at_s)
                if isinstance(fact, RunEnded):
                    past = replace(past, ended=fact)
    except (LineRefused, KeyError, TypeError, ValueError):
        return past  # told when the session is opened
    return past


def _header_line(past: PastSession) -> str:
    assert past.header is not None
    return past.header.line()


def _lasting(past: PastSession, at_s: float) -> PastSession:
    return replace(past, lasted_s=max(at_s, past.lasted_s or 0.0))


@dataclass(frozen=True, slots=True)
class Session:
    """A session that was read whole."""

    folder: Path
    journal: Journal

    @property
    def entries(self) -> list[Entry]:
        """Everything that was kept, in order of time."""
        journal = self.journal
        entries: list[Entry] = [*journal.anchors, *journal.facts, *journal.faults, *journal.taken_back]
        entries += journal.practised
        return sorted(entries, key=_moment)


def _moment(entry: Entry) -> float:
    return entry.session_s if isinstance(entry, Anchor) else entry.at_s


def is_long(folder: Path) -> bool:
    """Whether reading a session whole takes so long that it is done in another way."""
    try:
        return (folder / JOURNAL).stat().st_size > LONG_BYTES
    except OSError:
        return False


def open_session(folder: Path) -> Session:
    """Read a session whole; damaged lines are set aside and named in `journal.problems`.

    Raises:
        SessionUnreadable: with one sentence.
    """
    path = folder / JOURNAL
    try:
        # newline: only a line feed ends a line; other separators may stand inside a text.
        with open(path, encoding="utf-8", errors="replace", newline="\n") as file:
            return Session(folder, read_journal(file))
    except OSError as error:
        why = error.strerror or error
        raise SessionUnreadable(f"{path}: {why}; check the folder and its disk") from error
    except LineRefused as refused:
        raise SessionUnreadable(f"{path}: {_no_journal(path, str(refused))}") from refused


def _no_journal(path: Path, what: str) -> str:
    """Why a journal cannot be opened, and what to do."""
    if path.stat().st_size == 0:
        return "the journal is empty; nothing was kept of this session, and its folder can be put away"
    if ";" in what:
        return what
    return f"this is not the journal of a session ({what}); take the session from a backup copy"


def _beside(known: Naming | None, given: Naming) -> Naming:
    """What is given; of what is left empty, what was known."""
    if known is None:
        return given
    return replace(given, unit=given.unit if str(given.unit) else known.unit, job=given.job or known.job)


def name_session(folder: Path, naming: Naming) -> None:
    """File a session under a unit and a job, afterwards.

    Raises:
        SessionUnreadable: it is being recorded; its journal belongs to whoever records it.
        OSError: nothing of it was kept.
    """
    lock = _take(folder)
    try:
        past = _read_past(folder)
        closed, naming = past.closed, _beside(past.naming, naming)
        journal = JournalFile.reopen(folder / JOURNAL)
        try:
            if closed:
                journal.close(naming_line(naming))
            else:
                journal.append([naming_line(naming)])
        finally:
            journal.abandon()
    finally:
        lock.release()
