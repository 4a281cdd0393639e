"""A long day in stepped time: every slot accounted for, nothing grows."""

from __future__ import annotations

import gc
import os
import random
import threading
import tracemalloc
from collections import Counter

import pytest
from fake_instrument import FakeInstrument, FakeLink
from loopback_servers import HislipServer, LineServer

from drivers.addresses import link_for
from drivers.clock import SteppedClock, host_seconds
from drivers.errors import LinkError, LinkGarbled, LinkLost, LinkTimedOut
from drivers.links.visa import shared_manager
from drivers.meter import MeterSetup
from drivers.reading import Gap, Reading
from drivers.scpi.meter import ScpiMeter
from drivers.worker import Fact, WorkerCore


class ShakyLink(FakeLink):
    """Fails now and then, by a seed."""

    def __init__(self, instrument: FakeInstrument, seed: int) -> None:
        super().__init__(instrument)
        self._random = random.Random(seed)

    def query(self, line: bytes, deadline: float):  # type: ignore[no-untyped-def]
        if line == b"READ?" and self._random.random() < 0.01:
            kinds: list[type[LinkError]] = [LinkTimedOut, LinkGarbled, LinkLost]
            self.failures.append(self._random.choice(kinds))
        return super().query(line, deadline)


class Channel:
    """Counts, and holds the promise that time is covered by readings and gaps without overlap."""

    def __init__(self, clock: SteppedClock, seed: int) -> None:
        self.counts: Counter[str] = Counter()
        self.covered_s = 0.0
        self.holes: list[tuple[float, float]] = []
        self.instrument = FakeInstrument()
        self.core = WorkerCore(
            ScpiMeter(f"m{seed}", ShakyLink(self.instrument, seed), clock),
            clock,
            self.post,
            setup=MeterSetup(0.1),
            period_s=1.0,
            jitter=random.Random(seed).random,
        )

    def post(self, fact: Fact) -> None:
        self.counts[type(fact).__name__] += 1
        if isinstance(fact, Reading | Gap):
            if isinstance(fact, Gap) and fact.start_s != self.covered_s:
                self.holes.append((self.covered_s, fact.start_s))
            self.covered_s = fact.end_s


def soak(hours: float) -> list[Channel]:
    clock = SteppedClock()
    channels = [Channel(clock, seed) for seed in range(4)]
    due = [channel.core.advance(0.0) for channel in channels]
    while min(due) <= hours * 3600.0:
        clock.advance_to(min(due))
        due = [
            channel.core.advance(clock.now()) if moment <= clock.now() else moment
            for channel, moment in zip(channels, due, strict=True)
        ]
    for channel in channels:
        channel.core.stop()
    return channels


def check(channels: list[Channel], seconds: float) -> None:
    for channel in channels:
        assert channel.holes == []
        assert channel.covered_s > seconds - 10.0
        # A failed question costs its slot, a reconnection two or three.
        assert 0.95 * seconds < channel.counts["Reading"] <= seconds + 1.0
        assert channel.counts["Gap"] > 0


def test_half_an_hour_of_four_shaky_meters_is_covered_without_holes() -> None:
    check(soak(0.5), 1800.0)


@pytest.mark.long
def test_a_day_of_four_shaky_meters_does_not_grow() -> None:
    soak(0.5)
    gc.collect()
    threads = threading.active_count()
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    channels = soak(24.0)
    for channel in channels:
        channel.instrument.lines.clear()
    gc.collect()
    grown = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.stop()

    check(channels, 86_400.0)
    assert grown < 2_000_000
    assert threading.active_count() == threads


def descriptors() -> int:
    return len(os.listdir("/proc/self/fd")) if os.path.isdir("/proc/self/fd") else 0


def reconnect(times: int, kind: type[LineServer] | type[HislipServer]) -> None:
    server = kind()
    link = link_for(server.address)
    try:
        link.open(host_seconds() + 2.0)
        link.query(b"*IDN?", host_seconds() + 2.0)
        sessions = len(shared_manager().visalib.sessions)  # type: ignore[attr-defined]
        threads, files = threading.active_count(), descriptors()
        for _ in range(times):
            link.open(host_seconds() + 2.0)
            link.query(b"*IDN?", host_seconds() + 2.0)
        assert len(shared_manager().visalib.sessions) == sessions  # type: ignore[attr-defined]
        # The server may still be letting go of the last two.
        assert threading.active_count() <= threads + 4
        assert descriptors() <= files + 8
    finally:
        link.close()
        server.stop()


@pytest.mark.parametrize("kind", [LineServer, HislipServer])
def test_reconnecting_leaves_nothing_behind(kind: type[LineServer] | type[HislipServer]) -> None:
    reconnect(50, kind)


@pytest.mark.long
@pytest.mark.parametrize("kind", [LineServer, HislipServer])
def test_a_thousand_reconnections_leave_nothing_behind(kind: type[LineServer] | type[HislipServer]) -> None:
    reconnect(1000, kind)
