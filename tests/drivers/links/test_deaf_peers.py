"""Peers that take nothing: a network that drops every packet, an instrument that stops reading.

Dropped packets are made on this computer by a queue of connections that is full: Linux then drops further
ones without a word, as a black hole does. VXI-11 first asks a portmapper at a fixed port below 1024, which a
test may not occupy; its own port is tried here.
"""

from __future__ import annotations

import os
import socket
import sys
import threading
from collections.abc import Iterator
from contextlib import ExitStack

import pytest
from loopback_servers import IDENTITY, Conversation, HislipServer, LineServer, PtyServer, answering
from loopback_vxi11 import Vxi11Server

from drivers.addresses import link_for
from drivers.clock import host_seconds
from drivers.errors import LinkAborted, LinkError, LinkLost, LinkTimedOut

LIMIT_S = 0.1
SLACK_S = 1.0  # a loaded machine may be late
VXI11_BOUND_S = 2.0  # VisaLink.stop_bound_s

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="how queues fill is Linux's")


@pytest.fixture
def black_hole() -> Iterator[int]:
    """A port whose queue of connections is full; nobody ever accepts one."""
    with ExitStack() as open_ones:
        listener = open_ones.enter_context(socket.socket())
        listener.bind(("127.0.0.1", 0))
        listener.listen(0)
        for _ in range(3):
            filling = open_ones.enter_context(socket.socket())
            filling.setblocking(False)
            filling.connect_ex(listener.getsockname())
        yield listener.getsockname()[1]


ADDRESSES = ["TCPIP::127.0.0.1::{port}::SOCKET", "TCPIP::127.0.0.1::hislip0,{port}::INSTR"]


@pytest.mark.parametrize("address", ADDRESSES)
def test_a_black_hole_ends_by_the_deadline(black_hole: int, address: str) -> None:
    link = link_for(address.format(port=black_hole))
    started = host_seconds()
    with pytest.raises(LinkTimedOut, match="nobody answered"):
        link.open(started + LIMIT_S)

    assert LIMIT_S <= host_seconds() - started < LIMIT_S + SLACK_S
    link.close()


@pytest.mark.parametrize("address", ADDRESSES)
def test_a_black_hole_can_be_given_up_at_once(black_hole: int, address: str) -> None:
    link = link_for(address.format(port=black_hole))
    timer = threading.Timer(LIMIT_S, link.abort)
    timer.start()
    started = host_seconds()
    with pytest.raises(LinkAborted):
        link.open(started + 20.0)

    assert host_seconds() - started < LIMIT_S + SLACK_S
    timer.join()
    link.close()


# --- an instrument that stops reading ---------------------------------------------------------------------


class Deaf:
    """A script that takes one line GO and then nothing more until it is let go."""

    def __init__(self) -> None:
        self.released = threading.Event()

    def __call__(self, number: int, line: bytes, conversation: Conversation) -> bytes | None:
        if line == b"GO":
            self.released.wait(20.0)
            return None
        return answering(number, line, conversation)


class DeafVxi11Server(Vxi11Server):
    """Does not answer the call that writes GO."""

    def __init__(self) -> None:
        self.released = threading.Event()
        super().__init__()

    def _call(self, record: bytes, *rest: object) -> bytes:
        if record.rstrip(b"\0\n").endswith(b"GO"):
            self.released.wait(20.0)
        return super()._call(record, *rest)  # type: ignore[arg-type]


def test_writing_over_hislip_ends_by_the_deadline() -> None:
    """What left in part is never made good: the link refuses further questions until it is opened anew."""
    deaf = Deaf()
    server = HislipServer(deaf)
    link = link_for(server.address)
    try:
        link.open(host_seconds() + 2.0)
        link.write(b"GO", host_seconds() + 2.0)
        started = host_seconds()
        with pytest.raises(LinkError):
            link.write(b"x" * 20_000_000, started + LIMIT_S)
        assert host_seconds() - started < LIMIT_S + SLACK_S
        assert link.dirty
        deaf.released.set()
        link.open(host_seconds() + 2.0)
        assert link.query(b"*IDN?", host_seconds() + 2.0).raw == IDENTITY
    finally:
        deaf.released.set()
        link.close()
        server.stop()


def test_writing_over_hislip_can_be_given_up() -> None:
    deaf = Deaf()
    server = HislipServer(deaf)
    link = link_for(server.address)
    try:
        link.open(host_seconds() + 2.0)
        link.write(b"GO", host_seconds() + 2.0)
        timer = threading.Timer(LIMIT_S, link.abort)
        timer.start()
        started = host_seconds()
        with pytest.raises(LinkAborted):
            link.write(b"x" * 20_000_000, started + 20.0)
        assert host_seconds() - started < LIMIT_S + SLACK_S
        timer.join()
    finally:
        deaf.released.set()
        link.close()
        server.stop()


def test_writing_over_vxi11_ends_within_its_stated_bound() -> None:
    server = DeafVxi11Server()
    link = link_for(server.address)
    try:
        link.open(host_seconds() + 2.0)
        started = host_seconds()
        with pytest.raises((LinkTimedOut, LinkLost)):
            link.write(b"GO", started + LIMIT_S)
        assert host_seconds() - started < LIMIT_S + VXI11_BOUND_S + SLACK_S
        assert link.dirty
    finally:
        server.released.set()
        link.close()
        server.stop()


@pytest.mark.parametrize("kind", [LineServer, PtyServer])
def test_writing_over_our_own_links_ends_by_the_deadline(kind: type[LineServer] | type[PtyServer]) -> None:
    if kind is PtyServer and os.name == "nt":
        pytest.skip("there are no pseudo-terminals on Windows")
    deaf = Deaf()
    server = kind(deaf)
    link = link_for(server.address)
    try:
        link.open(host_seconds() + 2.0)
        link.write(b"GO", host_seconds() + 2.0)
        started = host_seconds()
        with pytest.raises(LinkTimedOut, match="take what is sent"):
            link.write(b"x" * 20_000_000, started + LIMIT_S)
        assert host_seconds() - started < LIMIT_S + SLACK_S
        assert link.dirty
    finally:
        deaf.released.set()
        link.close()
        server.stop()
