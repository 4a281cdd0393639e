"""The command `audio`: recordings measured, the devices for measuring, and the floor of the set-up.

`python3 -m app audio FILE` needs no device at all.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from app.bench.audio.devices import (
    checked_choice,
    floor_of,
    meter_of,
    own_instruments,
    scales_of,
    without_stale_floor,
)
from app.bench.audio.recordings import lies_in_practice
from app.settings import AudioChoice, Settings
from app.settings_file import SettingsFile
from drivers.audio.capture import Capture
from drivers.audio.refusal import AudioRefused
from drivers.audio.scpi_path import is_address
from drivers.audio.sound_device import listed_devices
from drivers.audio.wav_file import PRACTISED, read_recording
from drivers.reading import Unit
from procedures.analysis.audio.distortion import distortion
from procedures.analysis.audio.fitness import CannotMeasure
from procedures.analysis.audio.hum import hum
from procedures.analysis.audio.level import DBU_VOLTS, decibels, offset_volts, rms, watts
from procedures.analysis.audio.weighting import Weighting, noise
from procedures.analysis.figures import figure

Row = tuple[str, str, str]


def carry_out_audio(chosen: argparse.Namespace, settings: Settings, settings_file: Path) -> int:
    """Measure, look or remember; 1 where something could not be measured. Raises OSError."""
    console = Console(highlight=False, markup=False, soft_wrap=False)
    try:
        told = checked_choice(_with_options(chosen, settings.audio))
        audio = without_stale_floor(told, settings.audio)
    except AudioRefused as refused:
        print(_sentence(refused), file=sys.stderr)
        return 1
    for sentence in own_instruments()[1]:
        print(sentence, file=sys.stderr)
    file = SettingsFile(settings_file, settings)
    if audio != settings.audio:
        file.keep(settings.with_audio(audio))
        print("The devices and scales for measuring are remembered.")
    try:
        if chosen.file:
            return max(_measure_file(path, chosen, settings, console) for path in chosen.file)
        if chosen.level:
            _read_level(audio, settings)
            return 0
        if chosen.loop_back:
            audio = _loop_back(audio, settings, console)
            file.keep(settings.with_audio(audio))
            return 0
        _list_devices(audio, console)
    except (AudioRefused, CannotMeasure) as refused:
        print(_sentence(refused), file=sys.stderr)
        return 1
    return 0


def _sentence(refused: Exception) -> str:
    words = str(refused)
    return words[:1].upper() + words[1:]


def _with_options(chosen: argparse.Namespace, audio: AudioChoice) -> AudioChoice:
    given = {
        "recorder": chosen.recorder,
        "generator": chosen.generator,
        "output_volts": chosen.output_volts,
        "input_volts": chosen.input_volts,
        "divider": chosen.divider,
        "rate_hz": chosen.rate,
    }
    if chosen.level_meter is not None and chosen.level_meter != audio.level_meter:
        # What was told of another meter does not hold for this one.
        given |= {"level_meter": chosen.level_meter, "level_responding": ""}
        audio = audio.model_copy(update={"level_low_hz": None, "level_high_hz": None})
    if chosen.level_band is not None:
        given["level_low_hz"], given["level_high_hz"] = sorted(chosen.level_band)
    if chosen.level_responding is not None:
        given["level_responding"] = chosen.level_responding.replace("-", " ")
    told = {key: value for key, value in given.items() if value is not None}
    return AudioChoice.model_validate(audio.model_dump() | told)


# --- recordings -------------------------------------------------------------------------------------------


def _measure_file(path: Path, chosen: argparse.Namespace, settings: Settings, console: Console) -> int:
    worst = 0
    try:
        captures = _marked(path, read_recording(path, chosen.full_scale or 1.0))
    except AudioRefused as refused:
        print(refused, file=sys.stderr)
        return 1
    if chosen.full_scale is None:
        print("Without --full-scale a full-scale sample counts as 1 V: ratios are right, volts are not.")
    if any(capture.practice for capture in captures):
        print(f"{path.name}: {PRACTISED}.")
    for capture in captures:
        console.print(Text.assemble((f"{path.name}, {capture.channel}", "bold"), f", {_taken(capture)}"))
        try:
            _print(
                console,
                list(
                    noise_rows(capture, settings.mains_hz)
                    if chosen.noise
                    else tone_rows(capture, chosen.load)
                ),
            )
        except CannotMeasure as refused:
            print(_sentence(refused), file=sys.stderr)
            worst = 1
        for remark in capture.remarks:
            print(f"{_sentence(Exception(remark))}.")
    if chosen.picture is not None and captures:
        from app.reports.audio_pictures import spectrum_picture
        from app.reports.curve_picture import write_curves_png

        write_curves_png(chosen.picture, spectrum_picture(captures))
        print(f"The spectrum was drawn in {chosen.picture}.")
    return worst


def _marked(path: Path, captures: tuple[Capture, ...]) -> tuple[Capture, ...]:
    """The captures, marked as practice where the file lies in such a session."""
    if not lies_in_practice(path):
        return captures
    return tuple(replace(capture, practice=True) for capture in captures)


def _taken(capture: Capture) -> str:
    bits = f", {capture.bits} bit" if capture.bits else ""
    return f"{capture.seconds:.3g} s at {capture.rate_hz / 1000:g} kHz{bits}"


def tone_rows(capture: Capture, load_ohm: float) -> Iterator[Row]:
    """What a capture with one tone shows: name, value, conditions.

    Raises:
        CannotMeasure: it is not fit, or holds no tone.
    """
    found = distortion(capture)
    level = rms(capture)
    yield "tone", f"{found.fundamental.hz:.4f} Hz", ""
    yield (
        "level",
        f"{figure(level)} rms",
        f"{decibels(level, DBU_VOLTS):+.2f} dBu, {decibels(level, 1.0):+.2f} dBV",
    )
    yield "power", figure(watts(level, load_ohm), Unit.WATT), f"into {load_ohm:g} Ω, V²/R"
    floor = "below the noise" if found.below_floor else f"noise alone: {_share(found.thd_floor)}"
    if found.harmonics:
        yield "THD", _share(found.thd), f"{found.conditions.formula}; {floor}"
    else:
        yield "THD", "not measured", "no harmonic lies in the band"
    yield "THD+N", _share(found.thd_plus_noise), found.noise_conditions.sentence()
    for order, line in enumerate(found.harmonics[:4], start=2):
        yield f"harmonic {order}", _share(line.volts / found.fundamental.volts), f"{line.hz:.5g} Hz"
    yield "DC offset", figure(offset_volts(capture)), ""


def noise_rows(capture: Capture, mains_hz: float) -> Iterator[Row]:
    """What a capture without a signal shows; raises CannotMeasure when it is not fit."""
    for weighting in (Weighting.NONE, Weighting.A, Weighting.BS468):
        found = noise(capture, weighting)
        yield (
            "noise",
            figure(found.volts),
            f"{weighting}, {found.low_hz:g} Hz to {found.high_hz / 1000:g} kHz",
        )
    lines = hum(capture, mains_hz)
    yield "hum", figure(lines.volts), f"all lines of {mains_hz:g} Hz that stand out of the noise"
    for line in lines.lines:
        yield f"{line.multiple * mains_hz:g} Hz", figure(line.tone.volts), line.may_mean
    yield "DC offset", figure(offset_volts(capture)), ""


def _share(ratio: float) -> str:
    decibel = f"{20 * math.log10(ratio):.1f} dB" if ratio > 0.0 else "nothing"
    return f"{figure(100 * ratio, Unit.PERCENT)} ({decibel})"


def _print(console: Console, rows: list[Row]) -> None:
    table = Table(box=None, show_header=False, pad_edge=False)
    table.add_column()
    table.add_column(justify="right", no_wrap=True)
    table.add_column(style="dim")
    for row in rows:
        table.add_row(*row)
    console.print(table)


# --- devices ----------------------------------------------------------------------------------------------


def _list_devices(audio: AudioChoice, console: Console) -> None:
    table = Table(box=None, pad_edge=False)
    for heading in ("device", "records", "plays", "samples/s"):
        table.add_column(heading, justify="left" if heading == "device" else "right")
    if not is_address(audio.recorder + audio.generator):
        for name, records, plays, rate in listed_devices():
            table.add_row(name, str(records), str(plays), f"{rate:g}")
        console.print(table)
    scales = scales_of(audio)
    recorder, generator = audio.recorder or "the system’s recorder", audio.generator or "the system’s output"
    print(
        f"For measuring: {recorder}, {generator}; "
        f"{audio.rate_hz:g} samples a second; {scales.output_volts:g} V out at full scale, at the most "
        f"{scales.full_scale_volts:g} V at the amplifier."
    )


def _read_level(audio: AudioChoice, settings: Settings) -> None:
    meter = meter_of(audio, settings.visa_library)
    try:
        volts = meter.read("")
        print(f"{figure(volts)} AC, {meter.name}: {meter.band.words()}.")
    finally:
        meter.close()


def _loop_back(audio: AudioChoice, settings: Settings, console: Console) -> AudioChoice:
    """Say the floor of the set-up, and keep it with the choice: figures below it are marked."""

    def announce(name: str) -> None:
        print(f"{name}: 1 kHz, 3 dB below full scale, then silence. Connect output to input first.")

    found = floor_of(audio, settings.visa_library, announce)
    late = "" if found.late_s is None else f", {1000 * found.late_s:.1f} ms late"
    for loud, quiet in found.pairs:
        console.print(Text.assemble((loud.channel, "bold"), f", {_taken(loud)}{late}"))
        _print(console, [*tone_rows(loud, math.inf), *noise_rows(quiet, settings.mains_hz)])
    print("The floor is remembered; figures of an amplifier that do not stand out of it will say so.")
    return found.kept_in(audio, datetime.now(UTC))
