"""Recordings made elsewhere: WAV (also its big-endian and 64-bit kinds), FLAC and AIFF, lossless only.

The samples are decoded by libsndfile; the header is looked at here first, because a decoder reads what is
left of a file that was cut short without a word.
"""

from __future__ import annotations

import io
import os
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from drivers.audio.capture import Capture
from drivers.audio.refusal import AudioRefused

_BITS = {"PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32, "FLOAT": 0, "DOUBLE": 0}
_KINDS = {"WAV", "WAVEX", "RF64", "W64", "FLAC", "AIFF"}
_RIFF = {b"RIFF": "<", b"RF64": "<", b"RIFX": ">"}
_UNKNOWN_SIZE = 0xFFFFFFFF
_MOST_SAMPLES = 2**27  # a gibibyte as numbers
PRACTISED = "practice on the simulated bench, no real amplifier"
"""Stands in the comment of a recording that was made there."""


@dataclass(slots=True)
class _Header:
    """What the chunks of a WAV file say; zeros where a chunk is missing."""

    channels: int = 0
    frame_bytes: int = 0
    bits: int = 0
    data_bytes: int = -1
    present_bytes: int = 0


def read_recording(
    path: Path, full_scale_volts: float = 1.0, names: tuple[str, ...] = ()
) -> tuple[Capture, ...]:
    """All channels of a file, each as a capture.

    Args:
        path: the file.
        full_scale_volts: the voltage at the amplifier that a sample of 1 stands for.
        names: what the channels are called; `left` and `right`, or numbers, where not given.

    Raises:
        AudioRefused: not there, not a lossless recording, or a header that contradicts the file.
    """
    remark = _checked_header(path)
    samples, rate_hz, bits, practice = _decoded(path)
    named = names or (("left", "right") if samples.shape[1] == 2 else ())
    return tuple(
        Capture(
            np.ascontiguousarray(samples[:, index]) * full_scale_volts,
            rate_hz,
            named[index] if index < len(named) else f"channel {index + 1}",
            full_scale_volts if bits else float("inf"),
            bits,
            remarks=(remark,) if remark else (),
            practice=practice,
        )
        for index in range(samples.shape[1])
    )


def flac_of(capture: Capture) -> bytes:
    """The content of a FLAC file of a capture, 24 bits of its full scale, which must be finite.

    Raises:
        ImportError, OSError, RuntimeError, ValueError: it cannot be written.
    """
    import soundfile

    content = io.BytesIO()
    samples = np.clip(capture.volts / capture.full_scale_volts, -1.0, 1.0)
    with soundfile.SoundFile(content, "w", round(capture.rate_hz), 1, "PCM_24", format="FLAC") as file:
        if capture.practice:
            file.comment = PRACTISED
        file.write(samples)
    return content.getvalue()


def _decoded(path: Path) -> tuple[np.ndarray, float, int, bool]:
    """Samples of shape (n, channels), their rate, bits, and whether they say that they are of practice."""
    try:
        import soundfile
    except (ImportError, OSError) as missing:
        raise AudioRefused(
            f"{path.name} cannot be read: the package soundfile is not here ({missing}); "
            "install it with `pip install soundfile`."
        ) from missing
    try:
        with soundfile.SoundFile(path) as file:
            kind, coding = file.format, file.subtype
            if kind not in _KINDS or coding not in _BITS:
                raise AudioRefused(
                    f"{path.name} is coded as {kind} {coding}, which changes the signal by itself; "
                    "record it as WAV with 16, 24 or 32 bits, or as float."
                )
            if file.frames * file.channels > _MOST_SAMPLES:
                raise AudioRefused(
                    f"{path.name} holds {file.frames / file.samplerate:.0f} s, more than can be measured at "
                    "once; cut out the part in question, some seconds are enough."
                )
            samples = file.read(dtype="float64", always_2d=True)
            practice = PRACTISED in _comment(file)
            return samples, float(file.samplerate), _BITS[coding], practice
    except soundfile.LibsndfileError as error:
        raise AudioRefused(
            f"{path.name} cannot be read as a recording ({str(error.error_string).rstrip('.')}); "
            "save it again as WAV with 16, 24 or 32 bits."
        ) from error


def _comment(file: Any) -> str:
    try:
        return str(file.comment)
    except UnicodeDecodeError:  # somebody else's words in another encoding
        return ""


def _checked_header(path: Path) -> str:
    """Refuse a header that contradicts itself; return a sentence about a file that was cut short."""
    try:
        with open(path, "rb") as file:
            start = file.read(12)
            if not start:
                raise AudioRefused(f"{path.name} is empty; record it again.")
            if start[:4] not in _RIFF or start[8:] != b"WAVE":
                return ""  # another kind: libsndfile decides
            header = _chunks(file, _RIFF[start[:4]], path.stat().st_size)
    except OSError as error:
        raise AudioRefused(
            f"{path} cannot be opened ({error.strerror}); check the name and that it may be read."
        ) from error
    if header.data_bytes < 0:
        raise AudioRefused(
            f"{path.name} ends before its samples begin ({path.stat().st_size} bytes); record it again."
        )
    bytes_a_sample = -(-header.bits // 8)
    if header.bits and header.frame_bytes != header.channels * bytes_a_sample:
        raise AudioRefused(
            f"the header of {path.name} contradicts itself: {header.channels} channels of {header.bits} bits "
            f"cannot take {header.frame_bytes} bytes a frame; save it again."
        )
    if header.present_bytes < header.data_bytes:
        frames, there = (n // max(1, header.frame_bytes) for n in (header.data_bytes, header.present_bytes))
        return f"{path.name} was cut short: {there} of {frames} frames are there"
    return ""


def _chunks(file: BinaryIO, order: str, size: int) -> _Header:
    """Walk the chunks up to the samples."""
    header, large_data = _Header(), 0
    while len(start := file.read(8)) == 8:
        name, length = struct.unpack(f"{order}4sI", start)
        if name == b"data":
            header.data_bytes = large_data if length == _UNKNOWN_SIZE else length
            header.present_bytes = min(header.data_bytes, size - file.tell())
            return header
        if name not in (b"ds64", b"fmt "):
            file.seek(length + length % 2, os.SEEK_CUR)  # of any size, and no business of the header
            continue
        body = file.read(length + length % 2)
        if name == b"ds64" and len(body) >= 16:
            large_data = struct.unpack(f"{order}8xQ", body[:16])[0]
        elif name == b"fmt " and len(body) >= 16:
            _, header.channels, _, _, header.frame_bytes, header.bits = struct.unpack(
                f"{order}HHIIHH", body[:16]
            )
    return header
