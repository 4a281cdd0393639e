"""A whole trim by sound alone: a technician who hears the samples of the loudspeaker and nothing else."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from listening import dulled, noisy, pitch, pulses
from sounding import FakeDevices

from app.bench.live_bench import LiveBench
from app.bench.opening import SimulatedChoice, open_simulated
from app.bench.practised_hands import PractisedHands
from app.bench.sound.desk import SoundDesk
from app.bench.sound.devices import OutputDevice
from app.bench.sound.spoken import English, SpokenWords
from app.bench.sound.synthesis import Samples
from app.settings import Settings, SoundChoice
from app.windows.ports import PracticeControls
from drivers.clock import SteppedClock
from procedures.events import Action, Outcome, Request, RequestClosed
from procedures.library import shipped_procedures
from procedures.view import RunView

RATE = 8000.0
HEARS_S = 0.1
LISTENS_S = 2.0  # far away a pulse comes every 0.8 s
FIRST_NUDGE = 0.012
LARGEST_TURN = 0.05
# What a technician has been told: below 470 Hz is low, up to 930 Hz is right, above is high.
LOW_HZ, HIGH_HZ = 470.0, 930.0


class OtherHands(PractisedHands):
    """Does everything but turn a trimmer: mains, lid, probes, answers, by what the screen says."""

    def _trim(self, view: RunView, channel: str, now_s: float) -> None:
        return


class ListeningTechnician:
    """Turns the trimmer that the voice has named, by pitch region and pulse rate, with a hearing loss."""

    def __init__(self, desk: SoundDesk, devices: FakeDevices, practice: PracticeControls) -> None:
        self._desk, self._devices, self._practice = desk, devices, practice
        self._memory: list[Samples] = []
        self._trimmer = ""
        self._gain: float | None = None
        self._last: tuple[float, float] | None = None
        self._ready_s = 0.0
        self.turns = 0
        self.heard_right = 0
        self.heard_end = False
        self._guided = False

    # --- a voice ------------------------------------------------------------------------------------

    def say(self, sentence: str, voice: object = None) -> bool:
        """The trimmer that is named; another one has to be learnt anew."""
        for side in ("left", "right"):
            if f"Nudge the {side} trimmer" in sentence and self._trimmer != f"{side} bias":
                self._trimmer, self._gain, self._last = f"{side} bias", None, None
                self._ready_s, self._memory = 0.0, []
        return True

    def look_for(self, code: str) -> bool:
        return True

    def look_no_longer(self) -> None:
        pass

    def voice(self, code: str) -> None:
        return None

    def stop(self) -> None:
        """The voice is silent."""

    # --- an ear -------------------------------------------------------------------------------------

    def advance(self, now_s: float) -> float:
        """Hear a tenth of a second; once a trimmer was named, think about the last two seconds."""
        self._desk.advance(now_s)
        heard = self._devices.now.hear(HEARS_S, block=800)
        if not self._trimmer:
            return now_s + HEARS_S
        self._memory = [*self._memory, heard][-round(LISTENS_S / HEARS_S) :]
        if self._ready_s == 0.0:
            self._ready_s = now_s + LISTENS_S
        if now_s >= self._ready_s:
            self._think(now_s)
        return now_s + HEARS_S

    def _think(self, now_s: float) -> None:
        heard = np.concatenate(self._memory)
        if not heard[-round(1.5 * RATE) :].any():
            self.heard_end = self.heard_end or self._guided
            self._trimmer, self._guided = "", False
            return
        offset = self._offset(noisy(dulled(heard, rate=RATE), 3, RATE))
        if offset is None:
            return
        self._guided = True
        if offset == 0.0:
            self.heard_right += 1
            return
        by = self._turn_by(offset)
        self.turns += 1
        self._last = (offset, by)
        self._practice.turn(self._trimmer, by)
        self._ready_s = now_s + LISTENS_S + 1.5

    def _offset(self, heard: Samples) -> float | None:
        """How far off it sounds: below zero is low, zero is right; None for what is no guidance."""
        region, rate = pitch(heard, RATE), pulses(heard, RATE)
        if rate == 0.0:
            return 0.0 if LOW_HZ < region < HIGH_HZ else None
        far = 40.0 ** (1.0 - math.log(max(rate, 1.25) / 1.25) / math.log(8.0))
        if region <= LOW_HZ:
            return -far
        return far if region >= HIGH_HZ else None

    def _turn_by(self, offset: float) -> float:
        """Which way, and how far, by what the last turn did to the sound."""
        if self._last is not None:
            change = offset - self._last[0]
            if abs(change) > 0.15 * abs(self._last[0]):
                self._gain = change / self._last[1]
        if self._gain is None:
            return FIRST_NUDGE
        return max(-LARGEST_TURN, min(LARGEST_TURN, -0.7 * offset / self._gain))


@pytest.fixture
def devices() -> FakeDevices:
    return FakeDevices((OutputDevice(0, "Bench speaker", 1, RATE, default=True),))


def _bench(root: Path, desk: SoundDesk, clock: SteppedClock) -> LiveBench:
    choice = SimulatedChoice("healthy", seed=3)
    bench = open_simulated(choice, shipped_procedures()["two-channel-bias-trim"], root, clock, Settings())
    bench.be_heard(desk)
    return bench


def test_a_technician_who_only_hears_trims_both_channels(
    session_root: Path, devices: FakeDevices, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In noise as loud as the sound, deaf above 2 kHz, by one loudspeaker: both channels end inside."""
    monkeypatch.setattr(SoundDesk, "hold", lambda self: None)  # advanced by the technician, in bench time
    clock = SteppedClock(utc=datetime(2026, 2, 11, tzinfo=UTC))
    desk = SoundDesk(SoundChoice(volume=1.0, speech=True), devices=devices, seconds=clock.now)
    bench = _bench(session_root, desk, clock)
    assert bench.practice is not None
    technician = ListeningTechnician(desk, devices, bench.practice)
    desk._speaker = technician  # type: ignore[assignment]
    desk._words = SpokenWords(technician, English())  # type: ignore[arg-type]
    desk.advance(clock.now())
    turns = bench.turns(technician, OtherHands(bench, bench.practice, seed=3))
    ended = turns.run(lambda: bench.conductor.ended is not None, 4 * 3600.0)
    view, events, inputs = bench.view, bench.snapshot().events, bench.snapshot().inputs
    bench.leave()
    desk.close()

    assert ended
    assert view.ended is not None
    assert view.ended.finished, view.ended.reason
    last = {verdict.channel: verdict.outcome for verdict in view.verdicts if verdict.channel}
    assert last == {"left bias": Outcome.PASSED, "right bias": Outcome.PASSED}
    assert technician.turns >= 2
    assert technician.heard_right > 0
    assert technician.heard_end
    asked = [e for e in events if isinstance(e, Request) and e.action is Action.GUIDE]
    assert [e.parameters["guide"] for e in asked] == ["begin", "end"] * (len(asked) // 2)
    closed = {fact.request: fact.done for fact in inputs if isinstance(fact, RequestClosed)}
    assert all(closed[request.id] for request in asked)
