"""USBTMC instruments through PyVISA-py's own USB code, on a bus in memory."""

from __future__ import annotations

import errno
import importlib
from collections.abc import Callable, Iterator
from typing import Any

import pytest

pytest.importorskip("usb", reason="PyUSB is not installed")

import usb.backend.libusb1
from fake_usb import ADDRESS, FakeBackend, UsbInstrument
from loopback_servers import IDENTITY, Conversation, Script, answering
from scripted_faults import FAULTS, FaultyInstrument

from drivers.addresses import link_for
from drivers.clock import host_seconds
from drivers.discovery import usb_instruments
from drivers.errors import LinkError, LinkGarbled, LinkLost, LinkRefused, LinkTimedOut
from drivers.links import Link

SHORT_S = 0.04
LONG_S = 2.0
Plug = Callable[..., tuple[UsbInstrument, Link]]


@pytest.fixture
def plug(monkeypatch: pytest.MonkeyPatch) -> Iterator[Plug]:
    made: list[tuple[UsbInstrument, Link]] = []
    present: list[FakeBackend] = []
    monkeypatch.setattr(usb.backend.libusb1, "get_backend", lambda *_, **__: present[-1] if present else None)

    def make(
        script: Script = answering, *, padding: int = 0, opened: bool = True
    ) -> tuple[UsbInstrument, Link]:
        instrument = UsbInstrument(script, padding=padding)
        present.append(FakeBackend(instrument))
        register()
        link = link_for(ADDRESS)
        made.append((instrument, link))
        if opened:
            link.open(host_seconds() + LONG_S)
        return instrument, link

    yield make
    for instrument, link in made:
        link.close()
        instrument.stop()


def register() -> None:
    """PyVISA-py decides at its import whether there is USB; now there is."""
    from pyvisa import constants
    from pyvisa_py import sessions

    for kind in ("INSTR", "RAW"):
        sessions.Session._session_classes.pop((constants.InterfaceType.usb, kind), None)
    module: Any = importlib.import_module("pyvisa_py.usb")
    importlib.reload(module)


def ask(link: Link, line: bytes = b"READ?", within_s: float = LONG_S) -> bytes:
    return link.query(line, host_seconds() + within_s).raw


@pytest.mark.parametrize("padding", range(4))
def test_alignment_bytes_are_no_part_of_an_answer(plug: Plug, padding: int) -> None:
    _, link = plug(padding=padding)

    assert [ask(link, b"*IDN?"), ask(link)] == [IDENTITY, b"+2.00000000E-03"]


def test_silence_is_a_time_out_and_the_next_value_is_right(plug: Plug) -> None:
    def silent_once(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        return None if number == 2 else answering(number, line, conversation)

    _, link = plug(silent_once)
    ask(link, b"*IDN?")
    with pytest.raises(LinkTimedOut):
        ask(link, within_s=SHORT_S)
    assert link.dirty
    link.resync(b"*IDN?", IDENTITY, host_seconds() + LONG_S)

    assert ask(link) == b"+4.00000000E-03"


def test_a_late_answer_is_never_the_next_one(plug: Plug) -> None:
    held: list[bytes] = []

    def late(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        while held:
            conversation.send(held.pop())
        answer = answering(number, line, conversation)
        if number == 2 and answer is not None:
            held.append(conversation.frame(answer))
            return None
        return answer

    _, link = plug(late)
    ask(link, b"*IDN?")
    with pytest.raises(LinkTimedOut):
        ask(link, within_s=SHORT_S)
    link.resync(b"*IDN?", IDENTITY, host_seconds() + LONG_S)

    assert ask(link) == b"+4.00000000E-03"


def test_unplugging_is_a_loss_and_plugging_in_again_heals(plug: Plug) -> None:
    instrument, link = plug()
    ask(link, b"*IDN?")
    instrument.plugged = False
    with pytest.raises(LinkLost):
        ask(link)
    with pytest.raises(LinkRefused, match="no such instrument on USB"):
        link.open(host_seconds() + LONG_S)
    instrument.plugged = True
    link.open(host_seconds() + LONG_S)

    assert ask(link, b"*IDN?") == IDENTITY


def test_a_stalled_endpoint_is_a_loss(plug: Plug) -> None:
    instrument, link = plug()
    instrument.first_error = errno.EPIPE
    with pytest.raises(LinkLost):
        ask(link)
    link.open(host_seconds() + LONG_S)

    assert ask(link, b"*IDN?") == IDENTITY


def test_an_empty_answer_is_no_value(plug: Plug) -> None:
    _, link = plug(lambda number, line, conversation: b"")
    assert ask(link) == b""  # and the parser refuses it


def test_listing_opens_nothing_for_good(plug: Plug) -> None:
    instrument, _ = plug(opened=False)
    found = list(usb_instruments())

    assert [each.address for each in found] == ["USB::0x1234::0x5678::SN0001::INSTR"]
    assert instrument.log == []


def test_without_usb_support_the_cure_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    from pyvisa import constants
    from pyvisa_py import sessions

    monkeypatch.setattr(sessions.Session, "_session_classes", dict(sessions.Session._session_classes))
    sessions.Session.register_unavailable(
        constants.InterfaceType.usb, "INSTR", "Please install PyUSB to use this resource type."
    )
    with pytest.raises(LinkRefused, match="lacks what it takes"):
        link_for(ADDRESS).open(host_seconds() + LONG_S)


def test_every_accepted_value_belongs_to_its_question(plug: Plug) -> None:
    """As `tests/drivers/test_ownership.py`, by hand: questions, and the worker's rules after an error."""
    unfit = {"ended", "ended_half_way", "reset", "switched_off_and_on", "twice", "twice_later", "older_first",
             "talking_on", "prompted", "echoed", "banner"}  # fmt: skip
    faults = {name: each for name, each in FAULTS.items() if name not in unfit}
    instrument = FaultyInstrument(1, patience_s=0.025, faults=faults)
    _, link = plug(instrument.script)
    ask(link, b"*IDN?")
    from drivers.errors import ReplyRefused
    from drivers.scpi.reply import NumberShape, parse_reply

    accepted = wrong = 0
    for _ in range(2000):
        try:
            reply = link.query(b"READ?", host_seconds() + 0.025)
            value = parse_reply(reply.raw, shape=NumberShape.SIGNED_EXPONENT).value
        except (LinkTimedOut, LinkGarbled, ReplyRefused):
            link.mark_dirty()
            _clean(link)
            continue
        if value is not None:
            accepted += 1
            wrong += not reply.sent <= instrument.measured[value] <= reply.received
    instrument.stopped.set()

    assert wrong == 0
    assert accepted > 1500


def _clean(link: Link) -> None:
    for _ in range(3):
        try:
            link.resync(b"*IDN?", IDENTITY, host_seconds() + 0.2)
        except LinkError:
            continue
        return
    link.open(host_seconds() + LONG_S)
