"""Fault scripts: when a fault happens, and what it does to an answer on the wire."""

from __future__ import annotations

import pytest

from drivers.simulated.faults import (
    Close,
    Fault,
    FaultKind,
    FaultScript,
    Pause,
    Pour,
    Rule,
    Send,
    faulty_messages,
    wire_steps,
)

ANSWER = b"+1.23000000E-02"


def test_a_rule_happens_at_its_query_only() -> None:
    script = FaultScript([Rule(Fault(FaultKind.SILENT), nth=3)])
    kinds = [script.next_fault(b"READ?") is not None for _ in range(5)]
    assert kinds == [False, False, True, False, False]
    assert script.happened == [(3, FaultKind.SILENT)]


def test_a_rule_happens_at_queries_like_its_pattern_only() -> None:
    script = FaultScript([Rule(Fault(FaultKind.ECHO), matching=r"^READ\?")])
    assert script.next_fault(b"*IDN?") is None
    assert script.next_fault(b"READ?") == Fault(FaultKind.ECHO)


def test_chance_is_decided_by_the_seed() -> None:
    def course(seed: int) -> list[bool]:
        script = FaultScript([Rule(Fault(FaultKind.RST), probability=0.3)], seed)
        return [script.next_fault(b"READ?") is not None for _ in range(400)]

    assert course(1) == course(1) != course(2)
    assert 80 < sum(course(1)) < 160


def test_the_first_rule_that_holds_decides() -> None:
    script = FaultScript([Rule(Fault(FaultKind.NUL), nth=1), Rule(Fault(FaultKind.TWO))])
    assert script.next_fault(b"READ?") == Fault(FaultKind.NUL)
    assert script.next_fault(b"READ?") == Fault(FaultKind.TWO)


@pytest.mark.parametrize(
    ("fault", "messages"),
    [
        (None, [ANSWER]),
        (Fault(FaultKind.GARBAGE), [b"\xff\xfe\x80\x01\x7f"]),
        (Fault(FaultKind.NUL), [b"\0" + ANSWER + b"\0\0"]),
        (Fault(FaultKind.TWO), [ANSWER, ANSWER]),
        (Fault(FaultKind.ECHO), [b"READ?", ANSWER]),
        (Fault(FaultKind.PROMPT), [ANSWER, b"=>"]),
        (Fault(FaultKind.OVERLOAD), [b"+9.90000000E+37"]),
        (Fault(FaultKind.LIST, count=3), [ANSWER + b"," + ANSWER + b"," + ANSWER]),
        (Fault(FaultKind.LATE, 1.0), [ANSWER]),
    ],
)
def test_what_a_fault_makes_of_an_answer(fault: Fault | None, messages: list[bytes]) -> None:
    assert faulty_messages(fault, b"READ?", ANSWER) == messages


@pytest.mark.parametrize(
    ("fault", "steps"),
    [
        (None, [Send(b"abcd\n")]),
        (Fault(FaultKind.SILENT), []),
        (Fault(FaultKind.LATE, 0.5), [Pause(0.5), Send(b"abcd\n")]),
        (Fault(FaultKind.HALF), [Send(b"ab")]),
        (Fault(FaultKind.HALF_LATE, 0.5), [Send(b"ab"), Pause(0.5), Send(b"cd\n")]),
        (Fault(FaultKind.FIN), [Send(b"ab"), Close()]),
        (Fault(FaultKind.RST), [Close(reset=True)]),
        (Fault(FaultKind.STREAM), [Pour(b"1" * 4096)]),
        (Fault(FaultKind.TWO), [Send(b"abcd\n")]),
    ],
)
def test_how_an_answer_goes_over_the_wire(fault: Fault | None, steps: list[object]) -> None:
    assert wire_steps(fault, b"abcd\n") == steps


def test_dripping_pauses_after_every_byte() -> None:
    steps = wire_steps(Fault(FaultKind.DRIP, 0.2), b"ab\n")
    assert steps == [Send(b"a"), Pause(0.2), Send(b"b"), Pause(0.2), Send(b"\n"), Pause(0.2)]
