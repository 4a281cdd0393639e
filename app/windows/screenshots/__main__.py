"""`python3 -m app.windows.screenshots FOLDER [--language de]`: the environment first, then the pictures."""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from app.environment import ensure
from app.language import ENGLISH, available


def _run() -> int:
    parser = argparse.ArgumentParser(
        prog="python3 -m app.windows.screenshots", description="Make the pictures."
    )
    parser.add_argument("folder", type=Path, help="where the PNG files go")
    parser.add_argument(
        "--large",
        action="store_true",
        help="also 1920 by 1080, 1280 by 800 at 200 %%, 1920 by 1080 at 300 %%",
    )
    parser.add_argument(
        "--language",
        choices=[one.code for one in available()],
        default=ENGLISH,
        help="what the screens speak; the name of a picture ends with it, unless it is English",
    )
    parser.add_argument("--only", default="", help="only the screens whose name begins with this")
    parser.add_argument("--size", default="1280x800", help=argparse.SUPPRESS)
    given = parser.parse_args()
    ensure()
    width, height = (int(part) for part in given.size.split("x"))
    around = dict(os.environ)  # without the desktop of these pictures, which is gone when they are made
    with tempfile.TemporaryDirectory() as folder:
        if not os.environ.get("QT_QPA_PLATFORM"):
            os.environ["QT_QPA_PLATFORM"] = f"offscreen:configfile={_desktop(Path(folder), width, height)}"
        from app.windows.screenshots.camera import take_all

        take_all(given.folder, (width, height), given.only, given.language)
    if given.large:
        # The scale of a process is fixed when Qt starts, so the enlarged pictures need one of their own.
        for size, scale in (("1920x1080", "1"), ("640x400", "2"), ("640x360", "3")):
            command = [sys.executable, "-m", "app.windows.screenshots", str(given.folder)]
            command += ["--size", size, "--only", given.only, "--language", given.language]
            subprocess.run(command, env={**around, "QT_SCALE_FACTOR": scale}, check=True)
    return 0


def _desktop(folder: Path, width: int, height: int) -> Path:
    """Describe a screen of this size, in logical dots, to Qt's platform without a screen."""
    scale = float(os.environ.get("QT_SCALE_FACTOR", "1"))
    screen = {"name": "desk", "x": 0, "y": 0, "width": round(width * scale), "height": round(height * scale)}
    screen |= {"logicalDpi": 96, "logicalBaseDpi": 96, "dpr": 1}
    path = folder / "desktop.json"
    path.write_text(json.dumps({"screens": [screen]}), encoding="utf-8")
    return path


if __name__ == "__main__":
    sys.exit(_run())
