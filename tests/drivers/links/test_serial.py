"""What the serial link promises beyond the contract: port settings, banners, echo, prompts, unplugging."""

from __future__ import annotations

import contextlib
import errno
import os
import threading
from collections.abc import Callable, Iterator

import pytest
import serial
from loopback_servers import IDENTITY, Conversation, PtyServer, Script, answering

from drivers.addresses import link_for, parse_address
from drivers.clock import host_seconds
from drivers.errors import AddressError, LinkGarbled, LinkLost, LinkRefused, LinkTimedOut
from drivers.links.line import Manners
from drivers.links.serial import SerialFormat, SerialLink, serial_format

pytestmark = pytest.mark.skipif(os.name == "nt", reason="there are no pseudo-terminals on Windows")

SHORT_S = 0.04
LONG_S = 2.0
Serve = Callable[..., tuple[PtyServer, SerialLink]]


@pytest.fixture
def serve() -> Iterator[Serve]:
    made: list[tuple[PtyServer, SerialLink]] = []

    def make(
        script: Script = answering, manners: Manners | None = None, *, opened: bool = True
    ) -> tuple[PtyServer, SerialLink]:
        server = PtyServer(script)
        link = SerialLink(server.name, form=SerialFormat(manners=manners or Manners()))
        made.append((server, link))
        if opened:
            link.open(host_seconds() + LONG_S)
        return server, link

    yield make
    for server, link in made:
        link.close()
        server.stop()


def ask(link: SerialLink, line: bytes = b"READ?", within_s: float = LONG_S) -> bytes:
    return link.query(line, host_seconds() + within_s).raw


def test_the_words_behind_an_address_set_the_port() -> None:
    form = serial_format("19200 7E2 DSRDTR crlf echo rts-off")

    assert (form.baud, form.bits, form.parity, form.stop) == (19200, 7, "E", 2)
    assert (form.flow, form.dtr, form.rts) == ("dsrdtr", True, False)
    assert (form.manners.ending, form.manners.echo) == (b"\r\n", True)


def test_manners_are_set_behind_an_address_too() -> None:
    form = serial_format("9600 prompt==> prompt=> failure=?> failure=!> gap=0.05 ctrl-c")

    assert form.manners == Manners(
        prompts=(b"=>", b">"), failure_prompts=(b"?>", b"!>"), gap_s=0.05, clear=b"\x03"
    )


@pytest.mark.parametrize("words", ["prompt=", "failure", "gap=", "gap=soon", "gap=-1", "gap=60"])
def test_half_a_word_about_manners_is_refused(words: str) -> None:
    with pytest.raises(AddressError, match=r"equals sign|number of seconds"):
        serial_format(words)


@pytest.mark.parametrize("words", ["fast", "8X1", "9600 8N3", "12"])
def test_other_words_are_refused_with_those_that_exist(words: str) -> None:
    with pytest.raises(AddressError, match="says nothing about a serial port"):
        parse_address(f"ASRL3::INSTR {words}")


def test_words_behind_another_address_are_refused() -> None:
    with pytest.raises(AddressError, match="serial address only"):
        parse_address("TCPIP::127.0.0.1::5025::SOCKET 9600")


def test_a_serial_address_gets_its_link() -> None:
    link = link_for("asrl/dev/ttyS99::instr 9600")

    assert isinstance(link, SerialLink)
    assert link.address == "ASRL/dev/ttyS99::INSTR 9600"


def test_control_lines_are_set_before_opening(monkeypatch: pytest.MonkeyPatch) -> None:
    """Opening with the wrong levels resets some meters."""
    seen: list[tuple[bool, bool, float]] = []

    def opening(port: serial.Serial) -> None:
        seen.append((port.dtr, port.rts, port.stopbits))
        raise OSError(errno.ENOENT, "no such port")

    monkeypatch.setattr(serial.Serial, "open", opening)
    with pytest.raises(LinkRefused):
        SerialLink("X", form=serial_format("dtr-off rts-off 8N2")).open(host_seconds() + LONG_S)

    assert seen == [(False, False, 2)]


@pytest.mark.parametrize(
    ("problem", "words"),
    [
        (serial.SerialException(errno.EACCES, "Permission denied"), "dialout"),
        (serial.SerialException(errno.ENOENT, "No such file"), "there is no port"),
        (serial.SerialException(errno.EBUSY, "busy"), "another program holds"),
        (ValueError("odd"), "cannot be opened"),
    ],
)
def test_a_refused_port_says_what_to_do(
    monkeypatch: pytest.MonkeyPatch, problem: Exception, words: str
) -> None:
    def opening(port: serial.Serial) -> None:
        raise problem

    monkeypatch.setattr(serial.Serial, "open", opening)
    with pytest.raises(LinkRefused, match=words):
        SerialLink("/dev/ttyUSB9").open(host_seconds() + LONG_S)


def test_a_port_is_for_one_program_only(serve: Serve) -> None:
    server, _ = serve()
    with pytest.raises(LinkRefused, match="another program"):
        SerialLink(server.name).open(host_seconds() + LONG_S)


def test_what_a_board_says_at_start_is_no_answer(serve: Serve) -> None:
    server, link = serve(opened=False)
    link.open(host_seconds() + LONG_S)
    link.close()
    server.say(b"LOGGER 1.0\nready\n")
    link.open(host_seconds() + LONG_S)

    assert ask(link, b"*IDN?") == IDENTITY


def test_a_port_that_never_falls_silent_is_not_a_meter(serve: Serve) -> None:
    def talking(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        for _ in range(40):
            conversation.send(b"1.0\n")
            wait.wait(0.005)
        return None

    wait = threading.Event()
    _, link = serve(talking)
    link.write(b"GO", host_seconds() + LONG_S)
    with pytest.raises(LinkTimedOut, match="fall silent"):
        link.open(host_seconds() + SHORT_S)


def test_an_echo_is_taken_for_what_it_is(serve: Serve) -> None:
    def echoing(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        conversation.send(line + b"\r\n")
        return answering(number, line, conversation)

    _, link = serve(echoing, Manners(echo=True))
    assert ask(link, b"*IDN?") == IDENTITY
    link.write(b"*CLS", host_seconds() + LONG_S)

    assert ask(link) == b"+3.00000000E-03"


def test_an_echo_that_came_back_changed_is_garbled(serve: Serve) -> None:
    def mumbling(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        conversation.send(line[1:] + b"\r\n")
        return answering(number, line, conversation)

    _, link = serve(mumbling, Manners(echo=True))
    with pytest.raises(LinkGarbled, match="echo"):
        ask(link)


PROMPTING = Manners(prompts=(b"=> ",), failure_prompts=(b"?> ",))


def prompting(number: int, line: bytes, conversation: Conversation) -> bytes | None:
    answer = answering(number, line, conversation)
    if line == b"BAD?":
        conversation.send(b"?> ")
        return None
    conversation.send((answer + b"\r\n" if answer is not None else b"") + b"=> ")
    return None


def test_prompts_acknowledge_and_are_no_answers(serve: Serve) -> None:
    _, link = serve(prompting, PROMPTING)
    link.write(b"*CLS", host_seconds() + LONG_S)

    assert ask(link, b"*IDN?") == IDENTITY
    assert ask(link) == b"+3.00000000E-03"


def test_a_failure_prompt_ends_the_wait(serve: Serve) -> None:
    _, link = serve(prompting, PROMPTING)
    assert ask(link, b"*IDN?") == IDENTITY
    started = host_seconds()
    with pytest.raises(LinkGarbled, match="did not understand"):
        ask(link, b"BAD?")
    assert host_seconds() - started < LONG_S / 4.0
    link.resync(b"*IDN?", IDENTITY, host_seconds() + LONG_S)

    assert ask(link) == b"+4.00000000E-03"


def test_an_unplugged_port_is_lost(serve: Serve) -> None:
    server, link = serve()
    ask(link)
    server.unplug()
    with pytest.raises(LinkLost):
        ask(link)
    with pytest.raises(LinkRefused, match=r"there is no port|cannot be opened|another program"):
        link.open(host_seconds() + LONG_S)


@pytest.mark.parametrize("clear", [b"", b"\x03"], ids=["without", "with Ctrl+C"])
def test_ctrl_c_frees_a_meter_that_is_busy(serve: Serve, clear: bytes) -> None:
    """It takes no line until it is told to drop what it is doing; that goes out before its name is asked."""
    busy = [False]

    def scanning(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        busy[0] = (busy[0] or line == b"READ?") and not line.startswith(b"\x03")
        return None if busy[0] else answering(number, line.lstrip(b"\x03"), conversation)

    _, link = serve(scanning, Manners(clear=clear))
    with pytest.raises(LinkTimedOut):
        ask(link, within_s=SHORT_S)
    if not clear:
        with pytest.raises(LinkTimedOut):
            link.resync(b"*IDN?", IDENTITY, host_seconds() + SHORT_S)
        return
    link.resync(b"*IDN?", IDENTITY, host_seconds() + LONG_S)

    assert ask(link, b"*IDN?") == IDENTITY


def test_nothing_is_sent_twice_to_a_meter_that_is_slow_to_take_it() -> None:
    """Where the port is full, what had left already is not sent once more."""
    import pty  # there is none on Windows
    import tty

    master, slave = pty.openpty()
    try:
        tty.setraw(master)
        tty.setraw(slave)
        link = SerialLink(os.ttyname(slave), talks=True)
        link.open(host_seconds() + LONG_S)
        sent = b""
        with contextlib.suppress(LinkTimedOut):
            for number in range(100_000):
                line = b"%06d;" % number * 9
                sent += line + b"\n"
                link.write(line, host_seconds() + 0.2)  # several slices: the last write is tried again
        link.close()
        os.set_blocking(master, False)
        taken = b""
        with contextlib.suppress(BlockingIOError):
            while chunk := os.read(master, 65_536):
                taken += chunk
    finally:
        os.close(master)
        os.close(slave)

    assert len(taken) > 1000
    assert sent.startswith(taken)
