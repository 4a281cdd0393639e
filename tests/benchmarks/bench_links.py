"""What a question costs: a bare socket, our own TCP link, and PyVISA-py's `query()`, interleaved.

One blocking server in a process of its own answers all of them, so only ratios within the run mean much.
Wanted: our own link at most 3 times the bare socket; a line written and a question after it at most 5 ms
(together they cost 44 ms where the socket waits for a delayed acknowledgement).
"""

from __future__ import annotations

import random
import socket
import statistics
import subprocess
import sys
from collections.abc import Callable
from typing import Any

from drivers.clock import host_seconds
from drivers.links.tcp import TcpLink
from drivers.links.visa import shared_manager

ROUNDS = 40
QUESTIONS = 250
_ANSWER = b"+1.23456789E-02\n"

_SERVER = """
import socket, threading
listener = socket.create_server(("127.0.0.1", 0))
print(listener.getsockname()[1], flush=True)
def serve(connection):
    connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    rest = b""
    while chunk := connection.recv(4096):
        *lines, rest = (rest + chunk).split(b"\\n")
        for line in lines:
            if line.strip().endswith(b"?"):
                connection.sendall(b"+1.23456789E-02\\n")
while True:
    threading.Thread(target=serve, args=(listener.accept()[0],), daemon=True).start()
"""


def run(seed: int) -> dict[str, Any]:
    """Microseconds a question for each way, and the ratios with their spread."""
    server = subprocess.Popen([sys.executable, "-c", _SERVER], stdout=subprocess.PIPE, text=True)
    try:
        assert server.stdout is not None
        port = int(server.stdout.readline())
        return _measure(port, random.Random(seed))
    finally:
        server.kill()
        server.wait()
        if server.stdout is not None:
            server.stdout.close()


def _measure(port: int, order: random.Random) -> dict[str, Any]:
    bare = socket.create_connection(("127.0.0.1", port))
    bare.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    own = TcpLink("127.0.0.1", port)
    own.open(host_seconds() + 2.0)
    visa = shared_manager().open_resource(
        f"TCPIP::127.0.0.1::{port}::SOCKET", open_timeout=2000, read_termination="\n", write_termination="\n"
    )

    def bare_socket() -> None:
        bare.sendall(b"READ?\n")
        assert bare.recv(64) == _ANSWER

    def own_link() -> None:
        own.query(b"READ?", host_seconds() + 2.0)

    def pyvisa_py() -> None:
        visa.query("READ?")  # type: ignore[attr-defined]

    ways: dict[str, Callable[[], None]] = {
        "bare socket": bare_socket,
        "own link": own_link,
        "pyvisa-py": pyvisa_py,
    }
    taken: dict[str, list[float]] = {name: [] for name in ways}
    for round_number in range(ROUNDS + 2):
        names = list(ways)
        order.shuffle(names)
        for name in names:
            started = host_seconds()
            for _ in range(QUESTIONS):
                ways[name]()
            if round_number >= 2:  # the first two warm up
                taken[name].append((host_seconds() - started) / QUESTIONS * 1e6)
    together = []
    for _ in range(20):
        started = host_seconds()
        own.write(b"TRIG:SOUR IMM", started + 2.0)
        own.query(b"READ?", started + 2.0)
        together.append((host_seconds() - started) * 1e3)
    bare.close()
    own.close()
    visa.close()
    return _figures(taken, together)


def _figures(taken: dict[str, list[float]], together: list[float]) -> dict[str, Any]:
    def ratios(name: str, to: str) -> list[float]:
        return sorted(a / b for a, b in zip(taken[name], taken[to], strict=True))

    own, visa = ratios("own link", "bare socket"), ratios("pyvisa-py", "bare socket")
    return {
        "microseconds a question (median)": {
            name: round(statistics.median(times), 1) for name, times in taken.items()
        },
        "own link to bare socket": {
            "median": round(statistics.median(own), 2),
            "tenth": round(own[len(own) // 10], 2),
            "ninetieth": round(own[-1 - len(own) // 10], 2),
            "wanted": "at most 3",
            "met": statistics.median(own) <= 3.0,
        },
        "pyvisa-py to bare socket": {"median": round(statistics.median(visa), 2)},
        "line and question, ms": {
            "median": round(statistics.median(together), 3),
            "worst": round(max(together), 3),
            "wanted": "at most 5",
            "met": statistics.median(together) <= 5.0,
        },
    }
