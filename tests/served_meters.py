"""A simulated meter that can be reached over the loopback at life speed, for tests of real addresses."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from drivers.clock import LifeClock
from drivers.simulated.bench import Mains, SimulatedBench
from drivers.simulated.hislip_server import HislipServer
from drivers.simulated.instrument import Multimeter
from drivers.simulated.multimeter import MODELS, MultimeterInput
from drivers.simulated.units import load_unit


@contextmanager
def served_meter() -> Iterator[str]:
    """A meter on the left bias of a unit that is on; its address."""
    clock = LifeClock()
    bench = SimulatedBench(load_unit("right_as_found"), clock, seed=1)
    bench.switch_mains(Mains.FULL)
    bench.move_probes("meter", "left bias")
    instrument = Multimeter(MultimeterInput(bench, "meter", MODELS["6120"]), clock)
    with HislipServer(instrument, clock) as server:
        assert isinstance(server, HislipServer)
        yield server.address
