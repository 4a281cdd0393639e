"""Look back says how far the archive is where older sessions are filed anew, and falls silent behind it."""

from __future__ import annotations

from fake_workshop import FakePapers
from PySide6.QtCore import QObject
from pytestqt.qtbot import QtBot

from app.windows.renewal_notice import PATIENCE, RenewalNotice


def _said(qtbot: QtBot, left: list[int], looks: int) -> list[str]:
    """What is said where so many are left at each look."""
    papers, parent, said = FakePapers(), QObject(), []
    papers.still_outdated = left
    notice = RenewalNotice(papers, parent)
    notice.said.connect(said.append)
    for _ in range(looks):
        before = len(papers.still_outdated)
        notice.look()
        qtbot.waitUntil(lambda before=before: len(papers.still_outdated) < max(before, 1))
        qtbot.waitUntil(lambda: notice.idle)
    return said


def test_what_is_left_is_said_and_the_end_is_silent(qtbot: QtBot) -> None:
    said = _said(qtbot, [12, 3, 0], 3)
    assert [words[:62] for words in said[:2]] == [
        "The archive is being renewed in the background: 12 older sessi",
        "The archive is being renewed in the background: 3 older sessio",
    ]
    assert said[2] == ""


def test_nothing_is_said_where_nothing_is_outdated(qtbot: QtBot) -> None:
    assert _said(qtbot, [0], 1) == []


def test_what_does_not_change_is_not_said_for_ever(qtbot: QtBot) -> None:
    """A session that cannot be read stays outdated."""
    said = _said(qtbot, [2] * (PATIENCE + 2), PATIENCE + 1)
    assert said[-1] == ""
    assert len(said) == PATIENCE + 1
