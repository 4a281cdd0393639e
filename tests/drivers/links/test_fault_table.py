"""One check a row for faults measured on PyVISA-py 0.8.1: our error, how long it takes, and what comes after.

Each row says what the second question meets. Afterwards the link is clean, dirty (a known answer makes it
clean) or lost (opening again does), and the next value is the next question's own.
"""

from __future__ import annotations

import gc
import os
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

import pytest
from loopback_servers import IDENTITY, Conversation, HislipServer, LineServer, PtyServer, answering
from loopback_vxi11 import Vxi11Server

from drivers.addresses import link_for
from drivers.clock import host_seconds
from drivers.errors import LinkAborted, LinkError, LinkGarbled, LinkLost, LinkRefused, LinkTimedOut
from drivers.links import Link

LIMIT_S = 0.06  # the deadline of the question that goes wrong
AT_ONCE_S = 4.0  # the deadline where the error must come long before it
SLACK_S = 1.0  # a loaded machine may be late
CPU_S = 0.05  # nothing spins
SERVERS = {"tcp": LineServer, "serial": PtyServer, "hislip": HislipServer, "vxi11": Vxi11Server}

Act = Callable[[Conversation, bytes, Callable[[float], object]], None]


def whole(conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(text))


def fin_half_way(conversation: Conversation, text: bytes, pause: Callable[[float], object]) -> None:
    conversation.send(conversation.frame(text)[:-6])
    conversation.finish()


def fin(conversation: Conversation, text: bytes, pause: Callable[[float], object]) -> None:
    conversation.finish()


def rst(conversation: Conversation, text: bytes, pause: Callable[[float], object]) -> None:
    conversation.reset()


def silent(conversation: Conversation, text: bytes, pause: Callable[[float], object]) -> None:
    pass


def late(conversation: Conversation, text: bytes, pause: Callable[[float], object]) -> None:
    pause(1.5 * LIMIT_S)
    whole(conversation, text)


def half_then_tail(conversation: Conversation, text: bytes, pause: Callable[[float], object]) -> None:
    conversation.send(conversation.frame(text)[:-4])
    pause(1.5 * LIMIT_S)
    conversation.send(conversation.frame(text)[-4:])


def half(conversation: Conversation, text: bytes, pause: Callable[[float], object]) -> None:
    conversation.send(conversation.frame(text)[:-4])


def drip(conversation: Conversation, text: bytes, pause: Callable[[float], object]) -> None:
    for byte in conversation.frame(text):
        conversation.send(bytes([byte]))
        pause(LIMIT_S / 5.0)


def no_text(conversation: Conversation, text: bytes, pause: Callable[[float], object]) -> None:
    whole(conversation, b"\xa6\xb8\x00\xff")


def two_lines(conversation: Conversation, text: bytes, pause: Callable[[float], object]) -> None:
    conversation.send(conversation.frame(text) + conversation.frame(b"+9.0E-02"))


def echo(conversation: Conversation, text: bytes, pause: Callable[[float], object]) -> None:
    conversation.send(conversation.frame(b"READ?") + conversation.frame(text))


def prompt(conversation: Conversation, text: bytes, pause: Callable[[float], object]) -> None:
    conversation.send(conversation.frame(text) + b"> \r")


def endless(conversation: Conversation, text: bytes, pause: Callable[[float], object]) -> None:
    for _ in range(20):
        conversation.send(b"7" * 4096)


@dataclass(frozen=True)
class Row:
    """What a kind of link makes of a fault; `error` None: the answer is taken as it is."""

    link: str
    act: Act
    error: type[LinkError] | None
    lost: bool = False
    at_once: bool = False  # well before the deadline
    name: str = ""

    def __str__(self) -> str:
        return f"{self.link}: {self.act.__name__}"


ROWS = [
    Row("tcp", fin_half_way, LinkLost, lost=True, at_once=True),
    Row("tcp", fin, LinkLost, lost=True, at_once=True),
    Row("tcp", rst, LinkLost, lost=True, at_once=True),
    Row("tcp", silent, LinkTimedOut),
    Row("tcp", late, LinkTimedOut),
    Row("tcp", half_then_tail, LinkTimedOut),
    Row("tcp", half, LinkTimedOut),
    Row("tcp", drip, LinkTimedOut),
    Row("tcp", no_text, None),
    Row("tcp", two_lines, LinkGarbled, at_once=True),
    Row("tcp", echo, LinkGarbled, at_once=True),
    Row("tcp", prompt, LinkGarbled, at_once=True),
    Row("tcp", endless, LinkGarbled, at_once=True),
    Row("serial", silent, LinkTimedOut),
    Row("serial", late, LinkTimedOut),
    Row("serial", half_then_tail, LinkTimedOut),
    Row("serial", drip, LinkTimedOut),
    Row("serial", no_text, None),
    Row("serial", two_lines, LinkGarbled, at_once=True),
    Row("hislip", silent, LinkTimedOut),
    Row("hislip", late, LinkTimedOut),
    Row("hislip", fin, LinkLost, lost=True, at_once=True),
    Row("hislip", rst, LinkLost, lost=True, at_once=True),
    Row("hislip", half_then_tail, LinkTimedOut, lost=True),
    Row("hislip", two_lines, None),
    Row("vxi11", silent, LinkTimedOut),
    Row("vxi11", late, LinkTimedOut),
]


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_a_fault_has_its_error_and_the_next_value_is_right(row: Row) -> None:
    if row.link == "serial" and os.name == "nt":
        pytest.skip("there are no pseudo-terminals on Windows")
    stopped = threading.Event()
    faulty = threading.Event()
    faulty.set()

    def script(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        answer = answering(number, line, conversation)
        if line == b"READ?" and number == 2 and faulty.is_set():
            faulty.clear()
            row.act(conversation, answer or b"", stopped.wait)
            return None
        return answer

    server = SERVERS[row.link](script)
    link = link_for(server.address)
    try:
        link.open(host_seconds() + 2.0)
        assert link.query(b"*IDN?", host_seconds() + 2.0).raw == IDENTITY
        meet(link, row)
        heal(link, row)
        asked = len(server.lines)
        # The script counts from 1 on a new connection, and every value says which question it answers.
        expected = (1 if row.lost else asked + 1) / 1000.0
        assert float(link.query(b"READ?", host_seconds() + 2.0).raw) == expected
    finally:
        stopped.set()
        link.close()
        server.stop()


def meet(link: Link, row: Row) -> None:
    """Ask the question that goes wrong."""
    started, cpu = host_seconds(), time.thread_time()
    if row.error is None:
        link.query(b"READ?", started + AT_ONCE_S)
        return
    deadline = started + (AT_ONCE_S if row.at_once else LIMIT_S)
    with pytest.raises(row.error) as problem:
        link.query(b"READ?", deadline)
    took = host_seconds() - started

    assert type(problem.value) is row.error
    assert problem.value.address == link.address
    assert took < LIMIT_S + SLACK_S
    assert row.at_once or took >= LIMIT_S
    assert time.thread_time() - cpu < CPU_S


def heal(link: Link, row: Row) -> None:
    """What the worker does after such an error."""
    if row.error is None:
        assert not link.dirty
        return
    if not row.lost:
        assert link.dirty
        link.resync(b"*IDN?", IDENTITY, host_seconds() + 2.0)
        assert not link.dirty
        return
    for _ in range(3):  # a broken HiSLIP message shows only when the next one is read
        with pytest.raises(LinkError):
            link.resync(b"*IDN?", IDENTITY, host_seconds() + LIMIT_S)
    link.open(host_seconds() + 2.0)


def test_a_meter_killed_and_started_again_is_lost_and_then_found() -> None:
    server = LineServer()
    link = link_for(server.address)
    link.open(host_seconds() + 2.0)
    link.query(b"*IDN?", host_seconds() + 2.0)
    server.stop()
    with pytest.raises(LinkLost):
        link.query(b"*IDN?", host_seconds() + 2.0)
    again = LineServer(port=server.port)
    try:
        link.open(host_seconds() + 2.0)
        assert link.query(b"*IDN?", host_seconds() + 2.0).raw == IDENTITY
    finally:
        link.close()
        again.stop()


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_nobody_at_a_vxi11_port_is_refused() -> None:
    """PyVISA-py leaves its socket to the garbage collector then, which is called here and now."""
    server = Vxi11Server()
    link = link_for(server.address)
    server.stop()
    with pytest.raises(LinkRefused, match="cannot be opened") as refusal:
        link.open(host_seconds() + 2.0)
    del refusal
    gc.collect()


def test_two_threads_at_one_link_are_not_needed_to_end_it() -> None:
    """Closing from elsewhere is no way to end a wait; aborting is, and the link stays the owner's."""
    server = LineServer(lambda number, line, conversation: None)
    link = link_for(server.address)
    link.open(host_seconds() + 2.0)
    timer = threading.Timer(LIMIT_S, link.abort)
    timer.start()
    started = host_seconds()
    try:
        with pytest.raises(LinkAborted):
            link.query(b"READ?", host_seconds() + 5.0)
        assert host_seconds() - started < LIMIT_S + SLACK_S
        assert link.dirty
    finally:
        timer.join()
        link.close()
        server.stop()


@pytest.mark.parametrize("step_s", [-3600.0, 3600.0])
def test_setting_the_computers_clock_changes_no_deadline(
    monkeypatch: pytest.MonkeyPatch, step_s: float
) -> None:
    server = LineServer(lambda number, line, conversation: None)
    link = link_for(server.address)
    link.open(host_seconds() + 2.0)
    true_time = time.time
    monkeypatch.setattr(time, "time", lambda: true_time() + step_s)
    started = host_seconds()
    try:
        with pytest.raises(LinkTimedOut):
            link.query(b"READ?", started + LIMIT_S)
        assert LIMIT_S <= host_seconds() - started < LIMIT_S + SLACK_S
    finally:
        link.close()
        server.stop()


@pytest.mark.long
@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_hislip_that_accepts_and_says_nothing_is_refused_in_five_seconds() -> None:
    import socket

    with socket.create_server(("127.0.0.1", 0)) as listener:
        link = link_for(f"TCPIP::127.0.0.1::hislip0,{listener.getsockname()[1]}::INSTR")
        started = host_seconds()
        with pytest.raises(LinkError):
            link.open(started + 1.0)
        assert host_seconds() - started < 6.0


@pytest.mark.long
def test_vxi11_takes_two_seconds_to_see_the_end_of_a_connection() -> None:
    server = Vxi11Server(
        lambda number, line, conversation: conversation.finish() if line == b"READ?" else IDENTITY
    )
    link = link_for(server.address)
    try:
        link.open(host_seconds() + 2.0)
        started = host_seconds()
        with pytest.raises(LinkError):
            link.query(b"READ?", started + 1.0)
        assert host_seconds() - started < 4.0
        link.open(host_seconds() + 10.0)  # closing what is dead takes its two seconds first
        assert link.query(b"*IDN?", host_seconds() + 2.0).raw == IDENTITY
    finally:
        link.close()
        server.stop()
