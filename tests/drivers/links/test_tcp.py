"""What the own TCP link promises beyond the contract: bytes nobody asked for, bounds, endings."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Iterator

import pytest
from loopback_servers import IDENTITY, Conversation, LineServer, Script, answering

from drivers.clock import host_seconds
from drivers.errors import LinkAborted, LinkGarbled, LinkLost, LinkRefused, LinkTimedOut
from drivers.links.tcp import TcpLink

SHORT_S = 0.04
LONG_S = 2.0
Serve = Callable[..., TcpLink]


@pytest.fixture
def serve() -> Iterator[Serve]:
    made: list[tuple[LineServer, TcpLink]] = []

    def make(script: Script = answering, *, ending: bytes = b"\n", line_limit: int = 65_536) -> TcpLink:
        server = LineServer(script, ending=ending)
        link = TcpLink("127.0.0.1", server.port, line_limit=line_limit)
        made.append((server, link))
        link.open(host_seconds() + LONG_S)
        return link

    yield make
    for server, link in made:
        link.close()
        server.stop()


def ask(link: TcpLink, line: bytes = b"READ?", within_s: float = LONG_S) -> bytes:
    return link.query(line, host_seconds() + within_s).raw


@pytest.mark.parametrize("ending", [b"\n", b"\r\n", b"\n\r", b"\n\0\0\0"])
def test_every_usual_line_ending_is_understood(serve: Serve, ending: bytes) -> None:
    link = serve(ending=ending)

    assert [ask(link, b"*IDN?"), ask(link)] == [IDENTITY, b"+2.00000000E-03"]


def test_a_bare_carriage_return_is_learned_from_the_first_answer(serve: Serve) -> None:
    link = serve(ending=b"\r")

    assert ask(link, b"*IDN?", within_s=SHORT_S) == IDENTITY
    started = host_seconds()
    assert ask(link) == b"+2.00000000E-03"
    assert host_seconds() - started < LONG_S / 4.0


def test_what_nobody_asked_for_is_not_an_answer(serve: Serve) -> None:
    told = threading.Event()

    def script(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        if line == b"TALK":
            conversation.send(b"+9.0E-02\n")
            told.set()
            return None
        return answering(number, line, conversation)

    link = serve(script)
    link.write(b"TALK", host_seconds() + LONG_S)
    assert told.wait(LONG_S)

    with pytest.raises(LinkGarbled) as problem:
        ask(link)
    assert problem.value.received == b"+9.0E-02\n"
    assert link.dirty


def test_a_stream_without_end_is_given_up_in_bounded_memory(serve: Serve) -> None:
    def script(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        conversation.send(b"1" * 5000)
        return None

    link = serve(script, line_limit=1000)
    with pytest.raises(LinkGarbled, match="without an end of line"):
        ask(link)
    assert link.dirty


def test_half_a_line_is_shown_and_not_believed(serve: Serve) -> None:
    def script(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        conversation.send(b"+2.00000E")
        return None

    link = serve(script)
    with pytest.raises(LinkTimedOut, match="only") as problem:
        ask(link, within_s=SHORT_S)
    assert problem.value.received == b"+2.00000E"


def test_a_reset_connection_is_lost(serve: Serve) -> None:
    def script(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        conversation.reset()
        return None

    with pytest.raises(LinkLost):
        ask(serve(script))


def test_a_meter_that_never_reads_does_not_block_the_writer() -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        link = TcpLink("127.0.0.1", listener.getsockname()[1])
        link.open(host_seconds() + LONG_S)
        with pytest.raises(LinkTimedOut):
            link.write(b"x" * 20_000_000, host_seconds() + SHORT_S)
        assert link.dirty
        link.close()


def test_connecting_can_be_aborted() -> None:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen(0)
        port = listener.getsockname()[1]
        filling = [_begin_connecting(port) for _ in range(3)]  # a full queue drops further connections
        link = TcpLink("127.0.0.1", port)
        timer = threading.Timer(SHORT_S, link.abort)
        timer.start()
        started = host_seconds()
        with pytest.raises(LinkAborted):
            link.open(started + LONG_S)
        timer.join()

        assert host_seconds() - started < LONG_S / 4.0
        for connection in filling:
            connection.close()


def _begin_connecting(port: int) -> socket.socket:
    connection = socket.socket()
    connection.setblocking(False)
    connection.connect_ex(("127.0.0.1", port))
    return connection


def test_a_connection_that_nobody_accepts_ends_by_its_deadline() -> None:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen(0)
        port = listener.getsockname()[1]
        filling = [_begin_connecting(port) for _ in range(3)]
        with pytest.raises(LinkTimedOut, match="nobody answered"):
            TcpLink("127.0.0.1", port).open(host_seconds() + SHORT_S)
        for connection in filling:
            connection.close()


def test_a_name_that_leads_nowhere_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    def nowhere(*_: object, **__: object) -> None:
        raise socket.gaierror("no such name")

    monkeypatch.setattr(socket, "getaddrinfo", nowhere)
    with pytest.raises(LinkRefused, match="no such name"):
        TcpLink("bench-meter", 5025).open(host_seconds() + LONG_S)


def test_a_name_is_looked_up(serve: Serve, monkeypatch: pytest.MonkeyPatch) -> None:
    port = serve()._port

    def found(*_: object, **__: object) -> list[object]:
        return [(socket.AF_INET, socket.SOCK_STREAM, 6, "", ("127.0.0.1", port))]

    monkeypatch.setattr(socket, "getaddrinfo", found)
    link = TcpLink("bench-meter", port)
    link.close()
    link.open(host_seconds() + LONG_S)
    link.close()


def test_a_name_server_that_is_silent_does_not_outlast_the_deadline(monkeypatch: pytest.MonkeyPatch) -> None:
    release = threading.Event()
    monkeypatch.setattr(socket, "getaddrinfo", lambda *_, **__: release.wait(LONG_S) and [])
    with pytest.raises(LinkTimedOut, match="could not be looked up"):
        TcpLink("bench-meter", 5025).open(host_seconds() + SHORT_S)
    release.set()


def test_a_silent_first_address_leaves_time_for_the_second(
    serve: Serve, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A name of two addresses: an old one that nobody answers at must not cost the whole deadline."""
    link = serve()
    link.close()
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen(0)
        silent = listener.getsockname()
        filling = [_begin_connecting(silent[1]) for _ in range(3)]
        where = [silent, ("127.0.0.1", link._port)]
        found = [(socket.AF_INET, socket.SOCK_STREAM, 6, "", one) for one in where]
        monkeypatch.setattr(socket, "getaddrinfo", lambda *_, **__: found)
        named = TcpLink("bench-meter", link._port)
        named.open(host_seconds() + 10.0 * SHORT_S)
        assert ask(named, b"*IDN?") == IDENTITY
        named.close()
        for connection in filling:
            connection.close()
