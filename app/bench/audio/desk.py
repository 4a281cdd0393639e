"""The audio desk: plays and records what the run asks for, and posts the figures that come of it.

One thread of its own, so that a stretch of signal holds up neither meters nor guidance; in stepped time at
once, in the conductor's thread. Whatever happens, it ends in silence and in an answer to the request.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Callable, Mapping
from typing import Protocol

import numpy as np

from app.bench.audio.level import LevelReading
from app.bench.audio.signals import Signals
from drivers.audio.capture import Capture
from drivers.audio.level_meter import LevelMeter
from drivers.audio.path import AudioPath, During, Stretch, Tone
from drivers.audio.refusal import AudioRefused
from procedures.analysis.audio.fitness import CannotMeasure
from procedures.analysis.audio.orders import Order, Signal, order_of
from procedures.analysis.audio.stepping import as_swept, gain_at, stepped
from procedures.analysis.audio.taken import Taken
from procedures.analysis.audio.taking import figures, said_conditions
from procedures.events import Action, AudioMeasured, DriveChanged, Request, RequestClosed
from procedures.ratings import Ratings
from procedures.setup import RunSetup
from procedures.steps.signal_level import READ_BY_METER

Answering = AudioMeasured | DriveChanged | RequestClosed
MOST_INPUT_VOLTS = 5.0
_JOIN_S = 5.0


class Posting(Protocol):
    """Where answers go: the conductor's inbox."""

    def post(self, item: Answering) -> None:
        """Let it in."""
        ...

    def session_s(self) -> float:
        """Session seconds now."""
        ...


def tone_of(order: Order) -> Tone | None:
    """The order as one sine or two; None where it is neither."""
    if order.volts <= 0.0:
        return None
    if order.signal is Signal.TWO_TONES:
        first = order.volts / float(np.hypot(1.0, order.second_ratio))
        return Tone(order.hz, first, order.second_hz, order.second_ratio * first)
    return Tone(order.hz, order.volts) if order.signal is Signal.TONE else None


class AudioDesk:
    """Carries out `PLAY` and `SILENCE` on one path. `open_path` is called when it is first needed.

    `floor` gives what is known of the set-up itself, to stand beside every capture's figures.
    """

    def __init__(
        self,
        open_path: Callable[[], AudioPath],
        inbox: Posting,
        *,
        mains_hz: float = 50.0,
        at_once: bool = False,
        keep: Callable[[Capture], str] | None = None,
        floor: Callable[[], Mapping[str, float]] = dict,
        open_meter: Callable[[], LevelMeter] | None = None,
    ) -> None:
        self._open_path = open_path
        self._inbox = inbox
        self._mains_hz = mains_hz
        self._at_once = at_once
        self._keep = keep
        self._floor = floor
        self._levels = LevelReading(open_meter)
        self._path: AudioPath | None = None
        self._orders: queue.SimpleQueue[Request | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None
        self._silenced = threading.Event()
        self._latest: tuple[Capture, ...] = ()
        self._taken: list[Taken] = []

    def carry_out(self, request: Request) -> None:
        """Take a request; its answer comes through the inbox. Returns at once."""
        if request.action is Action.SILENCE:
            self.silence()
            self._inbox.post(RequestClosed(self._inbox.session_s(), request.id, True))
            return
        self._silenced.clear()
        if self._at_once:
            self._answer(request)
            return
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="audio desk", daemon=True)
            self._thread.start()
        self._orders.put(request)

    def heard(self, setup: RunSetup) -> Signals | None:
        """The newest captures and everything that was measured so far; None while nothing was. Any thread."""
        if not self._taken:
            return None
        ratings = setup.amplifier.ratings if setup.amplifier is not None else Ratings()
        return Signals(self._latest, tuple(self._taken), ratings)

    def silence(self) -> None:
        """Stop whatever plays; any thread."""
        self._silenced.set()
        if self._path is not None:
            self._path.silence()

    def close(self) -> None:
        """Fall silent, end the thread, give the devices back."""
        self.silence()
        if self._thread is not None:
            self._orders.put(None)
            self._thread.join(_JOIN_S)
            self._thread = None
        self._levels.close()
        if self._path is not None:
            with contextlib.suppress(AudioRefused):
                self._path.close()
            self._path = None

    # --- the desk's thread --------------------------------------------------------------------------

    def _work(self) -> None:
        while (request := self._orders.get()) is not None:
            self._answer(request)

    def _answer(self, request: Request) -> None:
        try:
            order = order_of(request.parameters)
            self._measure(request, order)
        except (AudioRefused, CannotMeasure) as refused:
            self._refuse(request, str(refused))
        except (KeyError, ValueError) as incomplete:
            self._refuse(request, f"the request to {request.action.value} is incomplete: {incomplete}")
        except Exception as error:  # a broken driver must not leave a tone playing or a run waiting
            self._refuse(request, f"the audio bench failed ({type(error).__name__}: {error})")

    def _refuse(self, request: Request, reason: str) -> None:
        if self._path is not None:
            self._path.silence()
        self._inbox.post(RequestClosed(self._inbox.session_s(), request.id, False, reason))

    def _measure(self, request: Request, order: Order) -> None:
        if order.volts > MOST_INPUT_VOLTS:
            raise AudioRefused(
                f"{order.volts:.3g} V at the input is more than {MOST_INPUT_VOLTS:g} V; "
                "check the gain, the volume control and the connections."
            )
        if request.parameters.get("read_by") == READ_BY_METER:
            self._read_level(request, order)
            return
        path = self._path = self._path or self._open_path()
        if order.signal is Signal.SWEEP and not path.any_wave:
            self._step_through(request, order, path)
            return
        captures = self._played(path, order)
        self._latest = captures
        measure = str(request.parameters.get("measure", ""))
        for capture in captures:
            measured = self._measured(request, order, capture)
            if measured.figures:
                self._taken.append(Taken(order, capture.channel, measured.figures, measure))
            self._inbox.post(measured)
        self._inbox.post(RequestClosed(self._inbox.session_s(), request.id, True))

    def _step_through(self, request: Request, order: Order, path: AudioPath) -> None:
        """A sweep on a generator of sines: one tone after the other, each settled before it is recorded."""
        gains: dict[str, dict[float, float]] = {output: {} for output in path.outputs}
        for tone in stepped(order, path.rate_hz):
            if self._silenced.is_set():
                raise AudioRefused("The generator was silenced before the measurement was complete.")
            self._latest = self._played(path, tone)
            for capture in self._latest:
                if capture.channel in tone.drives:
                    gains[capture.channel][tone.hz] = gain_at(tone, capture, self._mains_hz)
        measure = str(request.parameters.get("measure", ""))
        for capture in self._latest:
            found = as_swept(gains[capture.channel])
            self._taken.append(Taken(order, capture.channel, found, measure))
            told = f"{len(gains[capture.channel])} single tones; {said_conditions(order, capture)}"
            at_s = self._inbox.session_s()
            self._inbox.post(AudioMeasured(at_s, request.id, capture.channel, found, told))
        self._inbox.post(RequestClosed(self._inbox.session_s(), request.id, True))

    def _read_level(self, request: Request, order: Order) -> None:
        """Have the meter read what the generator plays, or what a person plays where nothing is ordered."""
        output = str(request.parameters.get("at", ""))
        taken: list[tuple[dict[str, float], str]] = []

        def read() -> None:
            taken.append(self._levels.read(output, order))

        if order.volts > 0.0:
            self._path = self._path or self._open_path()
            self._played(self._path, order, read)
        else:
            read()
        seen, conditions = taken[0]
        at_s = self._inbox.session_s()
        self._inbox.post(AudioMeasured(at_s, request.id, output, seen, conditions))
        self._inbox.post(RequestClosed(self._inbox.session_s(), request.id, True))

    def _played(self, path: AudioPath, order: Order, during: During | None = None) -> tuple[Capture, ...]:
        wave = order.samples(path.rate_hz)
        driven = order.signal is not Signal.SILENCE and order.volts > 0.0
        unknown = [output for output in order.drives if output not in path.outputs]
        if unknown:
            raise AudioRefused(f"{path.name} has no output called {unknown[0]}.")
        stretch = Stretch(
            dict.fromkeys(order.drives, wave) if driven else {},
            len(wave),
            round(order.settle_s * path.rate_hz),
            order.load_ohm,
            tone_of(order),
        )
        if not driven:
            return path.play(stretch)
        if self._silenced.is_set():  # while the devices were being opened, say
            raise AudioRefused("The generator was silenced before the measurement was complete.")
        self._inbox.post(DriveChanged(self._inbox.session_s(), True))
        try:
            return path.play(stretch) if during is None else path.play(stretch, during)
        finally:
            self._inbox.post(DriveChanged(self._inbox.session_s(), False))

    def _measured(self, request: Request, order: Order, capture: Capture) -> AudioMeasured:
        at_s = self._inbox.session_s()
        # An hour of preconditioning is watched, not kept: its samples would fill the disk.
        keeps = self._keep if request.parameters.get("measure") != "preconditioning" else None
        digest = keeps(capture) if keeps is not None else ""
        conditions = said_conditions(order, capture)
        try:
            found = figures(order, capture, self._mains_hz)
        except CannotMeasure as trouble:
            return AudioMeasured(at_s, request.id, capture.channel, {}, conditions, digest, str(trouble))
        found |= self._floor()
        finite = {name: value for name, value in found.items() if np.isfinite(value)}
        return AudioMeasured(at_s, request.id, capture.channel, finite, conditions, digest)
