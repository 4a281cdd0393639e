"""The devices for measuring as the settings name them, and captures kept beside the journal."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np

from app.bench.audio.desk import AudioDesk, Posting
from app.records.attachments import keep
from app.settings import AudioChoice, Settings
from drivers.audio.capture import Capture
from drivers.audio.sound_device import DeviceNames, Scales, path_opener

KEPT_S = 1.5
"""Captures at least this long are kept: single tones of a response would only fill the disk."""


def scales_of(audio: AudioChoice) -> Scales:
    """The scales that were remembered."""
    return Scales(audio.output_volts, audio.input_volts, audio.divider)


def measuring_desk(settings: Settings, inbox: Posting, folder: Path) -> AudioDesk:
    """A desk on the chosen sound devices, which keeps what it records in the session's folder."""
    audio = settings.audio
    opener = path_opener(DeviceNames(audio.recorder, audio.generator), scales_of(audio), audio.rate_hz)
    return AudioDesk(
        opener, inbox, mains_hz=float(settings.mains_hz), keep=lambda capture: kept(folder, capture)
    )


def kept(folder: Path, capture: Capture) -> str:
    """Keep a capture as a lossless file; its digest, empty where it is short or cannot be kept."""
    if capture.seconds < KEPT_S or not np.isfinite(capture.full_scale_volts):
        return ""
    try:
        import soundfile

        content = io.BytesIO()
        samples = np.clip(capture.volts / capture.full_scale_volts, -1.0, 1.0)
        soundfile.write(content, samples, round(capture.rate_hz), format="FLAC", subtype="PCM_24")
        return keep(folder, content.getvalue(), ".flac").digest
    except (ImportError, OSError, RuntimeError, ValueError):
        return ""  # the figures stand without it; a full disk must not end a measurement
