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
    made.add_argument(
        "--level-meter",
        metavar="ADDRESS",
        help="a multimeter that reads AC volts, from now on",
    )
    made.add_argument(
        "--level-band",
        type=_positive,
        nargs=2,
        metavar=("LOW", "HIGH"),
        help="from how many hertz to how many its AC volts are right, as its manual says",
    )
    made.add_argument(
        "--level-responding",
        choices=("true-rms", "average"),
        help="how it forms them; average is right for a sine alone",
    )
    made.add_argument("--level", action="store_true", help="read the AC volts of that multimeter once")
    made.add_argument("--output-volts", type=_positive, help="peak volts out for a full-scale sample")
    made.add_argument("--input-volts", type=_positive, help="peak volts in for a full-scale sample")
    made.add_argument("--divider", type=_positive, help="volts at the amplifier for one volt at the input")
    made.add_argument("--rate", type=_positive, metavar="HZ", help="samples a second, from now on")
