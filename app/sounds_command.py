"""The command `sounds`: the outputs of this computer, and every sound to hear or to keep as a file."""

from __future__ import annotations

import argparse
import time
import wave
from pathlib import Path

import numpy as np

from app.bench.sound.desk import SoundDesk
from app.bench.sound.devices import NoSound, PortAudio, SoundDevices, choose_output
from app.bench.sound.heard import Alarmed, GuidanceOver, Guiding, Heard, NeedsYou, Settled
from app.bench.sound.synthesis import LEARNT_S, long_enough
from app.settings import SoundChoice
from procedures.events import Tier

FILE_RATE = 48000

SOUNDS: dict[str, tuple[str, Heard]] = {
    "far below": ("turning: the reading is far too low", Guiding(-30.0)),
    "below": ("turning: the reading is a little low", Guiding(-2.0)),
    "inside": ("turning: it is right", Guiding(0.0)),
    "low edge": ("turning: it is right, near the low edge", Guiding(-1.0)),
    "high edge": ("turning: it is right, near the high edge", Guiding(1.0)),
    "above": ("turning: the reading is a little high", Guiding(2.0)),
    "far above": ("turning: the reading is far too high", Guiding(30.0)),
    "guidance over": ("turning is no longer guided; silence says nothing", GuidanceOver()),
    "settled": ("a channel has settled", Settled()),
    "needs you": ("the work waits for you", NeedsYou()),
    "look": ("alarm: look", Alarmed(Tier.LOOK)),
    "act": ("alarm: turn down now, or stop", Alarmed(Tier.ACT)),
    "off": ("alarm: switch the mains off now", Alarmed(Tier.OFF)),
    "lead": ("alarm: a lead is off, or the reading far too high", Alarmed(Tier.LEAD)),
    "blind": ("alarm: a channel is not watched", Alarmed(Tier.BLIND)),
}


def carry_out_sounds(
    chosen: argparse.Namespace, choice: SoundChoice, devices: SoundDevices | None = None
) -> int:
    """List, play or write; 1 when there is no sound. Raises OSError."""
    if chosen.into is not None:
        return _write(chosen.into, choice.volume)
    found = devices or PortAudio()
    if chosen.play:
        return _play(chosen.play, choice, found)
    for name, (words, _) in SOUNDS.items():
        print(f"{name:<14} {words}")
    try:
        outputs = found.outputs()
        used = choose_output(outputs, choice.output, choice.measuring)
    except NoSound as reason:
        print(reason)
        return 0
    print("Outputs (* is used):")
    for one in outputs:
        print(f"{'*' if one == used else ' '} {one.name}")
    return 0


def _play(name: str, choice: SoundChoice, devices: SoundDevices) -> int:
    desk = SoundDesk(choice.model_copy(update={"muted": False}), devices=devices)
    heard = SOUNDS[name][1]
    desk.advance(0.0)
    if desk.notice:
        print(desk.notice)
        return 1
    try:
        desk.try_out(heard)
        desk.advance(0.0)
        time.sleep(LEARNT_S + 0.3)
    finally:
        desk.close()
    return 0


def _write(folder: Path, volume: float) -> int:
    folder.mkdir(parents=True, exist_ok=True)
    for name, (_, heard) in SOUNDS.items():
        path = folder / f"{name.replace(' ', '-')}.wav"
        made = long_enough(heard, volume, FILE_RATE)
        with wave.open(str(path), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(FILE_RATE)
            file.writeframes(np.round(made * 32767.0).astype("<i2").tobytes())
        print(path)
    return 0
