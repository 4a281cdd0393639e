"""Traces seen through a meter and fed to the Monitor, many at a time on all processors."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from benchmarks.traces import TraceSet

from drivers.meter import MeterAccuracy
from procedures.analysis.channel import AnalysisSettings, ChannelSetup
from procedures.analysis.monitor import Monitor
from procedures.analysis.remembered import RememberedWarmUp
from procedures.events import ChannelReading, SettledChanged, Supply, SupplyChanged

Floats = npt.NDArray[np.float64]
CHANNEL = "left bias"


def job_of(group: TraceSet, readings: Floats, step: float, **more: Any) -> Job:
    """The readings of a set of traces as a job."""
    return Job(group.time_s, readings, group.target, group.resistance, group.emitter, step, **more)


@dataclass(frozen=True, slots=True)
class Job:
    """Readings (k, n) at time_s (k,) of n channels, with what the analysis is told about each."""

    time_s: Floats
    readings: Floats
    target: Floats
    resistance: Floats
    emitter: Floats
    step: float
    limit: float = 0.03
    until_s: float = 2700.0
    at_s: tuple[float, ...] = ()
    remembered: tuple[tuple[tuple[float, ...], tuple[float, ...]], ...] = ()

    def part(self, columns: slice) -> Job:
        """Some of the channels."""
        return Job(
            self.time_s, self.readings[:, columns], self.target[columns], self.resistance[columns],
            self.emitter[columns],
            self.step, self.limit, self.until_s, self.at_s, self.remembered[columns],
        )  # fmt: skip


def _monitor(job: Job, column: int) -> Monitor:
    target, ohm = float(job.target[column]), float(job.resistance[column])
    setup = ChannelSetup(
        CHANNEL,
        target_volts=target,
        low_volts=0.9 * target,
        high_volts=1.1 * target,
        resistance_ohm=ohm,
        emitter_resistor_ohm=float(job.emitter[column]),
        accuracy=MeterAccuracy(resolution=job.step),
    )
    monitor = Monitor([setup], AnalysisSettings(limit=job.limit))
    if job.remembered:
        elapsed_s, levels = job.remembered[column]
        monitor.remember(CHANNEL, RememberedWarmUp(CHANNEL, elapsed_s, levels))
    monitor.feed(SupplyChanged(0.0, Supply.MAINS))
    return monitor


def declared(job: Job) -> list[float]:
    """When each channel was first called settled; infinity for never."""
    found: list[float] = []
    times, until = job.time_s.tolist(), job.until_s
    for column in range(job.readings.shape[1]):
        monitor = _monitor(job, column)
        moment = float("inf")
        for at_s, value in zip(times, job.readings[:, column].tolist(), strict=True):
            if at_s > until:
                break
            events = monitor.feed(ChannelReading(at_s, CHANNEL, value))
            if any(isinstance(e, SettledChanged) and e.settled for e in events):
                moment = at_s
                break
        found.append(moment)
    return found


def forecasts(job: Job) -> list[list[tuple[float, float, float, float, bool]]]:
    """For each channel and each moment of `at_s`: at, mean, low, high, spoken. NaN where silent."""
    found = []
    times = job.time_s.tolist()
    for column in range(job.readings.shape[1]):
        monitor = _monitor(job, column)
        asked = list(job.at_s)
        said: list[tuple[float, float, float, float, bool]] = []
        for at_s, value in zip(times, job.readings[:, column].tolist(), strict=True):
            if asked and at_s >= asked[0]:
                forecast = monitor.state(CHANNEL).forecast
                nan = float("nan")
                if forecast is None:
                    said.append((asked.pop(0), nan, nan, nan, False))
                else:
                    low, high = forecast.low_volts, forecast.high_volts
                    said.append((asked.pop(0), forecast.volts, low, high, forecast.spoken))
                if not asked:
                    break
            monitor.feed(ChannelReading(at_s, CHANNEL, value))
        found.append(said)
    return found


def on_all_processors(work: Callable[[Job], list[Any]], jobs: Sequence[Job]) -> list[list[Any]]:
    """`work` of every job, each cut into parts that run side by side; results in order, one list a job."""
    parts: list[tuple[int, Job]] = []
    for number, job in enumerate(jobs):
        count = job.readings.shape[1]
        parts += [(number, job.part(slice(a, a + 25))) for a in range(0, count, 25)]
    context = multiprocessing.get_context("spawn")
    with context.Pool(max(1, min(os.cpu_count() or 1, 8))) as pool:
        results = pool.map(work, [part for _, part in parts], chunksize=1)
    joined: list[list[Any]] = [[] for _ in jobs]
    for (number, _), result in zip(parts, results, strict=True):
        joined[number].extend(result)
    return joined
