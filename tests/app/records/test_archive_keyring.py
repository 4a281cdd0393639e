"""The archive's password out of the system's keyring: a backend of our own stands in for it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import keyring
import pytest
from keyring.backend import KeyringBackend
from keyring.errors import KeyringLocked, PasswordDeleteError

from app.main import main
from app.records.archive_place import ADDRESS, KEYRING, PASSWORD, address_of

SERVER = "postgresql://bench@127.0.0.1:9/warmtrim"


class KeptInMemory(KeyringBackend):
    """Keeps passwords in a dictionary; `locked` as when nobody has opened it."""

    priority = 1  # type: ignore[assignment]

    def __init__(self) -> None:
        super().__init__()
        self.kept: dict[tuple[str, str], str] = {}
        self.locked = False
        self.asked = 0

    def get_password(self, service: str, username: str) -> str | None:
        self.asked += 1
        if self.locked:
            raise KeyringLocked("nobody has opened it")
        return self.kept.get((service, username))

    def set_password(self, service: str, username: str, password: str) -> None:
        self.kept[service, username] = password

    def delete_password(self, service: str, username: str) -> None:
        if self.kept.pop((service, username), None) is None:
            raise PasswordDeleteError("it is not there")


@pytest.fixture
def ring(monkeypatch: pytest.MonkeyPatch) -> Iterator[KeptInMemory]:
    monkeypatch.delenv(PASSWORD, raising=False)
    monkeypatch.delenv(ADDRESS, raising=False)
    before, made = keyring.get_keyring(), KeptInMemory()
    keyring.set_keyring(made)
    yield made
    keyring.set_keyring(before)


def test_the_password_comes_from_the_keyring_by_the_users_name(ring: KeptInMemory) -> None:
    keyring.set_password(KEYRING, "bench", "kept in the ring")
    keyring.set_password(KEYRING, "other", "another's")
    assert address_of(SERVER).password == "kept in the ring"
    assert "kept" not in repr(address_of(SERVER))


def test_the_environment_goes_before_the_keyring(ring: KeptInMemory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Which is then not even asked: it might want a person to open it."""
    keyring.set_password(KEYRING, "bench", "kept in the ring")
    monkeypatch.setenv(PASSWORD, "from the environment")
    assert address_of(SERVER).password == "from the environment"
    assert ring.asked == 0


def test_a_file_needs_no_keyring(ring: KeptInMemory, tmp_path: Path) -> None:
    address_of("")
    address_of(f"sqlite:///{tmp_path}/archive.sqlite")
    assert ring.asked == 0


def test_a_keyring_that_is_empty_or_locked_is_none(ring: KeptInMemory) -> None:
    """A server may want no password; whether it does, it says itself."""
    assert address_of(SERVER).password is None
    keyring.set_password(KEYRING, "bench", "kept in the ring")
    ring.locked = True
    assert address_of(SERVER).password is None


def test_a_password_of_the_keyring_is_in_no_message(
    ring: KeptInMemory,
    session_root: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Nobody listens at that port: the refusal names the place and not the password."""
    keyring.set_password(KEYRING, "bench", "kept in the ring")
    monkeypatch.setenv(ADDRESS, SERVER)
    assert main(["archive", "where"]) == 0
    assert main(["archive", "file"]) == 1
    told = "".join(capsys.readouterr())
    assert "127.0.0.1:9" in told
    assert "kept in the ring" not in told
