"""What every link promises, whatever carries it: the same checks over TCP, serial, HiSLIP and VXI-11."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest
from loopback_servers import IDENTITY, Conversation, HislipServer, LineServer, PtyServer, Script, answering
from loopback_vxi11 import Vxi11Server

from drivers.addresses import link_for
from drivers.clock import host_seconds
from drivers.errors import LinkAborted, LinkGarbled, LinkLost, LinkRefused, LinkTimedOut
from drivers.links import Link

SHORT_S = 0.04  # a deadline that is meant to pass
LONG_S = 2.0  # one that is not


Server = LineServer | HislipServer | PtyServer | Vxi11Server
SERVERS: dict[str, Callable[[Script], Server]] = {
    "tcp": LineServer,
    "hislip": HislipServer,
    "serial": PtyServer,
    "vxi11": Vxi11Server,
}


@dataclass
class Bench:
    """A served instrument and a link to it."""

    server: Server
    link: Link


def serving(kind: str) -> Iterator[Callable[[Script], Bench]]:
    if kind == "serial" and os.name == "nt":
        pytest.skip("there are no pseudo-terminals on Windows")
    made: list[Bench] = []

    def make(script: Script = answering) -> Bench:
        server = SERVERS[kind](script)
        bench = Bench(server, link_for(server.address))
        made.append(bench)
        bench.link.open(host_seconds() + LONG_S)
        return bench

    yield make
    for each in made:
        each.link.close()
        each.server.stop()


@pytest.fixture(params=["tcp", "hislip", "serial", "vxi11"])
def bench(request: pytest.FixtureRequest) -> Iterator[Callable[[Script], Bench]]:
    yield from serving(request.param)


@pytest.fixture(params=["tcp", "hislip", "serial"])
def abortable_bench(request: pytest.FixtureRequest) -> Iterator[Callable[[Script], Bench]]:
    """Without VXI-11, whose calls end by their own limit (`VisaLink.stop_bound_s`)."""
    yield from serving(request.param)


@pytest.fixture(params=["tcp", "hislip"])
def network_bench(request: pytest.FixtureRequest) -> Iterator[Callable[[Script], Bench]]:
    yield from serving(request.param)


def ask(link: Link, line: bytes = b"READ?", within_s: float = LONG_S) -> bytes:
    return link.query(line, host_seconds() + within_s).raw


def test_an_answer_is_the_line_without_its_ending(bench: Callable[..., Bench]) -> None:
    link = bench().link

    assert ask(link, b"*IDN?") == IDENTITY
    assert ask(link) == b"+2.00000000E-03"
    assert not link.dirty


def test_the_times_of_sending_and_receiving_enclose_the_exchange(bench: Callable[..., Bench]) -> None:
    link = bench().link
    before = host_seconds()
    reply = link.query(b"READ?", before + LONG_S)

    assert before <= reply.sent <= reply.received <= host_seconds()


def test_a_line_without_answer_can_be_written(bench: Callable[..., Bench]) -> None:
    made = bench()
    made.link.write(b"*CLS", host_seconds() + LONG_S)

    assert ask(made.link, b"*IDN?") == IDENTITY
    assert made.server.lines == [b"*CLS", b"*IDN?"]


def silent_once(number: int, line: bytes, conversation: Conversation) -> bytes | None:
    return None if number == 1 else answering(number, line, conversation)


def test_a_missed_deadline_makes_the_link_dirty(bench: Callable[..., Bench]) -> None:
    link = bench(silent_once).link
    started = host_seconds()
    with pytest.raises(LinkTimedOut) as problem:
        ask(link, within_s=SHORT_S)

    assert SHORT_S <= host_seconds() - started < SHORT_S + 0.5
    assert link.dirty
    assert str(problem.value).startswith(link.address)


def test_a_dirty_link_refuses_to_be_asked(bench: Callable[..., Bench]) -> None:
    made = bench(silent_once)
    with pytest.raises(LinkTimedOut):
        ask(made.link, within_s=SHORT_S)
    asked = len(made.server.lines)

    with pytest.raises(LinkGarbled):
        ask(made.link)
    assert len(made.server.lines) == asked


def test_resynchronising_makes_it_clean_again(bench: Callable[..., Bench]) -> None:
    link = bench(silent_once).link
    with pytest.raises(LinkTimedOut):
        ask(link, within_s=SHORT_S)
    link.resync(b"*IDN?", IDENTITY, host_seconds() + LONG_S)

    assert not link.dirty
    assert ask(link) == b"+3.00000000E-03"


def late_answers() -> Script:
    """The first answer comes only when the second question has arrived, in front of its answer."""
    held: list[bytes] = []

    def script(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        answer = answering(number, line, conversation)
        if number == 1:
            assert answer is not None
            held.append(conversation.frame(answer))
            return None
        if held:
            conversation.send(held.pop())
        return answer

    return script


def test_a_late_answer_is_never_taken_for_the_next_one(bench: Callable[..., Bench]) -> None:
    link = bench(late_answers()).link
    with pytest.raises(LinkTimedOut):
        ask(link, within_s=SHORT_S)
    link.resync(b"*IDN?", IDENTITY, host_seconds() + LONG_S)

    assert ask(link) == b"+3.00000000E-03"


def test_a_caller_who_cannot_parse_makes_it_dirty(bench: Callable[..., Bench]) -> None:
    link = bench().link
    ask(link)
    link.mark_dirty()

    with pytest.raises(LinkGarbled):
        ask(link)


def closing_second(number: int, line: bytes, conversation: Conversation) -> bytes | None:
    if number == 2:
        conversation.finish()
        return None
    return answering(number, line, conversation)


def test_a_closed_connection_is_seen_at_once(network_bench: Callable[..., Bench]) -> None:
    link = network_bench(closing_second).link
    ask(link)
    started = host_seconds()

    with pytest.raises(LinkLost):
        ask(link)
    assert host_seconds() - started < LONG_S / 4.0


def test_opening_again_heals_a_lost_link(network_bench: Callable[..., Bench]) -> None:
    made = network_bench(closing_second)
    ask(made.link)
    with pytest.raises(LinkLost):
        ask(made.link)
    made.link.open(host_seconds() + LONG_S)

    assert not made.link.dirty
    assert ask(made.link) == b"+1.00000000E-03"


def test_two_lines_to_one_question_are_not_believed(bench: Callable[..., Bench]) -> None:
    """At once, or where the second is a message of its own, at the next question."""

    def doubled(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        first = b"%+.8E" % (number / 1000.0)
        conversation.send(conversation.frame(first) + conversation.frame(b"+9.0E-02"))
        return None

    link = bench(doubled).link
    try:
        answers = [ask(link), ask(link)]
    except LinkGarbled:
        assert link.dirty
    else:
        assert answers == [
            b"+1.00000000E-03",
            b"+2.00000000E-03",
        ]  # numbered, so the surplus is dropped


def test_another_thread_can_end_a_wait(abortable_bench: Callable[..., Bench]) -> None:
    asked = threading.Event()

    def silent(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        asked.set()
        return None

    link = abortable_bench(silent).link

    def abort() -> None:
        asked.wait(LONG_S)
        link.abort()

    other = threading.Thread(target=abort)
    other.start()
    started = host_seconds()
    with pytest.raises(LinkAborted):
        ask(link)
    other.join()

    assert host_seconds() - started < LONG_S / 4.0


def test_an_abort_between_calls_ends_the_next_one(bench: Callable[..., Bench]) -> None:
    link = bench().link
    link.abort()

    with pytest.raises(LinkAborted):
        ask(link)


def test_nobody_listening_is_refused_with_the_address(network_bench: Callable[..., Bench]) -> None:
    made = network_bench()
    made.link.close()
    made.server.stop()

    with pytest.raises(LinkRefused, match=r"^TCPIP::"):
        made.link.open(host_seconds() + LONG_S)


def test_a_link_that_is_not_open_is_lost(bench: Callable[..., Bench]) -> None:
    link = bench().link
    link.close()

    with pytest.raises(LinkLost):
        ask(link)
    link.close()


# --- blocks of data (IEEE 488.2, 8.7.9) -------------------------------------------------------------------

DATA = bytes(range(256)) * 40 + b"\r\n\n#15"  # whatever a byte can be, ends of line and other blocks included
BLOCK = b"#6%06d" % len(DATA) + DATA


def ask_block(link: Link, most: int = 1 << 20, within_s: float = LONG_S) -> bytes:
    return link.query_block(b"CURV?", host_seconds() + within_s, most).raw


def blocks(first: bytes) -> Script:
    """Answers the first question with bytes of its own, everything after it in health."""

    def script(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        return first if number == 1 else answering(number, line, conversation)

    return script


def test_a_block_is_read_to_its_stated_length_whatever_its_bytes(bench: Callable[..., Bench]) -> None:
    link = bench(blocks(BLOCK)).link

    assert ask_block(link) == DATA
    assert not link.dirty
    assert ask(link) == b"+2.00000000E-03"


@pytest.mark.parametrize("block", [b"#10", b"#210" + b"\n" * 10], ids=["empty", "ends of line only"])
def test_a_block_may_be_empty_or_hold_blanks(network_bench: Callable[..., Bench], block: bytes) -> None:
    link = network_bench(blocks(block)).link

    assert ask_block(link) == block[3 if block == b"#10" else 4 :]
    assert not link.dirty


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (b"+1.0E-03", "no block of data came but a line"),
        (b"#0abc", "without its length"),
        (b"#x12", "length is garbled"),
        (b"#41x00abc", "length is garbled"),
        (b"#9999999999", "999999999 bytes was announced"),
        (b"#14abcd+1.0", "behind the block"),
    ],
)
def test_what_is_no_block_is_garbled_and_leaves_the_link_dirty(
    network_bench: Callable[..., Bench], answer: bytes, words: str
) -> None:
    link = network_bench(blocks(answer)).link
    with pytest.raises((LinkGarbled, LinkTimedOut), match=words):
        ask_block(link, within_s=0.2)

    assert link.dirty


def test_a_block_longer_than_it_may_be_is_refused_at_its_announcement(bench: Callable[..., Bench]) -> None:
    link = bench(blocks(BLOCK)).link
    with pytest.raises(LinkGarbled, match=r"announced where at most 1000|without an end"):
        ask_block(link, most=1000)
    assert link.dirty


def test_a_block_that_is_cut_short_is_no_block(bench: Callable[..., Bench]) -> None:
    """A line link waits for the rest until its deadline; a message that has ended says so at once."""
    link = bench(blocks(BLOCK[:-300])).link
    with pytest.raises((LinkTimedOut, LinkGarbled), match=r"came"):
        ask_block(link, within_s=0.2)
    assert link.dirty

    with pytest.raises(LinkGarbled):
        ask_block(link)


def test_after_a_broken_block_the_link_finds_its_place_again(bench: Callable[..., Bench]) -> None:
    link = bench(blocks(BLOCK[:-300])).link
    with pytest.raises((LinkTimedOut, LinkGarbled)):
        ask_block(link, within_s=0.2)
    link.resync(b"*IDN?", IDENTITY, host_seconds() + LONG_S)

    assert ask(link) == b"+3.00000000E-03"


def test_another_thread_can_end_the_wait_for_a_block(abortable_bench: Callable[..., Bench]) -> None:
    asked = threading.Event()

    def silent(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        asked.set()
        return None

    link = abortable_bench(silent).link
    other = threading.Thread(target=lambda: (asked.wait(LONG_S), link.abort()))
    other.start()
    with pytest.raises(LinkAborted):
        ask_block(link)
    other.join()
