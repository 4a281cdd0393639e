"""What a workshop may choose, declared once: each with its default and range, kept in one JSON file.

A file that cannot be understood is set aside beside itself and the defaults are used; settings never stop
the program.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from app.records.places import default_sessions_folder
from app.records.whole_file import write_whole
from drivers.meter import MeterAccuracy, MeterFacts, same_instrument

VERSION = 1
MOST_REMEMBERED = 20
MOST_DECLARED = 200
DISPLAY_TOLD = "declared for the display that is read off"


class RememberedMeter(BaseModel):
    """A meter that was used before: what its probes touched, who it said it was, and its figures.

    `pattern` and `unit` are what the lines of a stream look like; `channel` may name several inputs, as
    `app.bench.real_meters.reads_of` takes them. `ground_referenced` is what was told about the outputs that
    it is clipped to.
    """

    model_config = ConfigDict(frozen=True, extra="ignore")

    name: Annotated[str, Field(min_length=1, max_length=60)]
    address: Annotated[str, Field(min_length=1, max_length=300)]
    identity: Annotated[str, Field(max_length=300)] = ""
    channel: Annotated[str, Field(min_length=1, max_length=300)] = "left bias"
    accuracy: MeterAccuracy | None = None
    dialect: Annotated[str, Field(max_length=60)] = ""
    pattern: Annotated[str, Field(max_length=1000)] = ""
    unit: Annotated[str, Field(max_length=10)] = ""
    ground_referenced: bool = False

    def as_met(self, facts: MeterFacts) -> RememberedMeter:
        """The same with what it said when it was reached; what a person told of its figures stands."""
        figures = None if facts.accuracy == MeterAccuracy() else facts.accuracy
        if self.accuracy is not None and self.accuracy.declared_by == DISPLAY_TOLD:
            figures = self.accuracy
        return self.model_copy(
            update={
                "identity": facts.identity[:300],
                "accuracy": figures or self.accuracy,
                "dialect": facts.dialect,
            }
        )


class DeclaredInput(BaseModel):
    """What a person said about an instrument once: whether its input is isolated from earth.

    `identity` is who answered at the address then; empty: nobody had yet. The address `typed` stands for the
    display that a person reads off.
    """

    model_config = ConfigDict(frozen=True, extra="ignore")

    address: Annotated[str, Field(min_length=1, max_length=300)]
    isolated: bool
    identity: Annotated[str, Field(max_length=300)] = ""


class ChannelSound(BaseModel):
    """How loudly a channel's trimmer is guided, beside the volume of everything."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    channel: Annotated[str, Field(min_length=1, max_length=60)]
    volume: float = Field(1.0, ge=0.0, le=1.0)
    muted: bool = False


class SoundChoice(BaseModel):
    """What is heard, how loudly, and where; `measuring` names the device that no sound may go to."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    volume: float = Field(0.7, ge=0.0, le=1.0, description="of everything; 1 is as loud as it goes")
    muted: bool = Field(False, description="nothing is heard, alarms included")
    output: str = Field("", max_length=200, description="the sound output; empty: the system's")
    measuring: str = Field("", max_length=200, description="the sound device assigned to measurement")
    speech: bool = Field(False, description="instructions are spoken where the system can")
    channels: tuple[ChannelSound, ...] = Field((), max_length=MOST_REMEMBERED)

    def loudness(self, channel: str) -> float:
        """The volume with which a channel is guided."""
        own = next((one for one in self.channels if one.channel == channel), None)
        if own is None:
            return self.volume
        return 0.0 if own.muted else self.volume * own.volume


class AudioChoice(BaseModel):
    """The generator and recorder for measuring: sound devices by name, and what their samples mean in volts.

    `output_volts` is the peak voltage at the generator's output for a full-scale sample, `input_volts` that
    at the recorder's input; `divider` is volts at the amplifier for one volt at the input.
    """

    model_config = ConfigDict(frozen=True, extra="ignore")

    recorder: str = Field("", max_length=200, description="the sound device or VISA address that records")
    generator: str = Field("", max_length=200, description="the sound device or VISA address that plays")
    output_volts: float = Field(1.0, gt=0.0, le=100.0, description="peak volts out for a full-scale sample")
    input_volts: float = Field(1.0, gt=0.0, le=1000.0, description="peak volts in for a full-scale sample")
    divider: float = Field(
        1.0, ge=1.0, le=10_000.0, description="volts at the amplifier for one at the input"
    )
    rate_hz: float = Field(48_000.0, ge=8_000.0, le=768_000.0, description="samples a second")
    floor_thd: float | None = Field(None, ge=0.0, le=1.0, description="what the set-up itself distorts")
    floor_thd_plus_noise: float | None = Field(None, ge=0.0, le=1.0)
    floor_noise_a_volts: float | None = Field(
        None, ge=0.0, le=1000.0, description="A-weighted, at the divider"
    )
    floor_measured: str = Field("", max_length=40, description="when the floor was measured; empty: never")
    level_meter: str = Field("", max_length=300, description="address of a multimeter that reads AC volts")
    level_low_hz: float | None = Field(None, gt=0.0, le=1e6, description="its bandwidth, as was told")
    level_high_hz: float | None = Field(None, gt=0.0, le=1e9)
    level_responding: Literal["true rms", "average", ""] = ""
    calibrated: str = Field("", max_length=300, description="how the scales were found, and when")

    @property
    def chosen(self) -> bool:
        """Whether devices for measuring were chosen at all."""
        return bool(self.recorder or self.generator)


class CalibrationDue(BaseModel):
    """When an instrument is to be calibrated again, as its owner says; `identity` is how it names itself."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    identity: Annotated[str, Field(min_length=1, max_length=300)]
    due: date
    certificate: Annotated[str, Field(max_length=300)] = ""


class Letterhead(BaseModel):
    """What stands at the head of a report: the workshop's own name, its address, its picture."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    name: str = Field("", max_length=200)
    address: str = Field("", max_length=500)
    picture: str = Field("", max_length=1000, description="a PNG or JPEG file")
    paper: Literal["A4", "Letter"] = "A4"


class Settings(BaseModel):
    """Everything a workshop may choose."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    version: int = VERSION
    sessions_folder: str = Field("", description="where session folders are kept; empty: the usual place")
    mains_hz: Literal[50, 60] = Field(50, description="mains frequency, which meters must reject")
    visa_library: str = Field("@py", max_length=300, description="which VISA carries USB, GPIB, HiSLIP")
    settled_limit: float = Field(0.03, ge=0.005, le=0.2, description="change that still counts as settled")
    settled_horizon_s: float = Field(900.0, ge=60.0, le=7200.0, description="how far ahead it must hold")
    practice_speed: float = Field(1.0, ge=0.5, le=120.0, description="speed of the simulated bench")
    archive: str = Field("", max_length=300, description="address of the archive, no password; empty: a file")
    tour_seen: bool = Field(False, description="whether the tour was shown")
    last_amplifier: str = Field("", max_length=200, description="on which a guided job was begun last")
    last_procedure: str = Field("", max_length=1000, description="which was carried out last")
    language: str = Field("", max_length=16, description="language of the window; empty: the system's")
    appearance: Literal["system", "light", "dark", "high contrast"] = "system"
    decimal_sign: Literal["system", "point", "comma"] = Field(
        "system", description="of numbers that are shown"
    )
    foot_key: str = Field("", max_length=40, description="a key that does what Space does at work")
    window_geometry: str = Field("", max_length=4000, description="where the window stood, as text")
    meters: tuple[RememberedMeter, ...] = Field((), max_length=MOST_REMEMBERED)
    typing_every_s: float = Field(60.0, ge=0.0, le=3600.0, description="how often a typed value is asked for")
    display: MeterAccuracy | None = Field(None, description="figures of the display that a person reads off")
    display_ground_referenced: bool = False
    inputs: tuple[DeclaredInput, ...] = Field((), max_length=MOST_DECLARED)
    sound: SoundChoice = SoundChoice()
    audio: AudioChoice = AudioChoice()
    letterhead: Letterhead = Letterhead()
    calibrations: tuple[CalibrationDue, ...] = Field((), max_length=MOST_DECLARED)

    def sessions_path(self) -> Path:
        """The folder for session folders."""
        return Path(self.sessions_folder).expanduser() if self.sessions_folder else default_sessions_folder()

    def remembering(self, meter: RememberedMeter) -> Settings:
        """These settings with a meter as the most recently used one."""
        others = tuple(known for known in self.meters if known.address != meter.address)
        return self.model_copy(update={"meters": (meter, *others)[:MOST_REMEMBERED]})

    def having_met(self, facts: Mapping[str, MeterFacts]) -> Settings:
        """These settings with who answered at the addresses, and what their figures are."""
        meters = tuple(
            known.as_met(facts[known.address]) if known.address in facts else known for known in self.meters
        )
        inputs = tuple(
            said.model_copy(update={"identity": facts[said.address].identity[:300]})
            if said.address in facts and not said.identity
            else said
            for said in self.inputs
        )
        return self.model_copy(update={"meters": meters, "inputs": inputs})

    def with_audio(self, audio: AudioChoice) -> Settings:
        """These settings with other devices for measuring, which no guiding sound may then go to."""
        measuring = audio.generator or audio.recorder
        sound = self.sound.model_copy(update={"measuring": measuring}) if measuring else self.sound
        return self.model_copy(update={"audio": audio, "sound": sound})

    # --- what was said about earth --------------------------------------------------------------------

    def declared_input(self, address: str, identity: str = "") -> DeclaredInput | None:
        """What was said about the instrument: at this address, else wherever it had that identity."""
        here = next((said for said in self.inputs if said.address == address), None)
        if here is not None and not (
            identity and here.identity and not same_instrument(here.identity, identity)
        ):
            return here
        if not identity:
            return None
        return next((s for s in self.inputs if s.identity and same_instrument(s.identity, identity)), None)

    def declaring(self, said: DeclaredInput) -> Settings:
        """These settings with what a person said about an input, in place of what was said before."""
        others = tuple(one for one in self.inputs if one.address != said.address)
        return self.model_copy(update={"inputs": (said, *others)[:MOST_DECLARED]})

    # --- instruments and their calibration ------------------------------------------------------------

    def calibration_of(self, identity: str) -> CalibrationDue | None:
        """When the instrument of this identity is to be calibrated again; None where nobody has said."""
        return next((one for one in self.calibrations if same_instrument(one.identity, identity)), None)

    def calibrated(self, due: CalibrationDue) -> Settings:
        """These settings with what a person said about a calibration, in place of what was said before."""
        others = tuple(one for one in self.calibrations if not same_instrument(one.identity, due.identity))
        return self.model_copy(update={"calibrations": (due, *others)[:MOST_DECLARED]})

    def asking_again(self, address: str) -> Settings:
        """These settings without what was said about the input at an address: another instrument is there."""
        others = tuple(one for one in self.inputs if one.address != address)
        return self.model_copy(update={"inputs": others})


def load_settings(path: Path) -> tuple[Settings, str]:
    """Read the settings; a sentence is added where they had to be set aside, else it is empty."""
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return Settings(), ""
    except (OSError, UnicodeDecodeError) as error:
        return _set_aside(path, str(error))
    try:
        return Settings.model_validate_json(text), ""
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        return _set_aside(path, f"{where + ': ' if where else ''}{first['msg']}", _without(text, error))


def _without(text: str, error: ValidationError) -> Settings:
    """The settings less those entries that cannot be used; a slip costs nothing else."""
    try:
        entries = json.loads(text)
        places = {problem["loc"][: 1 + _in_list(problem["loc"])] for problem in error.errors()}
        for place in sorted(places, key=lambda one: (str(one[0]), *one[1:]), reverse=True):
            held = entries if len(place) == 1 else entries[place[0]]
            del held[place[-1]]
        return Settings.model_validate(entries)
    except (KeyError, IndexError, TypeError, ValueError, RecursionError):
        return Settings()


def _in_list(place: tuple[int | str, ...]) -> bool:
    return len(place) > 1 and isinstance(place[1], int)


def save_settings(path: Path, settings: Settings) -> None:
    """Write the settings whole or not at all, less what could not be read again. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    text = settings.model_dump_json(indent=2)
    try:
        Settings.model_validate_json(text)
    except ValidationError as error:
        text = _without(text, error).model_dump_json(indent=2)
    write_whole(path, text.encode("utf-8") + b"\n")


def _set_aside(path: Path, reason: str, rest: Settings | None = None) -> tuple[Settings, str]:
    aside = path.with_suffix(".unreadable")
    try:
        os.replace(path, aside)
        where = f" and are now in {aside}"
    except OSError:
        where = ""
    if rest is None or rest == Settings():
        return Settings(), f"The settings could not be read ({reason}){where}; the usual ones are in use."
    return rest, f"Some settings could not be read ({reason}){where}; the usual ones are in use for these."
