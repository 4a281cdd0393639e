"""`python3 -m app.windows.screenshots FOLDER [--large]`: the environment first, then the pictures."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from pathlib import Path

from app.environment import ensure


def _run() -> int:
    parser = argparse.ArgumentParser(
        prog="python3 -m app.windows.screenshots", description="Make the pictures."
    )
    parser.add_argument("folder", type=Path, help="where the PNG files go")
    parser.add_argument("--large", action="store_true", help="also 1920 by 1080, and 1280 by 800 at 200 %%")
    parser.add_argument("--only", default="", help="only the screens whose name begins with this")
    parser.add_argument("--size", default="1280x800", help=argparse.SUPPRESS)
    given = parser.parse_args()
    ensure()
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from app.windows.screenshots.scenes import take_all

    width, height = (int(part) for part in given.size.split("x"))
    take_all(given.folder, (width, height), given.only)
    if given.large:
        # The scale of a process is fixed when Qt starts, so the enlarged pictures need one of their own.
        for size, scale in (("1920x1080", "1"), ("1280x800", "2")):
            command = [sys.executable, "-m", "app.windows.screenshots", str(given.folder)]
            command += ["--size", size, "--only", given.only]
            subprocess.run(command, env={**os.environ, "QT_SCALE_FACTOR": scale}, check=True)
    return 0


if __name__ == "__main__":
    sys.exit(_run())
