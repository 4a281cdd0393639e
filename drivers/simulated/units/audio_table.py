"""The table [audio] of a unit file: what the unit makes of a signal, where it differs from a sound one.

Values in [audio] are for both channels; those in [audio.left] and [audio.right] for one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from drivers.simulated.around import is_number
from drivers.simulated.audio_stage import AudioStage

SIDES: Final = ("left", "right")
NUMBERS: Final[Mapping[str, tuple[float, float]]] = {
    "gain": (1.0, 1000.0),
    "saturation_volts": (0.0, 50.0),
    "driver_ohm": (0.0, 1000.0),
    "unity_loop_hz": (1e3, 1e8),
    "output_ohm": (0.0, 10.0),
    "relay_ohm": (0.0, 100.0),
    "low_corner_hz": (0.01, 1e3),
    "high_corner_hz": (1e3, 1e6),
    "noise_volts": (0.0, 1.0),
    "current_limit_amperes": (0.01, 100.0),
    "crosstalk": (0.0, 1.0),
}
"""What may be given, and between which limits; SI units, the meaning is that of `AudioStage`."""

_HUM: Final = "hum_volts"


def stages(
    given: Mapping[str, object], base: Mapping[str, Any], report: Callable[[str], None]
) -> tuple[AudioStage, AudioStage]:
    """The stages of both channels. Problems go to `report`, one sentence each."""
    common = {key: value for key, value in given.items() if key not in SIDES}
    both = _checked("[audio]", common, report)
    made = []
    for side in SIDES:
        own = given.get(side, {})
        if not isinstance(own, Mapping):
            report(f"'audio.{side}' must be a table; write [audio.{side}] on a line of its own")
            own = {}
        made.append(AudioStage(**{**base, **both, **_checked(f"[audio.{side}]", own, report)}))
    return made[0], made[1]


def _checked(where: str, given: Mapping[str, object], report: Callable[[str], None]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in given.items():
        if key == _HUM:
            found[key] = _hum(where, value, report)
        elif key not in NUMBERS:
            known = ", ".join([*NUMBERS, _HUM])
            report(f"'{key}' in {where} is not known; there are {known}")
        elif not is_number(value) or not NUMBERS[key][0] <= value <= NUMBERS[key][1]:  # type: ignore[operator]
            low, high = NUMBERS[key]
            report(f"'{key}' in {where} must be a number from {low:g} to {high:g}, not {value!r}")
        else:
            found[key] = float(value)  # type: ignore[arg-type]
    return found


def _hum(where: str, value: object, report: Callable[[str], None]) -> dict[int, float]:
    """Peak volts by the multiple of the mains frequency."""
    if isinstance(value, Mapping) and all(
        str(multiple).isdecimal() and 1 <= int(multiple) <= 40 and is_number(volts)
        for multiple, volts in value.items()
    ):
        return {int(multiple): float(volts) for multiple, volts in value.items()}
    report(
        f"'{_HUM}' in {where} must name volts by the multiple of the mains frequency, such as "
        "{ 1 = 0.0005, 2 = 0.002 }"
    )
    return {}
