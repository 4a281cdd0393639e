"""A frozen program: processes that it starts beside itself do their work and never open the program again."""

from __future__ import annotations

import multiprocessing
import runpy
import sys

import pytest

import app.environment
import app.main


@pytest.fixture
def called(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What the start does, in its order; nothing of it is carried out."""
    order: list[str] = []

    def main(arguments: list[str]) -> int:
        order.append("main")
        return 0

    monkeypatch.setattr(app.environment, "ensure", lambda: order.append("environment"))
    monkeypatch.setattr(multiprocessing, "freeze_support", lambda: order.append("process beside"))
    monkeypatch.setattr(app.main, "main", main)
    monkeypatch.setattr(sys, "argv", ["warmtrim"])
    return order


def start() -> None:
    with pytest.raises(SystemExit):
        runpy.run_module("app", run_name="__main__", alter_sys=False)


def test_a_frozen_program_lets_a_process_beside_it_work_before_anything_else(
    called: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """And makes no environment: it was frozen with everything in it."""
    monkeypatch.setattr(sys, "frozen", True, raising=False)
    start()
    assert called == ["process beside", "main"]


def test_a_process_beside_a_frozen_program_never_opens_the_program(
    called: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """`freeze_support` does the work of such a process and ends it."""

    def work_and_end() -> None:
        called.append("work")
        sys.exit(0)

    monkeypatch.setattr(sys, "frozen", True, raising=False)
    monkeypatch.setattr(multiprocessing, "freeze_support", work_and_end)
    start()
    assert called == ["work"]


def test_a_program_that_is_not_frozen_looks_after_its_environment_first(called: list[str]) -> None:
    start()
    assert called == ["environment", "main"]
