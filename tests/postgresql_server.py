"""A real PostgreSQL for tests: started in a folder of its own, on loopback, stopped at the end."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

PASSWORD = "only for this test"
ABSENT = "PostgreSQL is not installed here: its tests were not run"


def install_as_root() -> None:
    """Install Debian's package where this is root on such a system and there is none; never fails."""
    if not sys.platform.startswith("linux") or os.geteuid() != 0 or binaries() is not None:
        return
    if shutil.which("apt-get") is None:
        return
    quiet: dict[str, Any] = {
        "stdin": subprocess.DEVNULL,
        "stdout": subprocess.DEVNULL,
        "stderr": subprocess.DEVNULL,
        "env": dict(os.environ, DEBIAN_FRONTEND="noninteractive"),
    }
    print("Installing PostgreSQL for its tests …", file=sys.stderr, flush=True)
    subprocess.run(["apt-get", "update", "-q"], check=False, **quiet)
    wanted = ["apt-get", "install", "-q", "--yes", "--no-install-recommends", "postgresql"]
    subprocess.run(wanted, check=False, **quiet)


def binaries() -> Path | None:
    """Where `initdb` and `pg_ctl` are."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    on_path = shutil.which("initdb")
    places = [*found, *([Path(on_path).parent] if on_path else [])]
    return next((x for x in places if (x / "initdb").exists() and (x / "pg_ctl").exists()), None)


class PostgresqlServer:
    """One server; PostgreSQL refuses to run as root, so then it runs as another user."""

    def __init__(self) -> None:
        found = binaries()
        assert found is not None
        self._binaries = found
        self._folder = Path(tempfile.mkdtemp(prefix="warmtrim-pg-"))
        self._as: dict[str, Any] = {}
        if os.geteuid() == 0:
            import pwd

            user = next(u for u in pwd.getpwall() if u.pw_name in ("postgres", "nobody") and u.pw_uid)
            os.chown(self._folder, user.pw_uid, user.pw_gid)
            self._as = {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port: int = free.getsockname()[1]
        words = self._folder / "password"
        words.write_text(PASSWORD, encoding="ascii")
        self._run("initdb", "-D", str(self._data), "-U", "bench", "-A", "scram-sha-256", "--no-sync",
                  "--encoding=UTF8", "--locale=C", f"--pwfile={words}")  # fmt: skip
        self.start()

    @property
    def _data(self) -> Path:
        return self._folder / "data"

    @property
    def address(self) -> str:
        """Where it is, without the password."""
        return f"postgresql://bench@127.0.0.1:{self.port}/postgres"

    def start(self) -> None:
        """Start, and wait until it answers."""
        options = f"-p {self.port} -c listen_addresses=127.0.0.1 -c unix_socket_directories='' -c fsync=off"
        log = str(self._folder / "log")
        self._run("pg_ctl", "-D", str(self._data), "-w", "-t", "60", "-l", log, "-o", options, "start")

    def stop(self) -> None:
        """Stop at once, as a server does that is switched off for the night."""
        self._run("pg_ctl", "-D", str(self._data), "-w", "-m", "fast", "stop")

    def remove(self) -> None:
        """Stop and leave nothing behind."""
        self.stop()
        shutil.rmtree(self._folder, ignore_errors=True)

    def _run(self, name: str, *words: str) -> None:
        done = subprocess.run(
            [str(self._binaries / name), *words],
            cwd=self._folder,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            check=False,
            **self._as,
        )
        assert done.returncode == 0, f"{name} ended with {done.returncode}"
