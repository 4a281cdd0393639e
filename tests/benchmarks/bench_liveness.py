"""Whether one instrument in trouble holds up the others, and how fast each state can be stopped.

Three healthy meters poll every 50 ms over TCP while a fourth is in one fault state after another; lateness is
how long after its slot a reading was asked for. Wanted: 99th percentile at most 5 ms beside our own links,
30 ms beside a library that spins (VXI-11 whose connection was closed). Stopping: at most 100 ms on TCP and
serial ports, whatever the worker is doing.
"""

from __future__ import annotations

import os
import random
import socket
import statistics
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from typing import Any

from fake_instrument import FakeInstrument
from loopback_servers import Conversation, LineServer, PtyServer, Script
from loopback_vxi11 import Vxi11Server

from drivers.addresses import link_for
from drivers.clock import LifeClock, host_seconds
from drivers.meter import MeterSetup
from drivers.reading import MeterState, MeterStatus, Reading
from drivers.scpi.meter import ScpiMeter
from drivers.worker import Fact, Worker, WorkerCore

PERIOD_S = 0.05
WATCHED_S = 3.0
_FAULTS = ("healthy", "silent", "half a line", "closed", "refused", "nobody accepts", "endless")


def run(seed: int) -> dict[str, Any]:
    """Lateness of the healthy meters beside each fault, and the time that stopping takes."""
    order = random.Random(seed)
    faults = list(_FAULTS)
    order.shuffle(faults)
    lateness = {fault: _beside(fault, "tcp") for fault in faults}
    lateness["spinning library"] = _beside("closed", "vxi11")
    kinds = ["tcp"] if os.name == "nt" else ["tcp", "serial"]
    return {
        "lateness of a thread that only waits, ms (99th percentile)": round(_waiting(), 2),
        "lateness beside, ms (99th percentile)": {
            fault: {
                "p99": round(value, 2),
                "wanted": 30 if fault == "spinning library" else 5,
                "met": value <= (30.0 if fault == "spinning library" else 5.0),
            }
            for fault, value in lateness.items()
        },
        "stopping, ms": {
            f"{kind}, {fault}": {"ms": round(value, 1), "wanted": 100, "met": value <= 100.0}
            for kind in kinds
            for fault in faults
            if (value := _stopping(fault, kind)) is not None
        },
    }


def _waiting() -> float:
    """What this computer makes of a wait, for comparison: milliseconds."""
    never = threading.Event()
    late = []
    slot = host_seconds()
    for _ in range(round(WATCHED_S / PERIOD_S)):
        slot += PERIOD_S
        never.wait(max(0.0, slot - host_seconds()))
        late.append(host_seconds() - slot)
    return statistics.quantiles(late, n=100)[98] * 1e3


def _script(instrument: FakeInstrument, fault: str) -> Script:
    """Healthy until it is asked for readings; the first, which sets up, is good."""
    asked = 0

    def script(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        nonlocal asked
        answer = instrument.take(line.decode("ascii"))
        if line == b"READ?":
            asked += 1
            if asked > 3 and fault == "silent":
                return None
            if asked > 3 and fault == "half a line":
                conversation.send(b"+1.2")
                return None
            if asked > 3 and fault == "closed":
                conversation.finish()
                return None
            if asked > 3 and fault == "endless":
                conversation.send(b"7" * 70_000)
                return None
        return None if answer is None else answer.encode("ascii")

    return script


@contextmanager
def _address(fault: str, kind: str) -> Iterator[str]:
    """An instrument in a fault state."""
    if fault in ("refused", "nobody accepts"):
        with socket.socket() as listener:
            listener.bind(("127.0.0.1", 0))
            filling = []
            if fault == "nobody accepts":
                listener.listen(0)
                for _ in range(3):
                    connection = socket.socket()
                    connection.setblocking(False)
                    connection.connect_ex(listener.getsockname())
                    filling.append(connection)
            yield f"TCPIP::127.0.0.1::{listener.getsockname()[1]}::SOCKET"
            for connection in filling:
                connection.close()
        return
    servers: dict[str, Callable[[Script], Any]] = {
        "tcp": LineServer,
        "serial": PtyServer,
        "vxi11": Vxi11Server,
    }
    server = servers[kind](_script(FakeInstrument(), fault))
    yield server.address
    server.stop()


def _worker(address: str, post: Callable[[Fact], None]) -> Worker:
    clock = LifeClock()
    core = WorkerCore(
        ScpiMeter("m", link_for(address), clock), clock, post, setup=MeterSetup(0.1), period_s=PERIOD_S
    )
    return Worker(core, clock)


def _beside(fault: str, kind: str) -> float:
    """99th percentile of lateness of three healthy meters, in milliseconds."""
    late: list[float] = []

    def poster() -> Callable[[Fact], None]:
        slots: list[float] = []

        def post(fact: Fact) -> None:
            if isinstance(fact, MeterStatus) and fact.state is MeterState.POLLING:
                slots[:] = [fact.at_s]  # the schedule begins here
            elif isinstance(fact, Reading):
                # A millisecond of grace, because the state was told just after the schedule began.
                late.append((fact.start_s - slots[0] + 0.001) % PERIOD_S - 0.001)

        return post

    with ExitStack() as stack:
        workers = [_worker(stack.enter_context(_address(fault, kind)), lambda fact: None)]
        workers += [_worker(stack.enter_context(_address("healthy", "tcp")), poster()) for _ in range(3)]
        for worker in workers:
            worker.start()
        threading.Event().wait(WATCHED_S)
        for worker in workers:
            worker.request_stop()
        for worker in workers:
            worker.stop(6.0)
    return statistics.quantiles(late, n=100)[98] * 1e3


def _stopping(fault: str, kind: str) -> float | None:
    """Milliseconds from asking a worker to stop until its thread has ended; the worst of five."""
    if kind == "serial" and fault in ("closed", "refused", "nobody accepts"):
        return None  # a pseudo-terminal has no such states
    worst = 0.0
    for _ in range(5):
        with _address(fault, kind) as address:
            worker = _worker(address, lambda fact: None)
            worker.start()
            give_up = host_seconds() + 1.0
            while host_seconds() < give_up and worker.core.state is not MeterState.POLLING:
                threading.Event().wait(0.01)
            threading.Event().wait(0.3)  # well into the fault
            started = host_seconds()
            worker.stop(5.0)
            worst = max(worst, host_seconds() - started)
    return worst * 1e3
