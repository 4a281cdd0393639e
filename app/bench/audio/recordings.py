"""Captures kept beside the journal, and whether a recording was made in practice.

A recording of the simulated bench says so itself, in its comment; one from before that is known by its place.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from app.records.attachments import ATTACHMENTS, keep
from app.records.session_folder import past_session
from drivers.audio.capture import Capture
from drivers.audio.wav_file import flac_of

KEPT_S = 1.5
"""Captures at least this long are kept: single tones of a response would only fill the disk."""


def kept(folder: Path, capture: Capture) -> str:
    """Keep a capture as a lossless file; its digest, empty where it is short or cannot be kept."""
    if capture.seconds < KEPT_S or not np.isfinite(capture.full_scale_volts):
        return ""
    try:
        return keep(folder, flac_of(capture), ".flac").digest
    except (ImportError, OSError, RuntimeError, ValueError):
        return ""  # the figures stand without it; a full disk must not end a measurement


def kept_in_practice(folder: Path) -> Callable[[Capture], str]:
    """What keeps captures of the simulated bench, each marked as such."""
    return lambda capture: kept(folder, replace(capture, practice=True))


def lies_in_practice(path: Path) -> bool:
    """Whether a file lies in the folder of a session that was practice."""
    folder = path.resolve().parent
    header = past_session(folder.parent if folder.name == ATTACHMENTS else folder).header
    return header is not None and header.practice
