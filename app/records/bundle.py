"""A session in one file that opens at another bench: a zip with its job, its amplifier and pictures.

Who the customer is goes along only when that is asked for. What comes in is believed in nothing: only known
names are taken, nothing grows beyond its declared size, and every file must have its declared digest.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import secrets
import shutil
import stat
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from app.amplifier_shelf import as_toml
from app.records.attachments import ATTACHMENTS, attached_files
from app.records.erasing import customers_files, without_captions
from app.records.job_folder import IDENTITY, JOB_JOURNAL, Job, jobs_root
from app.records.places import require_writable
from app.records.session_folder import JOURNAL, OTHER, Session
from app.records.whole_file import force_names, write_whole, written_whole
from procedures.amplifier import Amplifier
from procedures.records.codec import LineRefused
from procedures.records.job_journal import JobHeader
from procedures.records.journal import Header

FORMAT = 1
CONTENTS = "contents.json"
MOST_FILES = 2000
LARGEST_BYTES = 512 * 1024 * 1024
_ATTACHMENT = r"attachments/[0-9a-f]{64}(\.[a-z0-9]{1,8})?"
_NAMES = re.compile(
    rf"session/journal\.jsonl|session/{_ATTACHMENT}|job/job\.jsonl|job/customer\.json|job/{_ATTACHMENT}"
    r"|amplifier\.toml|report\.(html|pdf)|traces\.(png|svg)"
)
# How each kind of paper begins; none is kept, because this bench draws its own from the record.
_BEGINS = {
    "html": (b"<!doctype html",),
    "pdf": (b"%pdf-",),
    "png": (b"\x89png\r\n",),
    "svg": (b"<?xml", b"<svg"),
}
_PACKED = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ID = re.compile(r"[A-Za-z0-9]{1,64}")


class BundleRefused(ValueError):
    """A bundle cannot be made or taken in; the text says why."""


@dataclass(frozen=True, slots=True)
class Imported:
    """Where a bundle's session and job are now; `new` is False for what was here already.

    `note` says in a sentence how the record that was here differs from the bundle's; empty: not at all.
    """

    session: Path
    job: Path | None = None
    new: bool = True
    note: str = ""


@dataclass(slots=True)
class _Contents:
    files: dict[str, bytes] = field(default_factory=dict)

    def add(self, name: str, content: bytes) -> None:
        if not _NAMES.fullmatch(name):
            raise BundleRefused(f"{name} is no file that a bundle can hold")
        self.files[name] = content


# --- out --------------------------------------------------------------------------------------------------


def write_bundle(
    path: Path,
    session: Session,
    job: Job | None = None,
    *,
    customer: bool = False,
    more: Mapping[str, bytes] | None = None,
) -> int:
    """Write a bundle whole or not at all; how many files it holds.

    Args:
        path: The zip file.
        session: What is sent.
        job: The job that it belongs to, if any.
        customer: Whether who the customer is goes along, with the photographs that show it.
        more: Reports and pictures by name (`report.html`, `report.pdf`, `traces.png`, `traces.svg`).

    Raises:
        BundleRefused: with one sentence.
        OSError: nothing was written.
    """
    held = _Contents()
    held.add(f"session/{JOURNAL}", (session.folder / JOURNAL).read_bytes())
    _add_attachments(held, "session", session.folder)
    amplifier = session.journal.header.setup.get("amplifier")
    if amplifier is not None:
        try:
            known = Amplifier.model_validate_json(json.dumps(amplifier))
            held.add("amplifier.toml", as_toml(known).encode("utf-8"))
        except ValidationError:
            pass  # one of another version; the session holds it all the same
    if job is not None:
        _add_job(held, job, customer)
        if customer and (job.folder / IDENTITY).is_file():
            held.add(f"job/{IDENTITY}", (job.folder / IDENTITY).read_bytes())
    for name, content in (more or {}).items():
        held.add(name, content)
    size = sum(map(len, held.files.values()))
    if size > LARGEST_BYTES or len(held.files) >= MOST_FILES:
        raise BundleRefused(
            f"{session.folder.name} and its job are {len(held.files)} files of {size / 1e6:.0f} MB; a bundle "
            f"may have {MOST_FILES} of {LARGEST_BYTES // 10**6} MB together: copy the folders themselves"
        )
    listed = {
        name: {"bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
        for name, content in sorted(held.files.items())
    }
    practice = session.journal.header.practice
    contents = {"kind": "warmtrim bundle", "format": FORMAT, "practice": practice, "files": listed}
    with written_whole(path) as fresh, zipfile.ZipFile(fresh, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr(_entry(CONTENTS), json.dumps(contents, indent=1))
        for name in listed:
            packed.writestr(_entry(name), held.files[name])
    return len(listed)


def _entry(name: str) -> zipfile.ZipInfo:
    """The same moment for every file, so that the same session gives the same bundle."""
    entry = zipfile.ZipInfo(name, (2000, 1, 1, 0, 0, 0))
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.external_attr = (stat.S_IFREG | 0o600) << 16
    return entry


def _add_attachments(held: _Contents, place: str, folder: Path) -> None:
    for path in attached_files(folder):
        if _NAMES.fullmatch(name := f"{place}/attachments/{path.name}"):  # no others were attached
            held.add(name, path.read_bytes())


def _add_job(held: _Contents, job: Job, customer: bool) -> None:
    """Its journal and the photographs that stand on the sheet, those of the customer only with `customer`."""
    theirs = frozenset() if customer else customers_files(job)
    journal = (job.folder / JOB_JOURNAL).read_bytes()
    held.add(f"job/{JOB_JOURNAL}", without_captions(journal, theirs) if theirs else journal)
    shown = {one.file for one in job.sheet.photographs} - theirs
    for path in attached_files(job.folder):
        if path.name in shown:
            held.add(f"job/attachments/{path.name}", path.read_bytes())


# --- in ---------------------------------------------------------------------------------------------------


def read_bundle(path: Path) -> dict[str, bytes]:
    """All files of a bundle, each checked.

    Raises:
        BundleRefused: with one sentence; nothing was taken.
    """
    try:
        with zipfile.ZipFile(path) as packed:
            return _checked(packed)
    except BundleRefused as refused:
        raise BundleRefused(f"{path}: {refused}; nothing was taken from it") from None
    except OSError as error:
        raise BundleRefused(f"{path}: cannot be read ({error.strerror or error})") from error
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError) as error:
        words = (
            f"{path}: this is no whole bundle ({error or type(error).__name__}); ask for it to be sent again"
        )
        raise BundleRefused(words) from error


def _checked(packed: zipfile.ZipFile) -> dict[str, bytes]:
    entries = packed.infolist()
    names = [entry.filename for entry in entries]
    if len(entries) > MOST_FILES or len(set(names)) != len(names):
        raise BundleRefused("it holds too many files, or one twice")
    for entry in entries:
        kind = stat.S_IFMT(entry.external_attr >> 16)
        if entry.flag_bits & 0x1 or kind not in (0, stat.S_IFREG) or entry.compress_type not in _PACKED:
            raise BundleRefused(f"{entry.filename!r} is encrypted, packed in another way or no plain file")
        if entry.filename != CONTENTS and not _NAMES.fullmatch(entry.filename):
            raise BundleRefused(f"it holds {entry.filename!r}, which does not belong into a bundle")
    listed = _listed(packed)
    if set(listed) != set(names) - {CONTENTS}:
        raise BundleRefused("its table of contents does not fit what it holds")
    if f"session/{JOURNAL}" not in listed:
        raise BundleRefused("it holds no session")
    found = {}
    for name, (size, digest) in listed.items():
        content = _bounded(packed, name, size)
        if hashlib.sha256(content).hexdigest() != digest:
            raise BundleRefused(f"{name} is not what was packed: its digest has changed")
        kinds = _BEGINS.get(name.rpartition(".")[2], ()) if "/" not in name else ()
        if kinds and not content[:20].lower().lstrip().startswith(kinds):
            raise BundleRefused(f"{name} is not of the kind that it says")
        found[name] = content
    return found


def _listed(packed: zipfile.ZipFile) -> dict[str, tuple[int, str]]:
    if CONTENTS not in packed.namelist():
        raise BundleRefused("it has no table of contents")
    try:
        contents: dict[str, Any] = json.loads(_bounded(packed, CONTENTS, 1024 * 1024, exactly=False))
        if contents["kind"] != "warmtrim bundle" or contents["format"] != FORMAT:
            raise BundleRefused("it is of a kind that this version does not know")
        listed = {str(n): (int(e["bytes"]), str(e["sha256"])) for n, e in contents["files"].items()}
    except (KeyError, TypeError, AttributeError, ValueError, RecursionError) as error:
        if isinstance(error, BundleRefused):
            raise
        raise BundleRefused("its table of contents is damaged") from None
    if any(size < 0 for size, _ in listed.values()) or sum(s for s, _ in listed.values()) > LARGEST_BYTES:
        raise BundleRefused(f"it would unpack to more than {LARGEST_BYTES // 1024**2} MB")
    return listed


def _bounded(packed: zipfile.ZipFile, name: str, size: int, exactly: bool = True) -> bytes:
    """A file of the zip, never more than its declared size."""
    with packed.open(name) as file:
        content = file.read(size + 1)
    if len(content) > size or (exactly and len(content) != size):
        raise BundleRefused(f"{name} is larger or smaller than it says")
    return content


def import_bundle(path: Path, root: Path) -> Imported:
    """Take a bundle's session into a folder of sessions, and its job beside it.

    What is here already is left as it is, also where it was named or gone on with since. Where the two
    records of a session truly differ, both are kept.

    Raises:
        BundleRefused, FolderUnusable, OSError: nothing was taken.
    """
    files = read_bundle(path)
    session_name, job_name = _session_name(files, path), _job_name(files, path)
    session, new, note = _met(root, session_name, files[f"session/{JOURNAL}"])
    jobs = jobs_root(root)
    job = (_here(jobs, job_name) or jobs / job_name) if job_name else None
    if new:
        _put(files, "session", session)
    if job is not None and not (job / JOB_JOURNAL).exists():
        try:
            _put(files, "job", job)
        except OSError:
            if new:
                shutil.rmtree(session, ignore_errors=True)  # all of it comes, or nothing
            raise
    return Imported(session, job, new, note)


def _met(root: Path, name: str, journal: bytes) -> tuple[Path, bool, str]:
    """Where a session goes or is already, whether it is new, and how what is here differs, in a sentence."""
    session = _here(root, name) or root / name
    if not (session / JOURNAL).exists():
        return session, True, ""
    here = (session / JOURNAL).read_bytes()
    if here == journal:
        return session, False, ""
    ours, theirs = _recorded(here), _recorded(journal)
    if ours == theirs:
        note = (
            "Only the name that it was given differs: the one here stays; name it anew if the other is right."
        )
        return session, False, note
    if ours[: len(theirs)] == theirs:
        return session, False, "It was gone on with here since: the longer record stays."
    other = session.with_name(f"{session.name}{OTHER}{hashlib.sha256(journal).hexdigest()[:6]}")
    note = "Another record of the same session was here already: both are kept; compare them."
    return other, not (other / JOURNAL).exists(), note


def _recorded(journal: bytes) -> list[bytes]:
    """The lines of a journal that naming it afterwards does not add."""
    added = (b'{"kind":"named"', b'{"kind":"closing"')
    return [line for line in journal.split(b"\n") if line and not line.startswith(added)]


def _here(root: Path, name: str) -> Path | None:
    """What has the same identifier already: it is called after another day in another zone."""
    mark = name.rpartition("-")[2]
    folders = sorted(root.iterdir()) if root.is_dir() else []
    return next((path for path in folders if path.name.rpartition("-")[2] == mark and path.is_dir()), None)


def _session_name(files: Mapping[str, bytes], path: Path) -> str:
    try:
        header = Header.read(_first_line(files[f"session/{JOURNAL}"]))
    except LineRefused as refused:
        raise BundleRefused(f"{path}: its session cannot be read ({refused})") from refused
    if not _ID.fullmatch(header.session):
        raise BundleRefused(f"{path}: its session has no proper identifier")
    return f"{header.started_utc.astimezone():%Y-%m-%d-%H%M}-{header.session}"


def _job_name(files: Mapping[str, bytes], path: Path) -> str:
    if f"job/{JOB_JOURNAL}" not in files:
        return ""
    try:
        header = JobHeader.read(_first_line(files[f"job/{JOB_JOURNAL}"]))
    except LineRefused as refused:
        raise BundleRefused(f"{path}: its job cannot be read ({refused})") from refused
    if not _ID.fullmatch(header.job):
        raise BundleRefused(f"{path}: its job has no proper identifier")
    return f"{header.opened_utc.astimezone():%Y-%m-%d}-{header.job}"


def _first_line(content: bytes) -> str:
    return content.split(b"\n", 1)[0].decode("utf-8", "replace")


def _put(files: Mapping[str, bytes], place: str, folder: Path) -> None:
    """Write the files of one place into a new folder, whole or not at all."""
    require_writable(folder.parent)
    fresh = folder.with_name(f".{folder.name}.{secrets.token_hex(4)}")
    try:
        for name, content in files.items():
            if name.startswith(f"{place}/"):
                target = fresh / name.removeprefix(f"{place}/")
                target.parent.mkdir(parents=True, exist_ok=True)
                write_whole(target, content)
                if target.name == IDENTITY:
                    target.chmod(0o600)
        (fresh / ATTACHMENTS).mkdir(exist_ok=True)
        force_names(fresh)
        os.rename(fresh, folder)
        force_names(folder.parent)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
