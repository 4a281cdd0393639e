"""What the command `audio` may be asked."""

from __future__ import annotations

import argparse
import math
from pathlib import Path


def _positive(text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and value > 0.0):
        raise argparse.ArgumentTypeError(f"{text!r} is no number above zero")
    return value


def add_audio_options(made: argparse.ArgumentParser) -> None:
    """Files to measure, the loop-back, and the devices with their scales."""
    made.add_argument("file", nargs="*", type=Path, help="recordings to measure (WAV, FLAC, AIFF)")
    made.add_argument(
        "--full-scale",
        type=_positive,
        metavar="VOLTS",
        help="peak volts at the amplifier that a full-scale sample of the recording stands for",
    )
    made.add_argument(
        "--load", type=_positive, default=8.0, metavar="OHM", help="measured resistance of the load"
    )
    made.add_argument(
        "--noise", action="store_true", help="the recording holds no signal: noise, hum and offset"
    )
    made.add_argument(
        "--picture", type=Path, metavar="PNG", help="draw the spectrum of the first channel there"
    )
    made.add_argument(
        "--loop-back",
        action="store_true",
        help="generator connected to recorder: the floor of this set-up, its response and its delay",
    )
    made.add_argument(
        "--recorder", metavar="NAME", help="the sound device or address that records, from now on"
    )
    made.add_argument(
        "--generator", metavar="NAME", help="the sound device or address that plays, from now on"
    )
    made.add_argument("--output-volts", type=_positive, help="peak volts out for a full-scale sample")
    made.add_argument("--input-volts", type=_positive, help="peak volts in for a full-scale sample")
    made.add_argument("--divider", type=_positive, help="volts at the amplifier for one volt at the input")
    made.add_argument("--rate", type=_positive, metavar="HZ", help="samples a second, from now on")
