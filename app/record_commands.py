"""Commands about what was recorded: checking it."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from app.records.checking import check_session
from app.records.session_folder import SessionUnreadable, find_session
from procedures.verification import Finding


def carry_out_verify(chosen: argparse.Namespace, root: Path) -> int:
    """Check sessions; 0 when nothing is missing or changed in any, else 1."""
    worst = 0
    for key in chosen.session:
        try:
            checked = check_session(find_session(root, key))
        except SessionUnreadable as refused:
            print(refused, file=sys.stderr)
            worst = 1
            continue
        print(checked.folder.name)
        for one in checked.answers:
            mark = "" if one.finding is Finding.AGREES else f"{one.finding.value}: "
            print(f"  {one.question:<12} {mark}{one.sentence}")
        worst = worst if checked.agrees else 1
    return worst
