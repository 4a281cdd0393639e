"""The whole simulated bench ready to be measured on: an amplifier, multimeters on it, and ways to reach them.

Here: how the parts are put together and ended. Not here: the parts. In life or scaled time the meters are
served over real sockets on this computer; in stepped time they are reached inside the process.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import StrEnum
from pathlib import Path
from types import TracebackType

from drivers.clock import Clock, SteppedClock
from drivers.links import Link
from drivers.simulated.bench import TEST_POINTS, SimulatedBench
from drivers.simulated.faults import ConnectionFaults, FaultScript
from drivers.simulated.hislip_server import HislipServer
from drivers.simulated.in_process import InProcessLink
from drivers.simulated.instrument import Multimeter
from drivers.simulated.multimeter import MODELS, MultimeterInput, Surroundings
from drivers.simulated.tcp_server import TcpServer
from drivers.simulated.units import SimulatedUnit, load_unit


class Manner(StrEnum):
    """How the meters are reached."""

    HISLIP = "HiSLIP"
    TCP = "line over TCP"
    IN_PROCESS = "in process"


class Laboratory:
    """A simulated bench with its meters. Start it before use, stop it afterwards; or use it in `with`.

    Args:
        unit: the amplifier, or the name or path of its file.
        clock: bench time for everything.
        seed: decides every chance event.
        manner: how the meters are reached. A stepped clock needs IN_PROCESS.
        meters: names of the meters; the first has its probes on the left bias test points, the second on the
            right.
        model: which multimeter they are, a key of `MODELS`.
        surroundings: what the leads pick up.
        scripts, connection_faults: misbehaviour of a meter's connection, by the meter's name.

    Raises:
        UnitRefused: the unit's file cannot be used.
        ValueError: a stepped clock with sockets, no meter, or more meters than test points.
    """

    def __init__(
        self,
        unit: SimulatedUnit | str | Path,
        clock: Clock,
        *,
        seed: int = 0,
        manner: Manner = Manner.HISLIP,
        meters: Sequence[str] = ("left", "right"),
        model: str = "6120",
        surroundings: Surroundings | None = None,
        scripts: Mapping[str, FaultScript] | None = None,
        connection_faults: Mapping[str, ConnectionFaults] | None = None,
    ) -> None:
        if isinstance(clock, SteppedClock) and manner is not Manner.IN_PROCESS:
            raise ValueError("in stepped time the meters can only be reached in process")
        if not 1 <= len(meters) <= len(TEST_POINTS) or len(set(meters)) != len(meters):
            raise ValueError(f"one to {len(TEST_POINTS)} meters of different names can be on the bench")
        self.manner = manner
        self.bench = SimulatedBench(unit if isinstance(unit, SimulatedUnit) else load_unit(unit), clock, seed)
        self.instruments: dict[str, Multimeter] = {}
        self._scripts = dict(scripts or {})
        self._servers: dict[str, HislipServer | TcpServer] = {}
        self._links: dict[str, InProcessLink] = {}
        for number, name in enumerate(meters):
            self.bench.move_probes(name, TEST_POINTS[number])
            seen = MultimeterInput(self.bench, name, MODELS[model], surroundings)
            instrument = Multimeter(seen, clock, serial=f"FW{seed % 1000:03d}{number + 1:03d}")
            self.instruments[name] = instrument
            if manner is Manner.IN_PROCESS:
                self._links[name] = InProcessLink(instrument, f"simulated:{name}", self._scripts.get(name))
                continue
            kind = HislipServer if manner is Manner.HISLIP else TcpServer
            self._servers[name] = kind(
                instrument,
                clock,
                name=f"simulated {name}",
                script=self._scripts.get(name),
                connection_faults=(connection_faults or {}).get(name),
            )

    def start(self) -> None:
        """Begin to listen, where there are sockets. Raises OSError if the computer gives no port."""
        try:
            for server in self._servers.values():
                server.start()
        except OSError:
            self.stop()
            raise

    def stop(self, timeout_s: float = 5.0) -> bool:
        """End every server; True when all have ended within `timeout_s` each."""
        ended = [server.stop(timeout_s) for server in self._servers.values()]
        return all(ended)

    def __enter__(self) -> Laboratory:
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    @property
    def addresses(self) -> dict[str, str]:
        """Address of each meter by its name; of served meters only after `start`."""
        if self._links:
            return {name: link.address for name, link in self._links.items()}
        return {name: server.address for name, server in self._servers.items()}

    def link(self, meter: str) -> Link:
        """A link to a meter, not yet open; over sockets it is one like any other to its address."""
        if meter in self._links:
            return self._links[meter]
        from drivers.addresses import link_for

        return link_for(self.addresses[meter])

    def server(self, meter: str) -> HislipServer | TcpServer:
        """The server of a meter, for tests that stop or disturb it. Raises KeyError in process."""
        return self._servers[meter]
