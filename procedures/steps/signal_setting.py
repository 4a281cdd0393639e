"""What the plans of the verification share: their wishes, the setting they work in, gain, rests, verdicts.

Decision rule against a rating: guarded rejection (JCGM 106, 8.3.3). A figure fails only where the rating lies
outside its uncertainty; where it lies within, the reason says so.
"""

from __future__ import annotations

import math
from collections.abc import Generator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.reading import Unit
from procedures.analysis.audio.fitness import CannotMeasure
from procedures.analysis.audio.level import watts
from procedures.analysis.audio.orders import Order, Signal
from procedures.analysis.figures import figure
from procedures.events import Outcome
from procedures.ratings import Ratings
from procedures.steps.sitting import Sitting

if TYPE_CHECKING:
    from procedures.steps.signal import SignalStep

LEVEL_UNCERTAINTY = 0.01  # of a voltage, where the path's calibration states nothing better
LOAD_UNCERTAINTY = 0.01
HIGHEST_DB = 3.0  # re rated power, where a ramp ends
NO_FIGURE = "no figure came from the audio bench"
_BLIND_VOLTS, _COMES_BACK = 0.04, 0.05  # at the input; as a factor, far below any amplifier's gain
NEAR_FULL = 0.25  # of the rated power; from here on the load and the sink are given a rest


@dataclass(frozen=True, slots=True)
class Play:
    """Have an order carried out; `says` stands on the screen meanwhile.

    `read_by` names what reads the output `at` in place of the recorder. `left_s` is how long the plan may
    still take from here, at the most; None: as long as this order.
    """

    order: Order
    says: str
    progress: float | None = None
    read_by: str = ""
    at: str = ""
    left_s: float | None = None


@dataclass(frozen=True, slots=True)
class Rest:
    """Wait."""

    seconds: float
    why: str


@dataclass(frozen=True, slots=True)
class Ask:
    """Have a person do something with their hands."""

    text: str
    caution: str = ""


Wish = Play | Rest | Ask
Figures = Mapping[str, Mapping[str, float]]
Plan = Generator[Wish, Figures | None, tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Setting:
    """What a plan works with: the outputs, the load as measured, the ratings, the gain once known."""

    title: str
    outputs: tuple[str, ...]
    load_ohm: float
    load_measured: bool
    nominal_ohm: float
    limit: float
    rest_s: float
    ratings: Ratings
    warm_minutes: float = 60.0
    at_hz: tuple[float, ...] = (1000.0,)
    by_hand: bool = False
    by_meter: bool = False

    @classmethod
    def of(cls, line: SignalStep, sitting: Sitting) -> Setting:
        """The setting of one line in this sitting."""
        measured = sitting.recorded_value(load_name(line.load_ohm), None)
        known = measured is not None and measured.value is not None and measured.value > 0.0
        load = measured.value if known and measured is not None and measured.value else line.load_ohm
        ratings = sitting.amplifier.ratings if sitting.amplifier is not None else None
        return cls(
            line.title,
            line.outputs,
            load,
            known,
            line.load_ohm,
            line.distortion_percent / 100.0,
            line.rest_s,
            ratings or Ratings(),
            line.warm_minutes,
            line.at_hz,
            line.by_hand,
            line.read_by != "recorder",
        )

    @property
    def rated_watts(self) -> float | None:
        """The rated power into this nominal load, if there is one."""
        return next((p.watts for p in self.ratings.power if p.load_ohm == self.nominal_ohm), None)

    @property
    def full_volts(self) -> float:
        """Output for the rated power into this load, else for 10 W."""
        return math.sqrt((self.rated_watts or 10.0) * self.nominal_ohm)

    def tone(self, hz: float, volts: float, drives: tuple[str, ...], seconds: float = 1.0) -> Order:
        """A tone into the load of this setting."""
        return Order(Signal.TONE, seconds, hz, volts, drives=drives, load_ohm=self.load_ohm)


def load_name(ohm: float) -> str:
    """Under which name the measured resistance of a load is recorded."""
    return f"load {ohm:g} ohm"


# --- what the plans share ---------------------------------------------------------------------------------


def input_volts(
    setting: Setting, sitting: Sitting, output_volts: float
) -> Generator[Wish, Figures | None, float]:
    """The input for an output, by the largest gain, so that none gives more; measured where none is known."""
    gains = [sitting.recorded_value(f"gain, {output}", None) for output in setting.outputs]
    known = [g.value for g in gains if g is not None and g.value is not None]
    if len(known) < len(setting.outputs):
        found = yield from gains_of(setting)
        known = [20.0 * math.log10(gain) for gain in found.values()]
    highest_db: float = max(known)
    return float(output_volts / 10.0 ** (highest_db / 20.0))


def gains_of(setting: Setting) -> Generator[Wish, Figures | None, dict[str, float]]:
    """The gain of each output at 1 kHz, from a small level upwards until the tone is well above the noise.

    Raises:
        CannotMeasure: an output gives no figure, or nothing of the tone comes back; louder would be blind.
    """
    volts = 0.005
    while True:
        order = setting.tone(1000.0, volts, setting.outputs, 0.5)
        got = (yield Play(order, f"Measuring the gain at {figure(volts)} in")) or {}
        missing = [output for output in setting.outputs if "volts" not in got.get(output, {})]
        if missing:
            raise CannotMeasure(f"no figure came of {' and '.join(missing)}")
        levels = {output: got[output]["volts"] for output in setting.outputs}
        if volts >= _BLIND_VOLTS and max(levels.values()) < _COMES_BACK * volts:
            raise CannotMeasure(
                f"nothing of the tone comes back at {figure(volts)} in: check the recorder, its leads and "
                "the volume"
            )
        enough = min(0.5, setting.full_volts / 10.0)
        if min(levels.values()) >= enough or max(levels.values()) > setting.full_volts / 4.0 or volts > 1.0:
            return {output: max(level, 1e-9) / volts for output, level in levels.items()}
        volts *= 3.0


def rest_after(setting: Setting, volts: float) -> Generator[Wish, Figures | None, None]:
    """Let the load and the sink cool where the last stretch was near full power."""
    if setting.rest_s > 0.0 and watts(volts, setting.load_ohm) > NEAR_FULL * (setting.rated_watts or 40.0):
        yield Rest(setting.rest_s, "Resting, so that load and heatsink cool")


def verdict(
    setting: Setting,
    sitting: Sitting,
    name: str,
    value: float | None,
    unit: Unit,
    *,
    at_least: float | None = None,
    at_most: float | None = None,
    unsure: float = 0.0,
    more: str = "",
    reason: str = "",
) -> str:
    """Keep a figure and judge it against its rating; the outcome word."""
    if value is not None and not math.isfinite(value):
        value, reason = None, NO_FIGURE
    conditions = {"load": f"{setting.load_ohm:.4g} ohm", "uncertainty": f"{unsure:.3g}"}
    if not setting.load_measured:
        conditions["load"] += " (nominal, not measured)"
    sitting.record(name, None, value, unit, reason, **conditions)
    if value is None:
        sitting.judge(None, Outcome.NOT_MEASURED, f"{name}: {reason}", None, name)
        return "not measured"
    said = f"{name}: {figure(value, unit)}{more}"
    if at_least is None and at_most is None:
        return "recorded"
    rated = at_least if at_least is not None else at_most
    assert rated is not None
    short = (at_least is not None and value < at_least) or (at_most is not None and value > at_most)
    shown = (at_least is not None and value + unsure < at_least) or (
        at_most is not None and value - unsure > at_most
    )
    word = "at least" if at_least is not None else "at most"
    said += f", rated {word} {figure(rated, unit)}"
    if short and not shown:
        said += f"; not told apart from the rating (uncertainty {figure(unsure, unit)})"
    sitting.judge(None, Outcome.FAILED if shown else Outcome.PASSED, said, value, name)
    return "failed" if shown else "passed"


def together(words: list[str], reason: str) -> tuple[str, str]:
    """The outcome of a step from those of its figures: the worst first. Without any, nothing was measured."""
    if not words:
        return "not measured", reason
    for worst in ("failed", "not measured", "passed"):
        if worst in words:
            return worst, reason
    return "recorded", reason
