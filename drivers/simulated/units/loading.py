"""Read a unit file (TOML), check it completely, and say every problem in one sentence each.

A file names only what differs from the healthy defaults of `drivers.simulated.parameters`. Values are SI.
Here: the file's shape and its limits. Not here: what the numbers mean (`UnitParameters`).
"""

from __future__ import annotations

import random
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Final

from drivers.errors import DriverError
from drivers.simulated.around import Around, healthy_around, is_number, read_around
from drivers.simulated.audio_stage import AudioStage
from drivers.simulated.parameters import PER_CHANNEL, PER_UNIT, UnitParameters, parameters
from drivers.simulated.units.audio_table import stages

FORMAT: Final = 1
DEFECTS: Final = frozenset(
    {
        "far too high",
        "runs away",
        "falls as it warms",
        "creeps up",
        "moves with the air",
        "scratchy trimmer",
        "play in the trimmer",
        "mirrored trimmer",
        "trimmer at its end",
        "intermittent joint",
        "trimmers change places",
        "test points change places",
        "pair not conducting",
        "far too low",
        "set at another temperature",
        "hums",
        "transformer buzzes",
        "weak channel",
        "clips early",
        "offset too high",
        "worn relay contact",
        "badly repaired",
    }
)
SIDES: Final = ("left", "right")
DEAD: Final = "dead_pairs"  # follows from the shares that the pairs carry
_KNOWN: Final = frozenset(
    {
        "format",
        "target_volts",
        "unit",
        "channels",
        "around",
        "audio",
        "brought_in",
        "defects",
        "drawn",
        "trimmers_swapped",
    }
)
_TEXTS: Final = ("maker", "model", "serial", "title", "story")
_KNOB: Final[Mapping[str, float]] = {"travel_degrees": 270.0, "backlash_degrees": 2.0}
_FRACTIONS: Final = frozenset({"wiper", "wiper_step", "bias_from_rail"})
_ANY_SIGN: Final = frozenset(
    {
        "ambient_c",
        "ambient_rise_k",
        "fixed_volts",
        "rail_gain_volts",
        "joint_volts",
        "offset_volts",
        "offset_volts_per_box_k",
        "offset_volts_per_sink_k",
        "sensor_box_fraction",
        "sensor_case_fraction",
        "driver_sink_fraction",
    }
)
_MAY_BE_ZERO: Final = frozenset(
    {
        "supply_ohm",
        "convection_exponent",
        "sink_box_w_per_k",
        "box_heat_watts",
        "mains_sd",
        "draught_lid_on",
        "draught_lid_off",
        "driver_stages",
        "driver_k_per_w",
        "driver_watts",
        "sensor_sink_fraction",
        "wiper_crackle",
        "backlash_degrees",
    }
)


class UnitRefused(DriverError):
    """A unit file that cannot be used; `problems` holds one sentence for each thing that is wrong."""

    def __init__(self, place: str, problems: tuple[str, ...]) -> None:
        super().__init__("\n".join(f"{place}: {problem}" for problem in problems))
        self.place = place
        self.problems = problems


@dataclass(frozen=True, slots=True)
class Knob:
    """The mechanical side of a trimmer: degrees from stop to stop, and the play on turning back."""

    travel_degrees: float
    backlash_degrees: float


@dataclass(frozen=True, slots=True)
class Defect:
    """What is the matter with a unit: one of `DEFECTS`, on a channel or (empty) on the whole unit."""

    kind: str
    channel: str = ""


@dataclass(frozen=True, slots=True)
class SimulatedUnit:
    """One amplifier that can be put on the simulated bench.

    `target_volts` is what its service note asks for across the test points. `parameters` holds one unit.
    `brought_in` says why it is on the bench, without giving away what `title`, `story` and `defects` tell.
    A unit that is not `drawn` is chosen by name only: another procedure than a bias trim is for it. With
    `trimmers_swapped` the trimmer called left sets the right channel.
    """

    name: str
    maker: str
    model: str
    serial: str
    title: str
    story: str
    target_volts: float
    parameters: UnitParameters
    knobs: tuple[Knob, Knob]
    audio: tuple[AudioStage, AudioStage]
    around: Around = field(default_factory=healthy_around)
    brought_in: str = ""
    defects: tuple[Defect, ...] = ()
    trimmers_swapped: bool = False
    drawn: bool = True


def shipped_units() -> tuple[str, ...]:
    """Names of the units that come with the program, sorted; `load_unit` takes them."""
    files = resources.files("drivers.simulated.units").iterdir()
    return tuple(sorted(f.name.removesuffix(".toml") for f in files if f.name.endswith(".toml")))


def drawn_unit(seed: int) -> str:
    """The name of a shipped unit that was drawn by lot, of those that were brought in for their bias."""
    units = {name: load_unit(name) for name in shipped_units()}
    return random.Random(seed).choice([name for name, one in units.items() if one.brought_in and one.drawn])


def load_unit(name_or_path: str | Path) -> SimulatedUnit:
    """Load a shipped unit by name, or any unit file by its path. Raises UnitRefused."""
    if isinstance(name_or_path, str) and name_or_path in shipped_units():
        file = resources.files("drivers.simulated.units") / f"{name_or_path}.toml"
        return parsed(file.read_text(encoding="utf-8"), name_or_path)
    path = Path(name_or_path)
    try:
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise UnitRefused(str(path), ("this is not UTF-8 text; save the unit file as UTF-8",)) from None
    except OSError as error:
        known = ", ".join(shipped_units())
        reason = error.strerror or str(error)
        raise UnitRefused(
            str(path), (f"cannot be read ({reason}); give the path of a unit file or one of {known}",)
        ) from None
    return parsed(text, path.stem, str(path))


def parsed(text: str, name: str, place: str | None = None) -> SimulatedUnit:
    """Make a unit of the text of a unit file. `place` is named in problems. Raises UnitRefused."""
    place = place or name
    try:
        tables = tomllib.loads(text)
        checked = _Checked(tables)
    except tomllib.TOMLDecodeError as error:
        raise UnitRefused(place, (f"not a TOML file: {error}",)) from None
    except RecursionError:
        raise UnitRefused(place, ("it is nested too deeply to be read",)) from None
    except ValueError:  # Python reads no whole number of more than 4300 digits
        raise UnitRefused(place, ("a number in it has more digits than can be read",)) from None
    if checked.problems:
        raise UnitRefused(place, tuple(checked.problems))
    left, right = checked.channels
    each = {key: [[left[key], right[key]]] for key in PER_CHANNEL if key != DEAD}
    each[DEAD] = [[float(checked.around.dead_pairs(side)) for side in SIDES]]
    return SimulatedUnit(
        name=name,
        **checked.texts,
        target_volts=checked.target_volts,
        parameters=parameters(1, **checked.unit, **each),
        knobs=(_knob(left), _knob(right)),
        around=checked.around,
        audio=checked.audio,
        brought_in=checked.brought_in,
        defects=checked.defects,
        trimmers_swapped=checked.trimmers_swapped,
        drawn=checked.drawn,
    )


def _knob(channel: Mapping[str, float]) -> Knob:
    return Knob(channel["travel_degrees"], channel["backlash_degrees"])


class _Checked:
    """The tables of a file with every value checked; `problems` is empty when all is well."""

    def __init__(self, tables: Mapping[str, object]) -> None:
        self.problems: list[str] = []
        self.texts = {key: self._text(tables, key) for key in _TEXTS}
        if tables.get("format") != FORMAT:
            self.problems.append(f"'format' must be {FORMAT}, the only version there is")
        self.target_volts = self._target(tables)
        self.brought_in = self._text(tables, "brought_in") if "brought_in" in tables else ""
        self.trimmers_swapped = self._yes(tables, "trimmers_swapped")
        self.drawn = self._yes(tables, "drawn", usually=True)
        self.defects = self._defects(tables.get("defects", []))
        self._unknown("", tables, {*_KNOWN, *_TEXTS})
        given = self._table("unit", tables.get("unit", {}))
        self._unknown("[unit]", given, set(PER_UNIT))
        self.unit = {
            key: self._number("[unit]", key, given.get(key, default)) for key, default in PER_UNIT.items()
        }
        self.channels = self._channels(self._table("channels", tables.get("channels", {})))
        self.around, problems = read_around(tables.get("around", {}))
        self.problems += problems
        self._all_pairs(self.unit["pairs"])
        base = {
            "emitter_ohm": self.channels[0]["emitter_ohm"],
            "rail_volts": self.unit["rail_volts"],
            "supply_ohm": self.unit["supply_ohm"],
        }
        heard = self._table("audio", tables.get("audio", {}))
        self.audio = stages(heard, base, self.problems.append)

    def _channels(self, given: Mapping[str, object]) -> tuple[dict[str, float], dict[str, float]]:
        defaults = {key: value for key, value in {**PER_CHANNEL, **_KNOB}.items() if key != DEAD}
        both = {key: value for key, value in given.items() if key not in SIDES}
        self._unknown("[channels]", both, set(defaults))
        base = {k: self._number("[channels]", k, both.get(k, default)) for k, default in defaults.items()}
        sides = []
        for side in SIDES:
            where = f"[channels.{side}]"
            own = self._table(f"channels.{side}", given.get(side, {}))
            self._unknown(where, own, set(defaults))
            checked = {k: self._number(where, k, v) for k, v in own.items() if k in defaults}
            sides.append({**base, **checked})
        return sides[0], sides[1]

    def _all_pairs(self, pairs: float) -> None:
        """What each pair carries is told of all of them, and the first one, which is measured, conducts."""
        for side, shares in self.around.pairs.items():
            if len(shares) != pairs:
                told = f"{len(shares)} pairs"
                self.problems.append(
                    f"'{side}' in [around.pairs] tells of {told}; [unit] has pairs = {pairs:g}"
                )
            elif shares[0] <= 0.0:
                self.problems.append(
                    f"'{side}' in [around.pairs] begins with {shares[0]:g}; the first pair is the one that "
                    "is measured, so that its share is 1"
                )

    def _text(self, tables: Mapping[str, object], key: str) -> str:
        value = tables.get(key)
        if not isinstance(value, str) or not value.strip():
            self.problems.append(f"'{key}' is missing; write a line of text such as {key} = \"...\"")
            return ""
        return value

    def _yes(self, tables: Mapping[str, object], key: str, *, usually: bool = False) -> bool:
        value = tables.get(key, usually)
        if not isinstance(value, bool):
            self.problems.append(f"'{key}' must be true or false, not {value!r}")
        return value is True

    def _defects(self, given: object) -> tuple[Defect, ...]:
        defects = []
        for entry in given if isinstance(given, list) else [given]:
            one = entry if isinstance(entry, dict) else {}
            kind, channel = one.get("kind"), one.get("channel", "")
            named = isinstance(kind, str) and kind in DEFECTS and channel in ("", *SIDES)
            if not named or set(one) - {"kind", "channel"}:
                self.problems.append(
                    f"'defects' holds {entry!r}; write tables such as {{ kind = \"runs away\" }}, on one "
                    f'channel with channel = "left"; the kinds are {", ".join(sorted(DEFECTS))}'
                )
            else:
                defects.append(Defect(str(kind), str(channel)))
        return tuple(defects)

    def _target(self, tables: Mapping[str, object]) -> float:
        value = tables.get("target_volts")
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0.0 < value <= 1.0:
            self.problems.append("'target_volts' must be above 0 and at most 1, for example 0.0135")
            return 0.0
        return float(value)

    def _table(self, name: str, value: object) -> Mapping[str, object]:
        if isinstance(value, dict):
            return value
        self.problems.append(f"'{name}' must be a table; write [{name}] on a line of its own")
        return {}

    def _unknown(self, where: str, given: Mapping[str, object], known: set[str]) -> None:
        for key in given:
            if key not in known:
                near = _nearest(key, known)
                place = f" in {where}" if where else ""
                self.problems.append(f"'{key}'{place} is not known; did you mean '{near}'?")

    def _number(self, where: str, key: str, value: object) -> float:
        if key == "trimmer_reversed":
            if isinstance(value, bool):
                return float(value)
            if value not in (0.0, 1.0):
                self.problems.append(f"'{key}' in {where} must be true or false, not {value!r}")
            return 0.0
        if not is_number(value):
            self.problems.append(f"'{key}' in {where} must be a number, not {value!r}")
            return 1.0
        assert isinstance(value, int | float)
        wanted = _limits(key, value)
        if wanted:
            self.problems.append(f"'{key}' in {where} is {value}; it must be {wanted}")
        return float(value)


def _limits(key: str, value: float) -> str:
    """What a value would have to be, in words; empty when it is right."""
    if key in _FRACTIONS:
        return "" if 0.0 <= value <= 1.0 else "from 0 to 1"
    if key == "ambient_c":
        return "" if -20.0 <= value <= 60.0 else "from -20 to 60 degrees Celsius"
    if key in _ANY_SIGN:
        return ""
    if key in _MAY_BE_ZERO:
        return "" if value >= 0.0 else "zero or more"
    return "" if value > 0.0 else "above zero"


def _nearest(key: str, known: set[str]) -> str:
    from difflib import get_close_matches

    return (get_close_matches(key, sorted(known), n=1, cutoff=0.0) or [""])[0]
