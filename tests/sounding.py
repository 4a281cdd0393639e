"""Sound outputs made by hand: they play into the test, block by block, when it asks."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from app.bench.sound.devices import Fill, NoSound, OutputDevice
from app.bench.sound.synthesis import Samples

SPEAKERS = OutputDevice(0, "Bench speakers: Analog (hw:0,0)", default=True)
INTERFACE = OutputDevice(3, "Two-channel interface: USB (hw:1,0)")
ROUTED = OutputDevice(5, "default", routed=True)


@dataclass
class Played:
    """An output that is heard by calling `hear`."""

    device: OutputDevice
    fill: Fill
    alive: bool = True
    latency_s: float = 0.01
    closed: bool = False

    def hear(self, seconds: float, block: int = 480) -> Samples:
        assert not self.closed
        count = max(1, round(seconds * self.device.rate / block))
        return np.concatenate([self.fill(block) for _ in range(count)])

    def close(self) -> None:
        self.closed = True
        self.alive = False


@dataclass
class FakeDevices:
    """The outputs that a test says there are."""

    there: tuple[OutputDevice, ...] = (SPEAKERS,)
    trouble: str = ""
    opened: list[Played] = field(default_factory=list)

    def outputs(self) -> tuple[OutputDevice, ...]:
        if self.trouble:
            raise NoSound(self.trouble)
        return self.there

    def open(self, device: OutputDevice, fill: Fill) -> Played:
        self.opened.append(Played(device, fill))
        return self.opened[-1]

    @property
    def now(self) -> Played:
        return self.opened[-1]
