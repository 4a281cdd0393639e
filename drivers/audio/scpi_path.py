"""A SCPI generator, with a SCPI digitiser or without, as the way of a signal: sines and silence.

The generator's output is on a lease (`lease`): switched on behind its settings, off at the end, at an
exception, at a missed renewal. What plays on when this computer dies is said in every capture.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from drivers.audio.capture import Capture
from drivers.audio.dialect import DigitiserDialect, GeneratorDialect, InstrumentDialects, filled
from drivers.audio.lease import LeaseKeeper, OutputLease
from drivers.audio.path import During, Floats, Stretch, Tone
from drivers.audio.refusal import AudioRefused
from drivers.audio.scpi_instrument import ScpiInstrument
from drivers.audio.sound_device import Scales
from drivers.clock import host_seconds
from drivers.errors import LinkAborted, LinkError
from drivers.links import Link

STAYS_ON = "the generator's output stays on if this computer dies meanwhile: only a command switches it off"
ONE_TONE = (
    "This generator's description names no second tone that it adds to the first; two tones need one that "
    "does, or a sound device."
)
NO_RECORDER = (
    "There is a generator and nothing that records: choose a recorder too, or measure gain, level, response "
    "and power by the AC volts of a multimeter."
)
_SLICE_S = 0.25
_TYPES = {"real 32": "f4", "integer 16": "i2", "integer 32": "i4"}


def _pause(seconds: float, wake: threading.Event) -> None:
    wake.wait(seconds)


@dataclass(frozen=True, slots=True)
class Timing:
    """Where time comes from; a test gives its own. Without `keeper` nobody watches the lease by itself."""

    now: Callable[[], float] = host_seconds
    pause: Callable[[float, threading.Event], None] = _pause
    keeper: bool = True


class ScpiPath:
    """Plays on a generator and records with a digitiser; see `AudioPath`. `own` are the user's dialects.

    Without a `recorder` only what is done beside a tone can be done, such as reading an AC voltmeter.
    """

    def __init__(
        self,
        generator: str,
        recorder: str,
        scales: Scales,
        rate_hz: float = 48_000.0,
        *,
        links: tuple[Link | None, Link | None] = (None, None),
        timing: Timing | None = None,
        own: InstrumentDialects = (),
        visa_library: str = "@py",
    ) -> None:
        self._generator = ScpiInstrument(generator, GeneratorDialect, links[0], own, visa_library)
        self._digitiser: ScpiInstrument[DigitiserDialect] | None = None
        try:
            if recorder:
                self._digitiser = ScpiInstrument(recorder, DigitiserDialect, links[1], own, visa_library)
        except AudioRefused:
            self._generator.link.close()
            raise
        self._scales, self._rate_hz = scales, rate_hz
        self._timing = timing or Timing()
        self._talking = threading.RLock()  # the generator's link has one owner at a time
        self._silenced = threading.Event()
        self._playing = False
        self.lease = OutputLease(self._off)
        self._keeper = LeaseKeeper(self.lease, self._timing.now) if self._timing.keeper else None

    @property
    def name(self) -> str:
        """See `AudioPath.name`."""
        if self._digitiser is None:
            return self._generator.identity
        return f"{self._generator.identity} to {self._digitiser.identity}"

    @property
    def rate_hz(self) -> float:
        """See `AudioPath.rate_hz`."""
        return self._rate_hz

    @property
    def outputs(self) -> tuple[str, ...]:
        """See `AudioPath.outputs`: as many as the digitiser has channels, else the generator, or two."""
        if self._digitiser is not None:
            count = len(self._digitiser.dialect.channels)
        else:
            count = max(2, len(self._generator.dialect.channels))
        return ("left", "right", *(f"output {n}" for n in range(3, count + 1)))[:count]

    @property
    def any_wave(self) -> bool:
        """See `AudioPath.any_wave`."""
        return False

    def play(self, stretch: Stretch, during: During | None = None) -> tuple[Capture, ...]:
        """See `AudioPath.play`. Refuses what are no sines and no silence."""
        if during is None and self._digitiser is None:
            raise AudioRefused(NO_RECORDER)
        self._silenced.clear()
        channels = self._driven(stretch)
        self._playing = True
        try:
            if during is None:
                self._start_anew()
                self._prepare(stretch)
            if channels:
                self._on(stretch, channels)
            self._stay(stretch.settle / self._rate_hz + self._generator.dialect.settle_s, bool(channels))
            if during is not None:
                self._beside(during, bool(channels))
                return ()
            captures = self._record(stretch, bool(channels))
        except LinkError as trouble:
            if self._silenced.is_set():
                raise AudioRefused(
                    "The generator was silenced before the measurement was complete."
                ) from trouble
            raise AudioRefused(f"{trouble}.") from trouble
        finally:
            self._playing = False
            self._end()
        return captures

    def silence(self) -> None:
        """See `AudioPath.silence`."""
        self._silenced.set()
        if self._playing and self._digitiser is not None:
            self._digitiser.link.abort()
        if self._talking.acquire(blocking=False):
            try:
                self._off()
            except (LinkError, AudioRefused):
                pass  # the player's own end tries again, and says so
            finally:
                self._talking.release()

    def close(self) -> None:
        """See `AudioPath.close`."""
        try:
            self._end()
        finally:
            if self._keeper is not None:
                self._keeper.stop()
            self._generator.link.close()
            if self._digitiser is not None:
                self._digitiser.link.close()

    # --- the generator ------------------------------------------------------------------------------

    def _driven(self, stretch: Stretch) -> tuple[str, ...]:
        """The generator's channels to switch on. Raises AudioRefused."""
        if not stretch.waves:
            return ()
        dialect, tone = self._generator.dialect, stretch.tone
        if tone is None:
            raise AudioRefused(
                "This generator plays sines and silence only; this signal needs a sound device."
            )
        if tone.second_volts > 0.0 and dialect.second is None:
            raise AudioRefused(ONE_TONE)
        peak, most = tone.peak_volts, min(dialect.most_volts_peak, self._scales.output_volts)
        if peak > most * (1.0 + 1e-9):
            raise AudioRefused(
                f"{peak:.3g} V peak are asked of the generator, which may give {most:.3g} V; turn the "
                "amplifier's volume up."
            )
        if (highest := max(tone.hz, tone.second_hz)) > dialect.most_hz:
            raise AudioRefused(f"{highest:g} Hz is more than this generator gives, {dialect.most_hz:g} Hz.")
        if len(dialect.channels) == 1:
            if set(stretch.waves) < set(self.outputs):
                raise AudioRefused(
                    "This generator has one output, which feeds every input: it cannot drive "
                    f"{' and '.join(stretch.waves)} alone."
                )
            return dialect.channels
        return tuple(dialect.channels[self.outputs.index(output)] for output in stretch.waves)

    def _on(self, stretch: Stretch, channels: tuple[str, ...]) -> None:
        assert stretch.tone is not None
        tone, dialect = stretch.tone, self._generator.dialect
        values = _places(tone.hz, tone.volts)
        with self._talking:
            self._generator.clear()
            for channel in channels:
                for line in dialect.start:
                    self._generator.tell(line, channel=channel)
                for setting in dialect.setting:
                    self._generator.set(setting, channel=channel, **values)
                self._add_second(tone, channel)
            self.lease.begin(self._timing.now())
            if self._keeper is not None:
                self._keeper.wake()
            for channel in channels:
                self._check_silenced()
                self._generator.tell(dialect.on, channel=channel)
                if not self._state(channel):
                    raise AudioRefused(f"{self._generator.address} did not switch its output on.")
                self.lease.renew(self._timing.now())

    def _add_second(self, tone: Tone, channel: str) -> None:
        """Add the second tone in the generator, or see that none is. Raises LinkError, AudioRefused."""
        second = self._generator.dialect.second
        if second is None:
            return
        wanted = tone.second_volts > 0.0
        for setting in second.setting if wanted else ():
            self._generator.set(setting, channel=channel, **_places(tone.second_hz, tone.second_volts))
        self._generator.tell(second.on if wanted else second.off, channel=channel)
        if self._is_on(second.state, channel) is not wanted:
            where = self._generator.address
            if wanted:
                raise AudioRefused(f"{where} did not add its second tone.")
            raise AudioRefused(f"{where} goes on adding its second tone.")

    def _state(self, channel: str) -> bool:
        return self._is_on(self._generator.dialect.state, channel)

    def _is_on(self, question: str, channel: str) -> bool:
        return self._generator.ask(question, channel=channel).strip().upper() in ("1", "ON")

    def _off(self) -> None:
        """Switch every output off and see that it is. Raises LinkError, AudioRefused."""
        with self._talking:
            dialect = self._generator.dialect
            for channel in dialect.channels:
                self._generator.tell(dialect.off, channel=channel)
            self._generator.clear()
            for channel in dialect.channels:
                if self._state(channel):
                    raise AudioRefused(f"{self._generator.address} keeps its output on.")

    def _end(self) -> None:
        """Off, with a second try on a new connection. Raises AudioRefused, naming what a person must do."""
        try:
            self._off()
        except (LinkError, AudioRefused):
            try:
                with self._talking:
                    self._generator.reopen()
                    self._off()
            except (LinkError, AudioRefused) as trouble:
                raise AudioRefused(
                    f"The generator at {self._generator.address} could not be told to switch its output off: "
                    "switch it off at its own front panel, now."
                ) from trouble
        self.lease.end()

    def _check_silenced(self) -> None:
        if self._silenced.is_set():
            raise AudioRefused("The generator was silenced before the measurement was complete.")

    def _stay(self, seconds: float, leased: bool) -> None:
        """Wait while the tone plays, renewing the lease."""
        until = self._timing.now() + seconds
        while (left := until - self._timing.now()) > 0.0:
            self._check_silenced()
            if leased:
                self.lease.renew(self._timing.now())
            self._timing.pause(min(_SLICE_S, left), self._silenced)
        self._check_silenced()

    def _beside(self, during: During, leased: bool) -> None:
        """Do something in a thread of its own while the tone plays, renewing the lease. Raises as it does."""
        failed: list[AudioRefused] = []
        done = threading.Event()

        def carry_out() -> None:
            try:
                during()
            except AudioRefused as refusal:
                failed.append(refusal)
            except Exception as problem:  # whatever it was: nobody must take it for done
                words = f"What was to be read beside the tone broke down ({problem}); measure again."
                failed.append(AudioRefused(words))
            finally:
                done.set()

        threading.Thread(target=carry_out, name="beside a tone", daemon=True).start()
        while not done.wait(_SLICE_S):
            self._check_silenced()
            if leased:
                self.lease.renew(self._timing.now())
        if failed:
            raise failed[0]

    def _start_anew(self) -> None:
        """Connect the digitiser again: nothing of an earlier stretch, late or given up, is left."""
        try:
            self._recorder.reopen()
        except LinkAborted:  # a silence that came when nothing waited any more
            self._recorder.reopen()

    # --- the digitiser ------------------------------------------------------------------------------

    @property
    def _recorder(self) -> ScpiInstrument[DigitiserDialect]:
        """The digitiser; `play` has seen that there is one."""
        if self._digitiser is None:
            raise AudioRefused(NO_RECORDER)
        return self._digitiser

    def _prepare(self, stretch: Stretch) -> None:
        dialect, points = self._recorder.dialect, stretch.length - stretch.settle
        if points > dialect.most_points:
            raise AudioRefused(
                f"{points} samples are more than the digitiser holds, {dialect.most_points}; "
                "take a lower sample rate."
            )
        values: dict[str, float | str] = {
            "rate_hz": self._rate_hz,
            "points": points,
            "seconds": points / self._rate_hz,
            "volts_peak": self._scales.input_volts,
            "volts_pp": 2.0 * self._scales.input_volts,
        }
        for channel in dialect.channels:
            for line in dialect.start:
                self._recorder.tell(line, channel=channel)
            for setting in dialect.setting:
                self._recorder.set(setting, channel=channel, **values)

    def _record(self, stretch: Stretch, leased: bool) -> tuple[Capture, ...]:
        dialect, points = self._recorder.dialect, stretch.length - stretch.settle
        self._recorder.tell(dialect.begin)
        self._stay(points / self._rate_hz, leased)
        if self._recorder.ask(dialect.complete).strip().lstrip("+") != "1":
            raise AudioRefused(f"{self._recorder.address} did not complete its record.")
        # The record is taken: the tone may end before its samples travel.
        self._end()
        return tuple(
            self._fetched(output, channel, points, leased)
            for output, channel in zip(self.outputs, dialect.channels, strict=True)
        )

    def _fetched(self, output: str, channel: str, points: int, leased: bool) -> Capture:
        dialect = self._recorder.dialect
        self._check_silenced()
        form = np.dtype((">" if dialect.byte_order == "big" else "<") + _TYPES[dialect.samples])
        deadline = host_seconds() + dialect.transfer_s
        raw = self._recorder.link.query_block(
            filled(dialect.fetch, channel=channel), deadline, points * form.itemsize + 64
        ).raw
        if len(raw) != points * form.itemsize:
            raise AudioRefused(
                f"{self._recorder.address} gave {len(raw)} bytes for {points} samples of "
                f"{form.itemsize} bytes; nothing of them is used."
            )
        volts: Floats = np.frombuffer(raw, form).astype(np.float64)
        if dialect.volts_a_step:
            volts = volts * self._recorder.number(dialect.volts_a_step, channel=channel)
        if not np.all(np.isfinite(volts)):
            raise AudioRefused(f"{self._recorder.address} gave samples that are no numbers.")
        full = self._recorder.number(dialect.range_read_back, channel=channel) / 2.0
        remarks = (STAYS_ON,) if leased else ()
        divider = self._scales.divider
        return Capture(volts * divider, self._rate_hz, output, full * divider, dialect.bits, remarks=remarks)


def _places(hz: float, volts_rms: float) -> dict[str, float]:
    """What may be put into a generator's lines, of one sine."""
    root = 2.0**0.5
    return {
        "hz": hz,
        "volts_rms": volts_rms,
        "volts_peak": root * volts_rms,
        "volts_pp": 2.0 * root * volts_rms,
    }


def is_address(name: str) -> bool:
    """Whether the name of a device is the address of an instrument."""
    return "::" in name
