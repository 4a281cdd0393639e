"""The devices for measuring as the settings name them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from pathlib import Path

from app.bench.audio.desk import AudioDesk, Posting
from app.bench.audio.floor import Floor, floor_figures, measure_floor
from app.bench.audio.recordings import kept
from app.bench.live_bench import LiveBench
from app.records.places import audio_dialects_folder, dialects_folder
from app.settings import AudioChoice, Settings
from drivers.addresses import AddressKind, parse_address
from drivers.audio.dialect import InstrumentDialects, instrument_dialects_in
from drivers.audio.level_meter import AcBand, ScpiLevelMeter
from drivers.audio.path import AudioPath
from drivers.audio.refusal import AudioRefused
from drivers.audio.scpi_path import ScpiPath, is_address
from drivers.audio.sound_device import DeviceNames, Scales, SoundDevicePath, listed_devices
from drivers.errors import AddressError
from drivers.scpi.dialect import dialects_in, shipped_dialects


def scales_of(audio: AudioChoice) -> Scales:
    """The scales that were remembered."""
    return Scales(audio.output_volts, audio.input_volts, audio.divider)


def own_instruments(folder: Path | None = None) -> tuple[InstrumentDialects, tuple[str, ...]]:
    """The user's descriptions of generators and digitisers, and a sentence for each that is passed over."""
    found, problems = instrument_dialects_in([folder or audio_dialects_folder()])
    return found, tuple(f"A description of an instrument is passed over: {one}." for one in problems)


_ROLES = {"recorder": "Recorder", "generator": "Generator", "level_meter": "AC voltmeter"}


def checked_choice(audio: AudioChoice) -> AudioChoice:
    """The same, addresses of instruments as they are spelt. Raises AudioRefused for one that is none."""
    told = {role: getattr(audio, role).strip() for role in ("recorder", "generator", "level_meter")}
    for role, name in told.items():
        if not is_address(name) and (role != "level_meter" or not name):
            continue
        try:
            known = parse_address(name)
        except AddressError as wrong:
            raise AudioRefused(f"{_ROLES[role]}: {wrong}.") from wrong
        if known.kind not in (AddressKind.TCP_LINE, AddressKind.SERIAL, AddressKind.VISA):
            raise AudioRefused(f"{_ROLES[role]}: {known.kind.value} is no instrument at an address.")
        told[role] = known.text
    low, high = audio.level_low_hz, audio.level_high_hz
    if low is not None and high is not None and low >= high:
        raise AudioRefused(f"AC voltmeter: {low:g} Hz is not below {high:g} Hz; are the two swapped?")
    return audio.model_copy(update=told)


def hear_signals(bench: LiveBench, settings: Callable[[], Settings]) -> None:
    """Let a bench of real meters play, record and read levels with the devices that are chosen."""

    def polled() -> Iterable[str]:
        return bench.meter_addresses().values()

    bench.hear(measuring_desk(settings, bench.conductor, bench.record.folder, polled))


_OF_FLOOR = ("recorder", "generator", "output_volts", "input_volts", "divider", "rate_hz")
_NO_FLOOR = {
    "floor_thd": None,
    "floor_thd_plus_noise": None,
    "floor_noise_a_volts": None,
    "floor_measured": "",
}


def without_stale_floor(choice: AudioChoice, before: AudioChoice) -> AudioChoice:
    """The choice, without the floor that was measured with other devices or scales."""
    same = all(getattr(choice, name) == getattr(before, name) for name in _OF_FLOOR)
    return choice if same else choice.model_copy(update=_NO_FLOOR)


def path_of(audio: AudioChoice, visa_library: str = "@py") -> AudioPath:
    """The generator and recorder that were chosen: sound devices, or instruments at VISA addresses.

    A generator at an address may stand alone: an AC voltmeter reads what it drives.

    Raises:
        AudioRefused: they cannot be used, or one is an instrument and the other a sound device.
    """
    instruments = [is_address(audio.generator), is_address(audio.recorder)]
    if instruments[0] and (instruments[1] or not audio.recorder):
        return ScpiPath(
            audio.generator,
            audio.recorder,
            scales_of(audio),
            audio.rate_hz,
            own=own_instruments()[0],
            visa_library=visa_library,
        )
    if any(instruments):
        raise AudioRefused(
            "The generator and the recorder must both be sound devices or both be instruments at addresses; "
            "choose the other one too."
        )
    return SoundDevicePath(DeviceNames(audio.recorder, audio.generator), scales_of(audio), audio.rate_hz)


def meter_of(audio: AudioChoice, visa_library: str = "@py", polled: Iterable[str] = ()) -> ScpiLevelMeter:
    """The AC voltmeter that was chosen, with what was told of its bandwidth.

    Raises:
        AudioRefused: none is chosen, it cannot be reached, or the bench polls it already.
    """
    if not audio.level_meter:
        raise AudioRefused("No AC voltmeter is chosen: give its address under the devices for measuring.")
    if audio.level_meter in polled:
        raise AudioRefused(
            f"{audio.level_meter} is polled for DC volts on this bench and cannot read AC volts meanwhile; "
            "choose another meter."
        )
    own = dialects_in([dialects_folder()])[0]
    return ScpiLevelMeter(
        audio.level_meter, told_band(audio), (*own, *shipped_dialects()), visa_library=visa_library
    )


def told_band(audio: AudioChoice) -> AcBand | None:
    """What a person said of the AC voltmeter; None where nothing was said and its dialect speaks."""
    if audio.level_high_hz is None and not audio.level_responding:
        return None
    return AcBand(audio.level_low_hz, audio.level_high_hz, audio.level_responding, said_by="as was told")


def measuring_desk(
    settings: Callable[[], Settings],
    inbox: Posting,
    folder: Path,
    polled: Callable[[], Iterable[str]] = tuple,
) -> AudioDesk:
    """A desk on the devices chosen when it first plays, which keeps what it records in the folder.

    `polled` are the addresses of meters that the bench reads by itself.
    """

    def opened() -> AudioPath:
        audio = settings().audio
        if not audio.chosen:
            raise AudioRefused(
                "No devices for measuring are chosen: say which sound device records and which one plays."
            )
        return path_of(audio, settings().visa_library)

    mains_hz = float(settings().mains_hz)
    return AudioDesk(
        opened,
        inbox,
        mains_hz=mains_hz,
        keep=lambda capture: kept(folder, capture),
        floor=lambda: floor_figures(settings().audio),
        open_meter=lambda: meter_of(settings().audio, settings().visa_library, polled()),
    )


class MeasuringDevices:
    """What a person may choose about the devices for measuring; asked by the window."""

    def __init__(
        self, choice: AudioChoice, keep: Callable[[AudioChoice], None], visa_library: str = "@py"
    ) -> None:
        self._choice = choice
        self._keep = keep
        self._visa_library = visa_library

    @property
    def choice(self) -> AudioChoice:
        """What is chosen now."""
        return self._choice

    def choose(self, choice: AudioChoice) -> None:
        """Remember another choice; it holds for the next bench. Raises OSError, AudioRefused."""
        self._choice = without_stale_floor(checked_choice(choice), self._choice)
        self._keep(self._choice)

    def passed_over(self) -> tuple[str, ...]:
        """A sentence for each description of an instrument that cannot be used."""
        return own_instruments()[1]

    def names(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Devices that record and devices that play, two channels at least. Takes a moment.

        Raises:
            AudioRefused: with one sentence.
        """
        found = listed_devices()
        recorders = tuple(dict.fromkeys(name for name, records, _, _ in found if records >= 2))
        generators = tuple(dict.fromkeys(name for name, _, plays, _ in found if plays >= 2))
        return recorders, generators

    def floor(self) -> tuple[str, ...]:
        """Play through the loop-back, keep and say what the set-up itself adds; takes some seconds.

        Raises:
            AudioRefused, CannotMeasure: with one sentence.
        """
        found = floor_of(self._choice, self._visa_library)
        self.choose(found.kept_in(self._choice, datetime.now(UTC)))
        return found.sentences()


def floor_of(
    audio: AudioChoice, visa_library: str = "@py", announce: Callable[[str], object] = lambda _: None
) -> Floor:
    """The floor of the chosen devices, generator joined to recorder; see `measure_floor`."""
    path = path_of(audio, visa_library)
    try:
        return measure_floor(path, audio.output_volts, announce)
    finally:
        path.close()
