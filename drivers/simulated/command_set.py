"""The commands of the simulated multimeter: which header sets or tells what.

Source of headers and error numbers: SCPI 1999.0 volume 2; common commands: IEEE 488.2. What each does to a
measurement is in `instrument`.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from drivers.simulated.command_line import boolean, header_pattern, matches, number
from drivers.simulated.multimeter import NPLC

if TYPE_CHECKING:
    from drivers.simulated.instrument import Multimeter

ERRORS: Final = {
    0: "No error",
    -104: "Data type error",
    -108: "Parameter not allowed",
    -109: "Missing parameter",
    -113: "Undefined header",
    -211: "Trigger ignored",
    -213: "Init ignored",
    -214: "Trigger deadlock",
    -222: "Data out of range",
    -224: "Illegal parameter value",
    -230: "Data corrupt or stale",
    -350: "Queue overflow",
}
_MOST: Final = 1000
_SHORTEST_S, _LONGEST_S = 2e-4, 2.0
_SOURCES: Final = {"IMM": "IMM", "IMMEDIATE": "IMM", "BUS": "BUS", "EXT": "EXT", "EXTERNAL": "EXT"}

Parameters = tuple[str, ...]
Tell = Callable[["Multimeter", Parameters], None]
Ask = Callable[["Multimeter", Parameters], "str | None"]


class CommandRefused(Exception):
    """A command that is not carried out, by its error number."""

    def __init__(self, code: int) -> None:
        super().__init__(ERRORS[code])
        self.code = code


@dataclass(frozen=True, slots=True)
class Command:
    """A header and what it does told or asked; None where it cannot be."""

    pattern: re.Pattern[str]
    tell: Tell | None = None
    ask: Ask | None = None


def _one(parameters: Parameters) -> str:
    if not parameters:
        raise CommandRefused(-109)
    if len(parameters) > 1:
        raise CommandRefused(-108)
    return parameters[0]


def _none(parameters: Parameters) -> None:
    if parameters:
        raise CommandRefused(-108)


def _number(text: str, unit: str, least: float, most: float, default: float) -> float:
    """A number or one of the words MIN, MAX, DEF."""
    words = {"MIN": least, "MINIMUM": least, "MAX": most, "MAXIMUM": most, "DEF": default, "DEFAULT": default}
    value = words.get(text.upper(), number(text, unit))
    if value is None:
        raise CommandRefused(-104)
    return value


def _switch(parameters: Parameters) -> bool:
    value = boolean(_one(parameters))
    if value is None:
        raise CommandRefused(-224)
    return value


def _asked(parameters: Parameters, now: float, least: float, most: float, default: float) -> str:
    """The answer to a numeric query, which may ask for the limits instead."""
    return f"{_number(_one(parameters), '', least, most, default) if parameters else now:+.8E}"


# -- measuring -------------------------------------------------------------------------------------------


def _range_of(meter: Multimeter, parameters: Parameters) -> float | None:
    """The range of CONF and MEAS: the expected value, or None for the meter's own choice."""
    if len(parameters) > 2:
        raise CommandRefused(-108)
    if not parameters or parameters[0].upper() in {"AUTO", "DEF", "DEFAULT"}:
        return None
    ranges = meter.ranges_volts
    return _number(parameters[0], "V", ranges[0], ranges[-1], ranges[-1])


def _configure(meter: Multimeter, parameters: Parameters) -> None:
    meter.configure(_range_of(meter, parameters))


def _measure(meter: Multimeter, parameters: Parameters) -> str | None:
    _configure(meter, parameters)
    return meter.read()


def _configuration(meter: Multimeter, parameters: Parameters) -> str:
    _none(parameters)
    return f'"VOLT {meter.settings.range_volts:+.6E},{meter.step_volts:+.6E}"'


def _read(meter: Multimeter, parameters: Parameters) -> str | None:
    _none(parameters)
    return meter.read()


def _fetch(meter: Multimeter, parameters: Parameters) -> str | None:
    _none(parameters)
    return meter.fetch()


def _initiate(meter: Multimeter, parameters: Parameters) -> None:
    _none(parameters)
    meter.initiate()


def _abort(meter: Multimeter, parameters: Parameters) -> None:
    _none(parameters)
    meter.abort()


def _function(meter: Multimeter, parameters: Parameters) -> None:
    if _one(parameters).strip("\"'").upper() not in {"VOLT", "VOLT:DC", "VOLTAGE", "VOLTAGE:DC"}:
        raise CommandRefused(-224)


# -- settings --------------------------------------------------------------------------------------------


def _set_range(meter: Multimeter, parameters: Parameters) -> None:
    ranges = meter.ranges_volts
    meter.set_range(_number(_one(parameters), "V", ranges[0], ranges[-1], ranges[-1]))


def _range(meter: Multimeter, parameters: Parameters) -> str:
    ranges = meter.ranges_volts
    return _asked(parameters, meter.settings.range_volts, ranges[0], ranges[-1], ranges[-1])


def _set_auto_range(meter: Multimeter, parameters: Parameters) -> None:
    meter.settings.auto_range = _switch(parameters)


def _set_nplc(meter: Multimeter, parameters: Parameters) -> None:
    wanted = _number(_one(parameters), "", NPLC[0], NPLC[-1], 10.0)
    if not 0.0 < wanted <= NPLC[-1]:
        raise CommandRefused(-222)
    meter.settings.nplc = next(each for each in NPLC if wanted <= each * (1.0 + 1e-9))
    meter.settings.aperture_s = None


def _nplc(meter: Multimeter, parameters: Parameters) -> str:
    return _asked(parameters, meter.integration_s * meter.mains_hz, NPLC[0], NPLC[-1], 10.0)


def _set_aperture(meter: Multimeter, parameters: Parameters) -> None:
    wanted = _number(_one(parameters), "S", _SHORTEST_S, _LONGEST_S, 0.2)
    if not _SHORTEST_S <= wanted <= _LONGEST_S:
        raise CommandRefused(-222)
    meter.settings.aperture_s = wanted


def _aperture(meter: Multimeter, parameters: Parameters) -> str:
    return _asked(parameters, meter.integration_s, _SHORTEST_S, _LONGEST_S, 0.2)


def _set_auto_zero(meter: Multimeter, parameters: Parameters) -> None:
    once = _one(parameters).upper() == "ONCE"
    meter.settings.auto_zero = False if once else _switch(parameters)


def _set_impedance(meter: Multimeter, parameters: Parameters) -> None:
    meter.settings.high_impedance = _switch(parameters)


def _count(parameters: Parameters) -> int:
    value = _number(_one(parameters), "", 1, _MOST, 1)
    if not 1 <= value <= _MOST:
        raise CommandRefused(-222)
    return round(value)


def _set_samples(meter: Multimeter, parameters: Parameters) -> None:
    meter.settings.samples = _count(parameters)


def _set_triggers(meter: Multimeter, parameters: Parameters) -> None:
    meter.settings.triggers = _count(parameters)


def _set_source(meter: Multimeter, parameters: Parameters) -> None:
    source = _SOURCES.get(_one(parameters).upper())
    if source is None:
        raise CommandRefused(-224)
    meter.settings.source = source


# -- the instrument --------------------------------------------------------------------------------------


def _reset(meter: Multimeter, parameters: Parameters) -> None:
    _none(parameters)
    meter.reset()


def _clear(meter: Multimeter, parameters: Parameters) -> None:
    _none(parameters)
    meter.clear_status()


def _events(meter: Multimeter, parameters: Parameters) -> str:
    _none(parameters)
    events, meter.status = meter.status, 0
    return str(events)


def _operation_complete(meter: Multimeter, parameters: Parameters) -> None:
    _none(parameters)
    meter.status |= 1


def _set_remote(meter: Multimeter, parameters: Parameters) -> None:
    _none(parameters)
    meter.remote = True


def _set_local(meter: Multimeter, parameters: Parameters) -> None:
    _none(parameters)
    meter.remote = False


def _trigger(meter: Multimeter, parameters: Parameters) -> None:
    _none(parameters)
    meter.trigger()


def _ignored(meter: Multimeter, parameters: Parameters) -> None:
    """Accepted without effect."""


def _constant(text: str) -> Ask:
    def ask(meter: Multimeter, parameters: Parameters) -> str:
        _none(parameters)
        return text

    return ask


def _enable(name: str) -> tuple[Tell, Ask]:
    def tell(meter: Multimeter, parameters: Parameters) -> None:
        value = _number(_one(parameters), "", 0, 255, 0)
        if not 0 <= value <= 255:
            raise CommandRefused(-222)
        meter.enables[name] = round(value)

    def ask(meter: Multimeter, parameters: Parameters) -> str:
        _none(parameters)
        return str(meter.enables[name])

    return tell, ask


def _told(read: Callable[[Multimeter], object]) -> Ask:
    """A query that tells a setting; switches as 0 and 1, counts with a sign."""

    def ask(meter: Multimeter, parameters: Parameters) -> str:
        _none(parameters)
        value = read(meter)
        if isinstance(value, bool):
            return str(int(value))
        return f"{value:+d}" if isinstance(value, int) else str(value)

    return ask


def _command(pattern: str, tell: Tell | None = None, ask: Ask | None = None) -> Command:
    return Command(header_pattern(pattern), tell, ask)


_VOLT: Final = "[SENSe:]VOLTage:[DC:]"

COMMANDS: Final = (
    _command("READ", ask=_read),
    _command("FETCh", ask=_fetch),
    _command("INITiate[:IMMediate]", _initiate),
    _command("MEASure[:VOLTage][:DC]", ask=_measure),
    _command("CONFigure[:VOLTage][:DC]", _configure),
    _command("CONFigure", ask=_configuration),
    _command("ABORt", _abort),
    _command("[SENSe:]FUNCtion[:ON]", _function, _constant('"VOLT"')),
    _command(_VOLT + "RANGe[:UPPer]", _set_range, _range),
    _command(_VOLT + "RANGe:AUTO", _set_auto_range, _told(lambda m: m.settings.auto_range)),
    _command(_VOLT + "NPLCycles", _set_nplc, _nplc),
    _command(_VOLT + "APERture", _set_aperture, _aperture),
    _command(_VOLT + "ZERO:AUTO", _set_auto_zero, _told(lambda m: m.settings.auto_zero)),
    _command("[SENSe:]ZERO:AUTO", _set_auto_zero, _told(lambda m: m.settings.auto_zero)),
    _command(_VOLT + "IMPedance:AUTO", _set_impedance, _told(lambda m: m.settings.high_impedance)),
    _command("INPut:IMPedance:AUTO", _set_impedance, _told(lambda m: m.settings.high_impedance)),
    _command("SAMPle:COUNt", _set_samples, _told(lambda m: m.settings.samples)),
    _command("TRIGger:COUNt", _set_triggers, _told(lambda m: m.settings.triggers)),
    _command("TRIGger:SOURce", _set_source, _told(lambda m: m.settings.source)),
    _command("SYSTem:ERRor[:NEXT]", ask=_told(lambda m: m.next_error())),
    _command("SYSTem:VERSion", ask=_constant("1999.0")),
    _command("SYSTem:LFRequency", ask=_told(lambda m: round(m.mains_hz))),
    _command("SYSTem:REMote", _set_remote),
    _command("SYSTem:RWLock", _set_remote),
    _command("SYSTem:LOCal", _set_local),
    _command("*IDN", ask=_told(lambda m: m.identity)),
    _command("*RST", _reset),
    _command("*CLS", _clear),
    _command("*OPC", _operation_complete, _constant("1")),
    _command("*WAI", _ignored),
    _command("*TST", ask=_constant("+0")),
    _command("*ESR", ask=_events),
    _command("*ESE", *_enable("*ESE")),
    _command("*SRE", *_enable("*SRE")),
    _command("*STB", ask=_told(lambda m: str(m.status_byte()))),
    _command("*TRG", _trigger),
)


@functools.lru_cache(maxsize=256)
def commands_for(header: str) -> tuple[Command, ...]:
    """The commands that a header in capitals is a form of."""
    return tuple(command for command in COMMANDS if matches(command.pattern, header))
