"""What the amplifier form shows: its sections and fields, by the keys of the data file.

Only what a person reads stands here. What may stand in a field is said by the loader of the file alone
(`procedures.amplifier`), and how a field is drawn by `entry_rows`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto

from app.windows.wording import tr
from drivers.reading import Unit
from procedures.amplifier import ConditionKind, OutputStage, TestPoint

Place = tuple[str | int, ...]
Choices = tuple[tuple[str, str], ...]


class Shape(Enum):
    """How an entry is typed, and what becomes of it in the file."""

    WORDS = auto()
    NUMBER = auto()
    WHOLE = auto()
    FLAG = auto()
    CHOICE = auto()
    LINES = auto()  # a list of texts, one a line
    NAMES = auto()  # a list of names, commas between them
    TABLE = auto()  # rows of degrees and millivolts, one a line


@dataclass(frozen=True, slots=True)
class FormField:
    """One entry. `key` may lead into a table inside (`condition.kind`); `example` is what would do.

    `choices` are values of the file with the words for them; the first may be the empty one. `usual` is what
    counts while nothing is said, which for a flag is its state.
    """

    key: str
    label: str
    shape: Shape = Shape.WORDS
    unit: str = ""
    example: str = ""
    choices: Choices = ()
    usual: bool = False
    sourced: bool = False

    @property
    def place(self) -> Place:
        """Where it stands inside its table."""
        return tuple(self.key.split("."))


@dataclass(frozen=True, slots=True)
class OneOf:
    """An entry that may be given in one of several ways: the words for each, and its keys."""

    label: str
    ways: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class RowList:
    """A list of small tables, a row each. `one` is what a row is called."""

    key: str
    title: str
    one: str
    fields: tuple[FormField, ...]

    @property
    def place(self) -> Place:
        """Where the list stands inside its table."""
        return tuple(self.key.split("."))


@dataclass(frozen=True, slots=True)
class Section:
    """One page of the form: which table it shows, and what of it."""

    title: str
    fields: tuple[FormField | OneOf, ...]
    place: Place = ()
    lists: tuple[RowList, ...] = ()
    hint: str = ""


def _words(values: list[str]) -> Choices:
    return tuple((value, value) for value in values)


def _rated(key: str, label: str, unit: str, example: str) -> FormField:
    """A number whose source may be said."""
    return FormField(key, label, Shape.NUMBER, unit, example, sourced=True)


def sections(channels: tuple[str, ...]) -> tuple[Section, ...]:
    """All sections, with one for each channel by its name."""
    return (
        _model(),
        _stage(),
        *(_channel(number, name) for number, name in enumerate(channels)),
        _presets(),
        _ratings(),
        _offset(),
        _notes(),
    )


def _model() -> Section:
    return Section(
        tr("Model"),
        (
            FormField("maker", tr("Maker"), example="Kestrow"),
            FormField("model", tr("Model"), example="K-40"),
            FormField("load", tr("Load while the bias is set"), example=tr("none"), sourced=True),
            FormField(
                "lid_for_last_word",
                tr("The reading as left counts with the lid on"),
                Shape.FLAG,
                usual=True,
                sourced=True,
            ),
        ),
    )


def _stage() -> Section:
    return Section(
        tr("Output stage"),
        (
            FormField(
                "output_stage",
                tr("Kind of output stage"),
                Shape.CHOICE,
                choices=(("", tr("choose")), *_words([stage.value for stage in OutputStage])),
                sourced=True,
            ),
            FormField(
                "bias",
                tr("Bias"),
                Shape.CHOICE,
                choices=(("trimmer", tr("set by a trimmer")), ("fixed", tr("fixed: nothing to trim"))),
                sourced=True,
            ),
            FormField("pairs", tr("Output pairs"), Shape.WHOLE, example="1", sourced=True),
            FormField("emitter_resistor", tr("Emitter resistor"), unit="Ω", example="0R27", sourced=True),
            _rated("emitter_resistor_tolerance_percent", tr("Its tolerance"), "± %", "5"),
            _rated("rail_volts", tr("One rail at idle"), "V", "42"),
            _rated("device_limit_watts", tr("Idle limit of one device"), "W", "12"),
            _rated("sink_kelvin_per_watt", tr("Heatsink of one channel"), "K/W", "0.7"),
            FormField("bridged", tr("The outputs are bridged"), Shape.FLAG, sourced=True),
            FormField(
                "supply",
                tr("Supply"),
                Shape.CHOICE,
                choices=(("linear", tr("linear")), ("switching", tr("switching"))),
                sourced=True,
            ),
        ),
        lists=(
            RowList(
                "rail_state",
                tr("Rail states (class G or H)"),
                tr("rail state"),
                (
                    FormField("name", tr("Name"), example=tr("high")),
                    FormField("volts", tr("One rail"), Shape.NUMBER, unit="V", example="70"),
                    FormField("when", tr("When"), example=tr("above 20 W")),
                ),
            ),
        ),
    )


def _channel(number: int, name: str) -> Section:
    volts, units = Unit.VOLT.value, [unit.value for unit in Unit]
    points = tuple(
        (point.value, f"{letter}  {point.value}")
        for letter, point in zip("ABCDEFGHIJ", TestPoint, strict=True)
    )
    return Section(
        name or tr("Channel {number}").format(number=number + 1),
        (
            FormField("name", tr("Name"), example="left bias"),
            FormField("unit", tr("Read in"), Shape.CHOICE, choices=_words([volts, *units[1:]])),
            FormField(
                "test_point", tr("Where the probes go"), Shape.CHOICE, choices=(("", tr("not said")), *points)
            ),
            FormField(
                "emitter_resistor", tr("Emitter resistor, where it is another"), unit="Ω", example="0R27"
            ),
            FormField("sense_resistor", tr("Sense resistor in the supply"), unit="Ω", example="1R0"),
            *_target(),
            *_tolerance(),
            FormField(
                "spread_millivolts", tr("Other pairs may lie"), Shape.NUMBER, unit=tr("± mV"), example="3"
            ),
            FormField(
                "intended_milliamperes", tr("Meant to be"), Shape.NUMBER, unit=tr("mA a pair"), example="25"
            ),
            *_condition(),
            FormField("source", tr("Source of the target"), example=tr("service manual, page 12")),
            FormField("chosen_by", tr("Chosen by"), example=tr("maker")),
            FormField("reason", tr("Why"), example=tr("the manual is silent; as the other channel")),
            FormField("notes", tr("Notes, one a line"), Shape.LINES),
        ),
        place=("channel", number),
    )


def _target() -> tuple[FormField | OneOf, ...]:
    return (
        OneOf(
            tr("The target is given"),
            (
                (tr("not at all: watched only"), ()),
                (tr("in millivolts"), ("target_millivolts",)),
                (tr("as current in one pair"), ("target_milliamperes",)),
                (tr("as current of all pairs"), ("target_total_milliamperes",)),
                (tr("as a table against temperature"), ("target_table.temperature_of", "target_table.row")),
                (tr("in watts from the mains"), ("target_watts",)),
                (tr("by residual distortion"), ("target_residual", "residual_percent_at_most")),
            ),
        ),
        FormField("target_millivolts", tr("Target"), Shape.NUMBER, unit="mV", example="13.5"),
        FormField("target_milliamperes", tr("Target"), Shape.NUMBER, unit=tr("mA in one pair"), example="25"),
        FormField(
            "target_total_milliamperes", tr("Target"), Shape.NUMBER, unit=tr("mA of all pairs"), example="120"
        ),
        FormField(
            "target_table.temperature_of",
            tr("Temperature of the"),
            Shape.CHOICE,
            choices=(("room", tr("room")), ("heatsink", tr("heatsink"))),
        ),
        FormField("target_table.row", tr("°C and mV, one row a line"), Shape.TABLE, example="25  4.4"),
        FormField("target_watts", tr("Target"), Shape.NUMBER, unit="W", example="70"),
        FormField(
            "target_residual", tr("What is to be seen"), example=tr("crossover spikes 3 cm high at 8 ohm")
        ),
        FormField("residual_percent_at_most", tr("Residual at most"), Shape.NUMBER, unit="%", example="0.05"),
    )


def _tolerance() -> tuple[FormField | OneOf, ...]:
    return (
        OneOf(
            tr("The tolerance is given"),
            (
                (tr("not at all"), ()),
                (tr("in percent"), ("tolerance_percent",)),
                (tr("in millivolts to both sides"), ("tolerance_millivolts",)),
                (tr("as low and high, in mV"), ("low_millivolts", "high_millivolts")),
                (tr("as low and high, in its unit"), ("low", "high")),
            ),
        ),
        FormField("tolerance_percent", tr("Tolerance"), Shape.NUMBER, unit="± %", example="10"),
        FormField("tolerance_millivolts", tr("Tolerance"), Shape.NUMBER, unit="± mV", example="0.5"),
        FormField("low_millivolts", tr("Low limit"), Shape.NUMBER, unit="mV", example="9"),
        FormField("high_millivolts", tr("High limit"), Shape.NUMBER, unit="mV", example="11.5"),
        FormField("low", tr("Low limit"), Shape.NUMBER, unit=tr("in its unit"), example="10"),
        FormField("high", tr("High limit"), Shape.NUMBER, unit=tr("in its unit"), example="70"),
    )


def _condition() -> tuple[FormField, ...]:
    return (
        FormField(
            "condition.kind",
            tr("The target counts"),
            Shape.CHOICE,
            choices=_words([kind.value for kind in ConditionKind]),
        ),
        FormField(
            "condition.warm_up_minutes", tr("Warm-up at least"), Shape.NUMBER, unit="min", example="20"
        ),
        FormField(
            "condition.time_minutes", tr("Time after power-on"), Shape.NUMBER, unit="min", example="30"
        ),
        FormField("condition.sink_degrees_c", tr("Heatsink below"), Shape.NUMBER, unit="°C", example="40"),
        FormField("condition.repeat_minutes", tr("Look again after"), Shape.NUMBER, unit="min", example="10"),
    )


def _presets() -> Section:
    sets: Choices = (
        ("bias", tr("bias")),
        ("offset", tr("offset")),
        ("distortion", tr("distortion")),
        ("other", tr("something else")),
    )
    return Section(
        tr("Presets"),
        (),
        hint=tr("The trimmers: what each sets, on which channel, and which others it upsets."),
        lists=(
            RowList(
                "preset",
                tr("Presets"),
                tr("preset"),
                (
                    FormField("name", tr("Name"), example="VR1"),
                    FormField("sets", tr("Sets"), Shape.CHOICE, choices=sets),
                    FormField("channel", tr("Acts on"), example="left bias"),
                    FormField("interacts_with", tr("Upsets"), Shape.NAMES, example="VR2, VR3"),
                    FormField("turns", tr("Turns"), Shape.NUMBER, example="15"),
                    FormField("notes", tr("Notes")),
                ),
            ),
        ),
    )


def _ratings() -> Section:
    return Section(
        tr("Ratings"),
        (
            _rated("distortion_percent", tr("Distortion"), "%", "0.02"),
            _rated("low_hz", tr("Response from"), "Hz", "20"),
            _rated("high_hz", tr("Response to"), "Hz", "20000"),
            _rated("response_db", tr("Response within"), "± dB", "0.5"),
            _rated("sensitivity_millivolts", tr("Sensitivity, for the first power"), "mV", "775"),
            _rated("gain_db", tr("Gain"), "dB", "28.3"),
            _rated("signal_to_noise_db", tr("Signal to noise"), "dB", "100"),
            _rated("crosstalk_db", tr("Crosstalk"), "dB", "-60"),
            _rated("damping_factor", tr("Damping factor"), "", "100"),
            _rated("idle_watts", tr("Power from the mains at idle"), "W", "35"),
            _rated("mains_volts", tr("Mains"), "V", "230"),
            FormField("fuse", tr("Fuse"), example="T 3.15 A", sourced=True),
            FormField(
                "protection",
                tr("Protection class"),
                Shape.CHOICE,
                choices=(("", tr("not said")), *_words(["I", "II", "III"])),
                sourced=True,
            ),
        ),
        place=("ratings",),
        lists=(
            RowList(
                "power",
                tr("Power"),
                tr("power"),
                (
                    FormField("watts", tr("Power"), Shape.NUMBER, unit="W", example="80"),
                    FormField("load_ohm", tr("Load"), Shape.NUMBER, unit="Ω", example="8"),
                    FormField("distortion_percent", tr("At distortion"), Shape.NUMBER, unit="%", example="1"),
                    FormField("both_driven", tr("Both driven"), Shape.FLAG, usual=True),
                ),
            ),
        ),
    )


def _offset() -> Section:
    return Section(
        tr("Offset"),
        (
            FormField(
                "offset_limit_millivolts",
                tr("Limit of the offset"),
                Shape.NUMBER,
                unit="± mV",
                example="50",
                sourced=True,
            ),
            FormField(
                "offset_trim",
                tr("It is set by"),
                Shape.CHOICE,
                choices=(
                    ("", tr("not looked up")),
                    ("trimmer", tr("a trimmer")),
                    ("servo", tr("a servo")),
                    ("none", tr("nothing")),
                ),
                sourced=True,
            ),
            FormField(
                "offset_before_bias",
                tr("Order"),
                Shape.CHOICE,
                choices=(
                    ("", tr("not looked up")),
                    ("true", tr("before the bias")),
                    ("false", tr("after the bias")),
                ),
                sourced=True,
            ),
            FormField(
                "offset_after_relay_s",
                tr("It counts so long after the relay"),
                Shape.NUMBER,
                unit="s",
                example="10",
                sourced=True,
            ),
        ),
    )


def _notes() -> Section:
    return Section(
        tr("Notes and errata"),
        (
            FormField("notes", tr("Notes, one a line"), Shape.LINES),
            FormField("errata", tr("What the manual has wrong, one a line"), Shape.LINES),
        ),
    )
