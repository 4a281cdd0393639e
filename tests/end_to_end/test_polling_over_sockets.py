"""A worker polls a SCPI meter over real sockets: TCP by our own link, HiSLIP by PyVISA and PyVISA-py."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator

import pytest
from fake_instrument import IDENTITY, FakeInstrument
from loopback_servers import Conversation, HislipServer, LineServer

from drivers.addresses import link_for
from drivers.clock import LifeClock, host_seconds
from drivers.meter import MeterSetup
from drivers.reading import Gap, MeterState, MeterStatus, Reading
from drivers.scpi.meter import ScpiMeter
from drivers.worker import Fact, Worker, WorkerCore


class Inbox:
    """What a worker posts, and a way to wait for it."""

    def __init__(self) -> None:
        self.facts: list[Fact] = []
        self._tick = threading.Event()

    def post(self, fact: Fact) -> None:
        self.facts.append(fact)
        self._tick.set()

    def wait_until(self, condition: Callable[[], bool]) -> None:
        give_up = host_seconds() + 10.0
        while not condition():
            assert host_seconds() < give_up, self.facts[-3:]
            self._tick.wait(0.5)
            self._tick.clear()

    def readings(self) -> list[Reading]:
        return [fact for fact in self.facts if isinstance(fact, Reading)]


@pytest.fixture(params=[LineServer, HislipServer])
def served(request: pytest.FixtureRequest) -> Iterator[tuple[FakeInstrument, LineServer | HislipServer]]:
    instrument = FakeInstrument()

    def script(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        if line == b"READ?" and instrument.answers.get("link") == "closed":
            instrument.answers.pop("link")
            conversation.finish()
            return None
        answer = instrument.take(line.decode("ascii"))
        return None if answer is None else answer.encode("ascii")

    server = request.param(script)
    yield instrument, server
    server.stop()


def working(server: LineServer | HislipServer) -> tuple[Worker, Inbox]:
    clock, inbox = LifeClock(), Inbox()
    core = WorkerCore(
        ScpiMeter("m", link_for(server.address), clock),
        clock,
        inbox.post,
        setup=MeterSetup(0.1),
        period_s=0.01,
    )
    worker = Worker(core, clock)
    worker.start()
    return worker, inbox


def test_it_polls_and_stops_at_once(served: tuple[FakeInstrument, LineServer | HislipServer]) -> None:
    instrument, server = served
    worker, inbox = working(server)
    inbox.wait_until(lambda: len(inbox.readings()) >= 10)
    assert worker.stop(1.0)

    assert {reading.value for reading in inbox.readings()} == {0.0135}
    assert not any(isinstance(fact, Gap) for fact in inbox.facts)
    statuses = [fact for fact in inbox.facts if isinstance(fact, MeterStatus)]
    assert statuses[-1].state is MeterState.STOPPED
    assert statuses[-1].identity == IDENTITY
    assert instrument.settings["SAMP:COUN"] == "1"


def test_it_stops_at_once_while_an_answer_is_awaited(
    served: tuple[FakeInstrument, LineServer | HislipServer],
) -> None:
    instrument, server = served
    worker, inbox = working(server)
    inbox.wait_until(lambda: len(inbox.readings()) >= 2)
    instrument.answers["READ?"] = ""  # silence from here on
    asked = len(instrument.lines)
    inbox.wait_until(lambda: len(instrument.lines) > asked + 1 or instrument.lines[-1] == "READ?")
    started = host_seconds()

    assert worker.stop(1.0)
    assert host_seconds() - started < 0.5


def test_it_comes_back_after_the_meter_closed_the_connection(
    served: tuple[FakeInstrument, LineServer | HislipServer],
) -> None:
    instrument, server = served
    worker, inbox = working(server)
    inbox.wait_until(lambda: len(inbox.readings()) >= 3)
    instrument.switch_on()
    instrument.answers["link"] = "closed"
    inbox.wait_until(lambda: any(isinstance(fact, Gap) for fact in inbox.facts))
    before = len(inbox.readings())
    inbox.wait_until(lambda: len(inbox.readings()) >= before + 3)
    assert worker.stop(1.0)

    assert server.opened == 2
    assert instrument.settings["SAMP:COUN"] == "1"
