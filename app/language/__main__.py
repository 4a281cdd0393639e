"""For translators: `python3 -m app.language missing de FOLDER`, and `python3 -m app.language check de`."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from app.environment import ensure


def _run() -> int:
    parser = argparse.ArgumentParser(prog="python3 -m app.language", description="For translators.")
    parser.add_argument("what", choices=("missing", "check"), help="write what is missing, or check files")
    parser.add_argument("code", help="the language, such as de")
    parser.add_argument("folder", type=Path, nargs="?", help="where PO files of what is missing go")
    parser.add_argument("--each", type=int, default=250, help="how many sentences a file takes")
    given = parser.parse_args()
    ensure()
    from app.language.translating import checked, missing_files

    if given.what == "missing":
        if given.folder is None:
            parser.error("say into which folder the files go")
        for path, many in missing_files(given.code, given.folder, given.each):
            print(f"{path}: {many}")
        return 0
    problems = checked(given.code)
    print("\n".join(problems) or "Nothing is wrong and nothing is missing.")
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(_run())
