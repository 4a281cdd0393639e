"""The environment that the program runs in: Python, system libraries, packages, restart.

Standard library only, because it runs before anything else is installed. `ensure` returns only inside the
complete environment; otherwise it makes the environment and starts the same command again there. It never
asks a question. What it prints goes to standard error, so that a command's own output stays clean.
"""

from __future__ import annotations

import ctypes
import importlib
import importlib.metadata
import importlib.util
import os
import re
import shutil
import subprocess
import sys
import venv
from pathlib import Path
from typing import Any, NoReturn

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".venv"
COMPLETE = FOLDER / "complete"

# Library to load -> Debian package that brings it. Found with ldd on every PySide6 object, proved by running.
OFFSCREEN_LIBRARIES = {
    "libGL.so.1": "libgl1",
    "libEGL.so.1": "libegl1",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
    "libxkbcommon.so.0": "libxkbcommon0",
}
# Without these the program works, less something that it says: never a reason to stop.
OPTIONAL_LIBRARIES = {"libportaudio.so.2": "libportaudio2"}
WINDOW_LIBRARIES = {
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
}
APT_UPDATE = ["apt-get", "update", "-q"]
APT_INSTALL = ["apt-get", "install", "-q", "--yes", "--no-install-recommends"]


def ensure(extra: str = "") -> None:
    """Return inside the complete environment, or make it and start the same command again there.

    `extra` names a list of optional dependencies of pyproject.toml that is wanted as well. Where the
    environment cannot be made, the process ends with one sentence that says what to do.
    """
    if sys.version_info < (3, 11):  # noqa: UP036 - a user may start it with any Python
        _stop(f"Warmtrim needs Python 3.11 or newer; this is Python {sys.version.split()[0]}.")
    wanted = wanted_requirements(extra)
    inside = Path(sys.prefix).resolve() == FOLDER.resolve()
    complete = (inside and _noted_complete(wanted)) or _satisfied(wanted)
    _ensure_system_packages(_missing_packages(making=not (inside or complete)))
    if complete:
        return
    _try_optional_packages()
    python = Path(sys.executable) if inside else _make_folder()
    if inside or not _noted_complete(wanted):
        _install(python, wanted)
    if not inside:
        _restart(python)


def wanted_requirements(extra: str = "") -> list[str]:
    """The requirement lines of pyproject.toml, with those of one extra."""
    import tomllib

    with open(ROOT / "pyproject.toml", "rb") as file:
        project: dict[str, Any] = tomllib.load(file)["project"]
    lines = list(project["dependencies"])
    if extra:
        lines += project["optional-dependencies"][extra]
    return [line.replace(" ", "") for line in lines]


# --- system libraries ---------------------------------------------------------------------------------


def _missing_packages(making: bool) -> list[str]:
    """Debian packages whose libraries cannot be loaded (Linux only)."""
    if not sys.platform.startswith("linux"):
        return []
    libraries = dict(OFFSCREEN_LIBRARIES)
    announced = os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    if announced and os.environ.get("QT_QPA_PLATFORM") != "offscreen":
        libraries.update(WINDOW_LIBRARIES)
    missing = [package for library, package in libraries.items() if not _loads(library)]
    if making and importlib.util.find_spec("ensurepip") is None:
        missing.append("python3-venv")
    return missing


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def _try_optional_packages() -> None:
    """As root, while the environment is being made: install what is useful; failing costs nothing."""
    missing = [package for library, package in OPTIONAL_LIBRARIES.items() if not _loads(library)]
    if not (sys.platform.startswith("linux") and missing and shutil.which("apt-get") and os.geteuid() == 0):
        return
    _say(f"Installing system packages: {' '.join(missing)}")
    environment = dict(os.environ, DEBIAN_FRONTEND="noninteractive")

    def carried_out(command: list[str]) -> bool:
        done = subprocess.run(
            command, env=environment, stdin=subprocess.DEVNULL, capture_output=True, check=False
        )
        return done.returncode == 0

    install = [*APT_INSTALL, *missing]
    if not carried_out(install) and not (carried_out(APT_UPDATE) and carried_out(install)):
        _say("They could not be installed; the program works without sound.")


def _ensure_system_packages(missing: list[str]) -> None:
    """Install what is missing as root, else end with the one line that installs it."""
    if not missing:
        return
    names = " ".join(missing)
    if shutil.which("apt-get") is None:
        _stop(
            "These system packages are missing (Debian's names): "
            f"{names}. Please install them with this system's package manager."
        )
    if os.geteuid() != 0:
        _stop(f"Some system packages are missing. Please run:\nsudo apt-get install {names}")
    _say(f"Installing system packages: {names}")
    environment = dict(os.environ, DEBIAN_FRONTEND="noninteractive")
    for command in APT_UPDATE, [*APT_INSTALL, *missing]:
        done = subprocess.run(
            command,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            check=False,
        )
        if done.returncode != 0:
            _stop(
                f"`{' '.join(command)}` failed: {_last_line(done.stdout)} "
                "Please put that right and start the same command again."
            )
    importlib.invalidate_caches()


# --- packages -----------------------------------------------------------------------------------------


def _name(requirement: str) -> str:
    """The normalised project name at the front of a requirement line."""
    match = re.match(r"[A-Za-z0-9._-]+", requirement)
    return re.sub(r"[-_.]+", "-", match.group() if match else requirement).lower()


def _satisfied(wanted: list[str]) -> bool:
    """Whether the running interpreter has every wanted package already."""
    return all(_has(requirement) for requirement in wanted)


def _has(requirement: str) -> bool:
    try:
        installed = importlib.metadata.version(_name(requirement))
    except importlib.metadata.PackageNotFoundError:
        return False
    match = re.fullmatch(r"[A-Za-z0-9._-]+((?:(?:==|>=|<)[0-9.]+,?)*)", requirement)
    if match is None:  # a form that this simple reader does not know: let pip judge
        return False
    have = _release(installed)
    for operator, text in re.findall(r"(==|>=|<)([0-9.]+)", match.group(1)):
        want = _release(text)
        width = max(len(have), len(want))
        left, right = (x + (0,) * (width - len(x)) for x in (have, want))
        if not {"==": left == right, ">=": left >= right, "<": left < right}[operator]:
            return False
    return True


def _release(version: str) -> tuple[int, ...]:
    """The numbers at the front of a version: (6, 11, 3) of "6.11.3.post1"."""
    match = re.match(r"\d+(\.\d+)*", version)
    return tuple(int(part) for part in match.group().split(".")) if match else ()


def _noted() -> dict[str, str]:
    """What `.venv/complete` says is installed: name -> requirement line (one line a package)."""
    try:
        lines = COMPLETE.read_text(encoding="utf-8").split()
    except OSError:
        return {}
    return {_name(line): line for line in lines}


def _noted_complete(wanted: list[str]) -> bool:
    noted = _noted()
    return all(noted.get(_name(line)) == line for line in wanted)


def _make_folder() -> Path:
    """Make `.venv` unless it is there and works; return its Python."""
    python = FOLDER / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    if COMPLETE.exists() and python.exists() and _has_pip(python):
        return python
    _say("Making the environment in .venv (once; it takes about a minute) …")
    try:
        # Cleared, because a half-made folder or one of another Python cannot be mended.
        venv.create(FOLDER, with_pip=True, clear=True)
    except (OSError, subprocess.CalledProcessError) as error:
        _stop(f"The environment could not be made in {FOLDER}: {error}.")
    COMPLETE.touch()
    return python


def _has_pip(python: Path) -> bool:
    """Whether the folder belongs to the Python that it starts (an upgrade of the system breaks that)."""
    code = "import importlib.util, sys; sys.exit(importlib.util.find_spec('pip') is None)"
    return subprocess.run([str(python), "-c", code], check=False, capture_output=True).returncode == 0


def _install(python: Path, wanted: list[str]) -> None:
    """Install the wanted packages and note them."""
    _say("Installing packages: " + " ".join(wanted))
    command = [str(python), "-m", "pip", "install", "--disable-pip-version-check", "--no-input", "--quiet"]
    done = subprocess.run(
        [*command, *wanted],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=dict(os.environ, PIP_ROOT_USER_ACTION="ignore"),
        check=False,
    )
    if done.returncode != 0:
        _stop(
            f"The packages could not be installed: {_last_line(done.stdout)}\n"
            "Please see that this computer reaches its package index, and start the same command again."
        )
    noted = _noted()
    noted.update({_name(line): line for line in wanted})
    COMPLETE.write_text("".join(f"{line}\n" for line in sorted(noted.values())), encoding="utf-8")


# --- restart ------------------------------------------------------------------------------------------


def _restart(python: Path) -> NoReturn:
    """Start the same command again with the Python of `.venv`."""
    spec = getattr(sys.modules["__main__"], "__spec__", None)
    package = (spec.parent if spec is not None else "") or "app"
    command = [str(python), "-m", package, *sys.argv[1:]]
    os.chdir(ROOT)
    sys.stdout.flush()
    sys.stderr.flush()
    if os.name == "nt":
        # Windows has no exec: its imitation gives the prompt back before the program has ended.
        sys.exit(subprocess.run(command, check=False).returncode)
    os.execv(str(python), command)


def _say(sentence: str) -> None:
    print(sentence, file=sys.stderr, flush=True)


def _stop(sentence: str) -> NoReturn:
    sys.exit(sentence)


def _last_line(text: str) -> str:
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return lines[-1] if lines else "it said nothing."
