"""Where the archive is, who this bench is in it, and where its password comes from.

A password is taken from the environment or the system's keyring, and from nowhere else: never from the
settings, never from the address, and it is in no message.
"""

from __future__ import annotations

import os
import secrets
from pathlib import Path

import platformdirs
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError

from app.records.archive import Archive

ADDRESS = "WARMTRIM_ARCHIVE"
PASSWORD = "WARMTRIM_ARCHIVE_PASSWORD"
KEYRING = "warmtrim archive"


class ArchiveAddressRefused(ValueError):
    """The archive's address cannot be used; the text says why."""


def archive_file() -> Path:
    """The archive of this computer's user, where no other was chosen."""
    return platformdirs.user_data_path("warmtrim", appauthor=False) / "archive.sqlite"


def bench_id() -> str:
    """Who this bench is: random, made once, kept in the user's data folder. Raises OSError."""
    path = platformdirs.user_data_path("warmtrim", appauthor=False) / "bench"
    try:
        known = path.read_text(encoding="ascii").strip()
        if known:
            return known
    except (FileNotFoundError, UnicodeDecodeError):
        pass
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_name(f"bench.{secrets.token_hex(4)}")
    fresh.write_text(secrets.token_hex(8), encoding="ascii")
    try:
        os.link(fresh, path)  # the first of two windows wins
    except FileExistsError:
        return path.read_text(encoding="ascii").strip() or fresh.read_text(encoding="ascii")
    except OSError:
        os.replace(fresh, path)
        return path.read_text(encoding="ascii").strip()
    finally:
        fresh.unlink(missing_ok=True)
    return path.read_text(encoding="ascii").strip()


def address_of(chosen: str) -> URL:
    """The address with its password added where there is one; an empty one is this user's own file.

    Raises:
        ArchiveAddressRefused: with one sentence, which does not repeat the address.
    """
    words = os.environ.get(ADDRESS) or chosen
    if not words:
        return URL.create("sqlite", database=str(archive_file()))
    try:
        url = make_url(words)
    except (ArgumentError, ValueError):
        raise ArchiveAddressRefused(
            "The archive's address cannot be understood: it must look like postgresql://user@host/database"
        ) from None
    if url.password is not None or "password" in url.query:
        raise ArchiveAddressRefused(
            f"The archive's address holds a password: leave it out, and give it as {PASSWORD} in the "
            f'environment or in the system\'s keyring under "{KEYRING}"'
        )
    if url.get_backend_name() not in ("sqlite", "postgresql"):
        raise ArchiveAddressRefused(
            f"The archive's address begins with {url.get_backend_name()!r}; sqlite and postgresql can be used"
        )
    if url.get_backend_name() == "sqlite":
        return url
    url = url.set(drivername="postgresql+psycopg")
    password = os.environ.get(PASSWORD) or _from_keyring(url.username or "")
    return url.set(password=password) if password else url


def _from_keyring(user: str) -> str | None:
    """The password that the system's keyring holds for this archive, if it has one."""
    try:
        import keyring
    except ImportError:
        return None
    try:
        password: str | None = keyring.get_password(KEYRING, user)
    except Exception:  # a keyring that is locked or absent is no keyring
        return None
    return password


def open_archive(chosen: str = "") -> Archive:
    """This bench's archive; nothing is connected yet. Raises ArchiveAddressRefused, ArchiveAway, OSError."""
    return Archive(address_of(chosen), bench_id())
