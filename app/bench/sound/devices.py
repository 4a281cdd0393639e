"""Which sound output is used, and never the one that is assigned to measurement.

PortAudio (`sounddevice`) is looked for when it is first needed; without it, or without an output, the
program works silently. An output that may lead anywhere, such as the system's default, counts as a way to
the measuring one as soon as one is assigned.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from app.bench.sound.synthesis import Samples
from drivers.audio.fading import FadeOut

Fill = Callable[[int], Samples]
FADING_S = 0.2
_LEAST_SHARED = 20  # characters: some interfaces cut the same name short


class NoSound(Exception):
    """Why nothing can be heard, as one sentence for a person."""


@dataclass(frozen=True, slots=True)
class OutputDevice:
    """A sound output as PortAudio lists it. `routed`: it leads to whichever output the system chooses."""

    index: int
    name: str
    channels: int = 2
    rate: float = 48000.0
    default: bool = False
    routed: bool = False


class OpenOutput(Protocol):
    """An output that is playing."""

    @property
    def alive(self) -> bool:
        """Whether it still takes samples."""
        ...

    @property
    def latency_s(self) -> float:
        """Seconds from a sample's making to its being heard, as the system tells."""
        ...

    def close(self) -> None:
        """Stop at once and let the device go."""
        ...


class SoundDevices(Protocol):
    """The outputs of this computer."""

    def outputs(self) -> tuple[OutputDevice, ...]:
        """What can be played on. Raises NoSound."""
        ...

    def open(self, device: OutputDevice, fill: Fill) -> OpenOutput:
        """Play what `fill(count)` makes, the same on every loudspeaker. Raises NoSound."""
        ...


def same_device(one: str, other: str) -> bool:
    """Whether two names mean the same piece of hardware, as far as names can tell.

    The same card under two names counts as one: `hw:1,0` and `hw:1,3`; `Speakers (X)` and `Line (X)`; a name
    and the same cut short.
    """
    first, second = one.casefold().strip(), other.casefold().strip()
    if not first or not second:
        return False
    shared = min(len(first), len(second))
    if first == second or (shared >= _LEAST_SHARED and first[:shared] == second[:shared]):
        return True
    cards = [re.search(r"\(hw:(\d+)", name) for name in (first, second)]
    if all(cards):
        return len({card.group(1) for card in cards if card is not None}) == 1
    products = [re.search(r"\((?!hw:)([^()]{4,})\)?", name) for name in (first, second)]
    if not all(products):
        return False
    names = [product.group(1).strip() for product in products if product is not None]
    least = min(len(name) for name in names)
    return names[0][:least] == names[1][:least]


def choose_output(outputs: Sequence[OutputDevice], wanted: str, measuring: str) -> OutputDevice:
    """The output to play on.

    Args:
        outputs: What there is.
        wanted: The name that a person chose; empty: the system's.
        measuring: The device that is assigned to measurement; empty: none.

    Raises:
        NoSound: When there is none, or none that may be used.
    """
    if not outputs:
        raise NoSound("No sound: this computer has no sound output.")
    if not measuring:
        allowed = list(outputs)
    else:
        allowed = [one for one in outputs if not one.routed and not same_device(one.name, measuring)]
    if not allowed:
        raise NoSound("Muted: the only sound output is assigned to measurement.")
    if wanted:
        found = next((one for one in allowed if one.name == wanted), None)
        found = found or next((one for one in allowed if same_device(one.name, wanted)), None)
        if found is None and any(same_device(one.name, wanted) for one in outputs):
            raise NoSound("Muted: the chosen output may lead to the measuring device.")
        if found is None:
            raise NoSound(f"No sound: {wanted} is not there; choose another output.")
        return found
    return next((one for one in allowed if one.default), allowed[0])


class PortAudio:
    """The outputs that PortAudio finds."""

    def outputs(self) -> tuple[OutputDevice, ...]:
        """See `SoundDevices.outputs`."""
        library = _library()
        try:
            interfaces = library.query_hostapis()
            listed = list(library.query_devices())
            default = library.default.device[1]
        except library.PortAudioError as error:
            raise NoSound(f"No sound: the sound system does not answer ({error}).") from None
        return tuple(
            OutputDevice(
                index=index,
                name=one["name"],
                channels=int(one["max_output_channels"]),
                rate=float(one["default_samplerate"]),
                default=index == default,
                routed=_is_routed(one["name"], interfaces[one["hostapi"]]["name"]),
            )
            for index, one in enumerate(listed)
            if one["max_output_channels"] > 0
        )

    def open(self, device: OutputDevice, fill: Fill) -> OpenOutput:
        """See `SoundDevices.open`."""
        return _PortAudioOutput(device, fill)


def _is_routed(name: str, interface: str) -> bool:
    """Whether the system decides where this output leads."""
    if interface == "ALSA":
        return "(hw:" not in name
    if "JACK" in interface or "Pulse" in interface:
        return True
    return name.startswith(("Microsoft Sound Mapper", "Primary Sound"))


def _library() -> Any:
    try:
        import sounddevice
    except ImportError:
        raise NoSound("No sound: the package sounddevice is not installed.") from None
    except OSError:
        raise NoSound("No sound: the library PortAudio is missing (Debian: libportaudio2).") from None
    return sounddevice


class _PortAudioOutput:
    """A stream that asks for samples in PortAudio's own thread."""

    def __init__(self, device: OutputDevice, fill: Fill) -> None:
        library = _library()
        self._fill = fill
        self._failed = False
        self._fade = FadeOut(device.rate)
        try:
            self._stream = library.OutputStream(
                samplerate=device.rate,
                device=device.index,
                channels=min(2, device.channels),
                dtype="float32",
                latency="low",
                callback=self._asked,
            )
            self._stream.start()
        except (library.PortAudioError, ValueError) as error:
            raise NoSound(f"No sound: {device.name} cannot be opened ({_words(error)}).") from None

    @property
    def alive(self) -> bool:
        """See `OpenOutput.alive`."""
        try:
            return bool(self._stream.active) and not self._failed
        except _library().PortAudioError:
            return False

    @property
    def latency_s(self) -> float:
        """See `OpenOutput.latency_s`."""
        return float(self._stream.latency)

    def close(self) -> None:
        """See `OpenOutput.close`; what is heard fades first, unless the device is gone."""
        self._fade.wanted.set()
        if self.alive and self._fade.done.wait(FADING_S):
            time.sleep(min(FADING_S, self.latency_s))  # until the last of it is out of the buffers
        self._stream.close(ignore_errors=True)

    def _asked(self, out: Any, count: int, _time: Any, _status: Any) -> None:
        """Fill every loudspeaker alike: one ear is enough."""
        try:
            filled = self._fill(count).astype(np.float32)
            self._fade.over(filled)
            out[:] = filled[:, None]
        except Exception:  # an error in here would end in PortAudio's thread, where nobody sees it
            out[:] = 0.0
            self._failed = True


def _words(error: Exception) -> str:
    """What PortAudio says, without its number."""
    return re.sub(r"\s*\[PaErrorCode[^]]*\]", "", str(error)).strip() or type(error).__name__
