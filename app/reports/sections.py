"""What stands in a report, as plain words in order: sections of pairs, tables, lines and pictures.

Here: the containers, and the wording of values. Not here: which sections a report has, and how they are
drawn. A blank never stays blank: it reads "not measured", or for what is written by hand "not noted".
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from drivers.reading import Unit
from procedures.analysis.figures import amount, duration, figure
from procedures.report.facts import Limits, Measured

NOT_MEASURED = "not measured"
NOT_NOTED = "not noted"
TYPED = "typed"
_RESOLUTION = 1e-5  # V; what is worth saying of a bias
_CONDITIONS = {"supply": "supply: {}", "lid": "lid {}", "settled": "settled: {}"}


@dataclass(frozen=True, slots=True)
class Section:
    """One part of a report. What is empty is not drawn; `shares` are the columns' widths in percent.

    `new_page` begins a page on paper; a `small` picture takes a third of its width.
    """

    title: str
    pairs: tuple[tuple[str, str], ...] = ()
    head: tuple[str, ...] = ()
    shares: tuple[int, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    lines: tuple[str, ...] = ()
    picture: str = ""
    signatures: tuple[str, ...] = ()
    new_page: bool = False
    small: bool = False

    @property
    def tables(self) -> tuple[str, ...]:
        """Which of its parts are tables, in the order in which they are drawn."""
        return tuple(part for part in ("pairs", "rows", "signatures") if getattr(self, part))

    @property
    def first(self) -> str:
        """What is drawn first of it."""
        parts = ("title", "pairs", "rows", "picture", "lines", "signatures")
        return next((part for part in parts if getattr(self, part)), "")


def noted(words: str) -> str:
    """Words that somebody wrote, or that nobody did."""
    return words.strip() or NOT_NOTED


def value_words(value: float | None, unit: Unit | None) -> str:
    """A value with its unit as it is read at the bench."""
    if value is None:
        return NOT_MEASURED
    if unit is None:
        return f"{value:g}"
    small = unit is Unit.VOLT and abs(value) < 1.0
    return figure(value, unit, _RESOLUTION if small else None)


def measured_words(one: Measured) -> str:
    """A value, marked where a person typed it; the reason where there is none."""
    if one.value is not None:
        words = value_words(one.value, one.unit) + (f" ({TYPED})" if one.typed else "")
        return "; ".join(filter(None, (words, one.words.strip(), one.reason.strip())))
    if one.words.strip():
        return one.words.strip()
    return f"{NOT_MEASURED} ({one.reason.strip()})" if one.reason.strip() else NOT_MEASURED


def window_words(low: float | None, high: float | None, unit: Unit | None) -> str:
    """Low and high limit in words."""
    if low is not None and high is not None:
        return f"{value_words(low, unit)} to {value_words(high, unit)}"
    if high is not None:
        return f"at most {value_words(high, unit)}"
    return f"at least {value_words(low, unit)}" if low is not None else "no limits given"


def limits_words(limits: Limits, unit: Unit | None) -> str:
    """The window, and what is accepted inside it where the meter's uncertainty narrows it."""
    words = window_words(limits.low, limits.high, unit)
    if limits.accept_low is None and limits.accept_high is None:
        return words
    if limits.accept_low is not None and limits.accept_high is not None:
        if limits.accept_low > limits.accept_high:
            return f"{words}; this meter can accept no reading in it"
        accepted = f"{_finely(limits.accept_low, unit)} to {_finely(limits.accept_high, unit)}"
        return f"{words}; accepted {accepted}"
    return words


def _finely(value: float, unit: Unit | None) -> str:
    return figure(value, unit or Unit.VOLT, 1e-6 if unit is Unit.VOLT else None)


def uncertainty_words(limits: Limits, unit: Unit | None) -> str:
    """U with its coverage factor, or that it is not known."""
    if limits.expanded is None:
        return "not known"
    said = amount(limits.expanded, unit or Unit.VOLT)
    said = f"± {said}" if said[:1].isdigit() else "below what is shown"
    return said if limits.k is None else f"{said} (k = {limits.k:.2f})"


def conditions_words(one: Measured) -> str:
    """Under which conditions a value was read: time from power-on, supply, lid, settled."""
    said = []
    since = one.conditions.get("from_power_on_s")
    if since is not None:
        said.append(f"{_clock(since)} from power-on")
    said += [form.format(one.conditions[key]) for key, form in _CONDITIONS.items() if key in one.conditions]
    known = {"from_power_on_s", "typed", *_CONDITIONS}
    said += [f"{key}: {words}" for key, words in one.conditions.items() if key not in known]
    return ", ".join(said) or NOT_NOTED


def _clock(seconds: str) -> str:
    try:
        return duration(float(seconds))
    except (ValueError, OverflowError):
        return seconds


def when(moment: datetime | None) -> str:
    """A moment in this computer's time, to the minute."""
    return NOT_NOTED if moment is None else moment.astimezone().strftime("%Y-%m-%d %H:%M")


def joined(parts: Iterable[str], by: str = ", ") -> str:
    """The parts that say something."""
    return by.join(part.strip() for part in parts if part.strip())
