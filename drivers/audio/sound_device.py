"""A sound device as generator and recorder, through PortAudio (`sounddevice`), both directions in one stream.

Samples become volts by two calibrated scales and the divider before the input. The stream ends by itself
with the last sample, so a program that dies plays nothing on; lost samples are counted and said. A signal
that is cut short fades (`fading`), unless the device is gone.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy

from drivers.audio.capture import Capture
from drivers.audio.fading import FadeOut, ending
from drivers.audio.path import During, Floats, Stretch
from drivers.audio.refusal import AudioRefused

TAIL_S = 0.35
"""Recorded behind the stretch, for the way through buffers and converters."""
_MARGIN_S = 5.0
_FADING_S = 0.5
"""How long to wait at the most for the samples of a fade to be taken."""


@dataclass(frozen=True, slots=True)
class Scales:
    """What samples mean in volts.

    `output_volts` is the voltage at the device's output for a sample of 1 (peak), `input_volts` that at its
    input which gives a sample of 1. `divider` is volts at the amplifier for one volt at the input.
    """

    output_volts: float = 1.0
    input_volts: float = 1.0
    divider: float = 1.0
    bits: int = 24

    @property
    def full_scale_volts(self) -> float:
        """The highest voltage at the amplifier that can be recorded."""
        return self.input_volts * self.divider


@dataclass(frozen=True, slots=True)
class DeviceNames:
    """Which devices, by name or by a part of it; empty: the system's."""

    recorder: str = ""
    generator: str = ""


class SoundDevicePath:
    """Plays on and records from sound devices; see `AudioPath`. `library` stands in for `sounddevice`."""

    def __init__(
        self,
        names: DeviceNames,
        scales: Scales,
        rate_hz: float = 48_000.0,
        outputs: tuple[str, ...] = ("left", "right"),
        library: Any = None,
    ) -> None:
        self._library = library if library is not None else _portaudio()
        self._scales = scales
        self._rate_hz = rate_hz
        self._outputs = outputs
        self._device = (
            self._found(names.recorder, "max_input_channels", "recorder"),
            self._found(names.generator, "max_output_channels", "generator"),
        )
        self._silenced = threading.Event()
        self._fade: FadeOut | None = None
        self.latency_s = 0.0
        """Seconds from playing to recording, as the last stretch with a signal showed."""

    @property
    def name(self) -> str:
        """See `AudioPath.name`."""
        recorder, generator = (self._library.query_devices(one)["name"] for one in self._device)
        return recorder if recorder == generator else f"{generator} to {recorder}"

    @property
    def rate_hz(self) -> float:
        """See `AudioPath.rate_hz`."""
        return self._rate_hz

    @property
    def outputs(self) -> tuple[str, ...]:
        """See `AudioPath.outputs`."""
        return self._outputs

    @property
    def any_wave(self) -> bool:
        """See `AudioPath.any_wave`."""
        return True

    def play(self, stretch: Stretch, during: During | None = None) -> tuple[Capture, ...]:
        """See `AudioPath.play`."""
        sent = self._samples(stretch)
        self._silenced.clear()
        fade = self._fade = FadeOut(self._rate_hz)
        run = _Run(sent, len(self._outputs), fade)
        try:
            with self._library.Stream(
                samplerate=self._rate_hz,
                device=self._device,
                channels=(len(self._outputs), len(self._outputs)),
                dtype="float32",
                callback=run.exchange,
                finished_callback=run.ended.set,
            ):
                try:
                    if during is not None:
                        self._beside(during, stretch, run)
                        return ()
                    run.ended.wait(len(sent) / self._rate_hz + _MARGIN_S)
                finally:
                    # Leaving the stream cuts what still plays: whatever ended this, it fades first.
                    fade.wanted.set()
                    run.ended.wait(_FADING_S)
        except self._library.PortAudioError as error:
            raise AudioRefused(
                f"{self.name} could not be used ({_words(error)}); see that nothing else has it, and that it "
                f"takes {self._rate_hz:g} samples a second."
            ) from error
        if self._silenced.is_set():
            raise AudioRefused("The generator was silenced before the measurement was complete.")
        if run.place < len(sent):
            raise AudioRefused(f"{self.name} stopped by itself; see that it is still connected.")
        return self._captures(stretch, sent, run)

    def _beside(self, during: During, stretch: Stretch, run: _Run) -> None:
        """Do something once what settles is over, and see that the signal still stands behind it."""
        run.ended.wait(stretch.settle / self._rate_hz)
        during()
        if self._silenced.is_set():
            raise AudioRefused("The generator was silenced before the measurement was complete.")
        if run.place > stretch.length:
            raise AudioRefused("The signal had ended before it was read; the meter takes too long for it.")

    def silence(self) -> None:
        """See `AudioPath.silence`; what plays fades within `FADE_S`."""
        self._silenced.set()
        if self._fade is not None:
            self._fade.wanted.set()

    def close(self) -> None:
        """See `AudioPath.close`: nothing is held between two stretches."""
        self.silence()

    # --- samples ------------------------------------------------------------------------------------

    def _samples(self, stretch: Stretch) -> Floats:
        """What goes out, shape (n, outputs), at most 1, silent at its end."""
        length = stretch.length + round(TAIL_S * self._rate_hz)
        sent = np.zeros((length, len(self._outputs)))
        for index, output in enumerate(self._outputs):
            wave = stretch.waves.get(output)
            if wave is None:
                continue
            scaled = wave / self._scales.output_volts
            if (peak := float(np.max(np.abs(scaled), initial=0.0))) > 1.0:
                raise AudioRefused(
                    f"{peak * self._scales.output_volts:.3g} V are asked of the generator, which gives "
                    f"{self._scales.output_volts:.3g} V at the most; turn the amplifier's volume up."
                )
            sent[: stretch.length, index] = scaled
            behind = ending(scaled, self._rate_hz)
            sent[stretch.length : stretch.length + len(behind), index] = behind
        return sent

    def _captures(self, stretch: Stretch, sent: Floats, run: _Run) -> tuple[Capture, ...]:
        delay = self._delay(sent, run.recorded) if stretch.waves else round(self.latency_s * self._rate_hz)
        first = delay + stretch.settle
        last = delay + stretch.length
        full = self._scales.full_scale_volts
        return tuple(
            Capture(
                run.recorded[first:last, index] * full,
                self._rate_hz,
                output,
                full,
                self._scales.bits,
                dropouts=run.lost,
            )
            for index, output in enumerate(self._outputs)
        )

    def _delay(self, sent: Floats, recorded: Floats) -> int:
        """Samples by which the recording is late: the best match over all channels, within the tail."""
        most = round(TAIL_S * self._rate_hz)
        size = scipy.fft.next_fast_len(2 * len(sent), real=True)
        match = np.zeros(size)
        for index in range(sent.shape[1]):
            spectrum = scipy.fft.rfft(recorded[:, index], size) * np.conj(
                scipy.fft.rfft(sent[:, index], size)
            )
            match += np.abs(scipy.fft.irfft(spectrum, size))
        delay = int(np.argmax(match[:most]))
        self.latency_s = delay / self._rate_hz
        return delay

    def _found(self, name: str, key: str, what: str) -> int:
        """The number of a device that can do it, by its name."""
        try:
            listed = list(self._library.query_devices())
            default = self._library.default.device[0 if what == "recorder" else 1]
        except self._library.PortAudioError as error:
            raise AudioRefused(f"The sound system does not answer ({_words(error)}).") from error
        able = [(number, one) for number, one in enumerate(listed) if one[key] >= len(self._outputs)]
        if not name:
            chosen = [number for number, _ in able if number == default] or [number for number, _ in able]
        else:
            exact = [number for number, one in able if one["name"] == name]
            chosen = exact or [number for number, one in able if name.casefold() in one["name"].casefold()]
        if not chosen:
            known = ", ".join(one["name"] for _, one in able) or "none"
            wanted = f' called "{name}"' if name else ""
            raise AudioRefused(
                f"There is no {what}{wanted} with {len(self._outputs)} channels; there are: {known}."
            )
        return chosen[0]


class _Run:
    """One stretch on its way: what PortAudio's thread exchanges."""

    def __init__(self, sent: Floats, channels: int, fade: FadeOut) -> None:
        self._sent = sent.astype(np.float32)
        self.recorded = np.zeros((len(sent), channels))
        self.fade = fade
        self.place = 0
        self.lost = 0
        self.ended = threading.Event()

    def exchange(self, heard: Any, played: Any, count: int, _time: Any, status: Any) -> None:
        """Give the next samples and take those that came; ends the stream behind the last one."""
        if status and (status.input_overflow or status.output_underflow or status.input_underflow):
            self.lost += 1
        played[:] = 0.0
        here = min(count, len(self._sent) - self.place)
        played[:here] = self._sent[self.place : self.place + here]
        self.fade.over(played[:here])
        self.recorded[self.place : self.place + here] = heard[:here]
        self.place += here
        if self.place >= len(self._sent) or self.fade.done.is_set():
            raise _stop()


def _stop() -> Exception:
    import sounddevice

    stop: Exception = sounddevice.CallbackStop()
    return stop


def _portaudio() -> Any:
    try:
        import sounddevice
    except (ImportError, OSError) as missing:
        raise AudioRefused(
            f"No sound device can be used: PortAudio is not here ({missing}); "
            "on Debian install libportaudio2."
        ) from missing
    return sounddevice


def _words(error: Exception) -> str:
    return str(error).split(" [PaErrorCode")[0] or type(error).__name__


def listed_devices(library: Any = None) -> tuple[tuple[str, int, int, float], ...]:
    """Every sound device: name, channels in, channels out, usual rate. Raises AudioRefused."""
    library = library if library is not None else _portaudio()
    try:
        found = list(library.query_devices())
    except library.PortAudioError as error:
        raise AudioRefused(f"The sound system does not answer ({_words(error)}).") from error
    return tuple(
        (one["name"], one["max_input_channels"], one["max_output_channels"], one["default_samplerate"])
        for one in found
    )
