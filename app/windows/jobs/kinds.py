"""The kinds of entries: what was noted in a state, parts, work, tests that were left out."""

from __future__ import annotations

import secrets
from collections.abc import Sequence

from PySide6.QtCore import QCoreApplication, Slot
from PySide6.QtWidgets import QWidget

from app.windows.jobs.blanks import HEIGHT, Blank, Choice, ShortBlank, Tick
from app.windows.jobs.entries import Entry, EntryList, EntryRefused, Now, Words
from app.windows.jobs.pen import JobPen
from app.windows.worded import Label
from app.windows.wording import number_from
from procedures.job import (
    EntryKind,
    JobFact,
    PartFitted,
    PartTakenBack,
    State,
    StateNoted,
    TakenBack,
    TestLeftOut,
    Worked,
)
from procedures.steps.typed_units import as_typed, typed_with_unit


def tr(text: str) -> str:
    """Translate words that belong to no widget."""
    return QCoreApplication.translate("jobs", text)


def not_negative(text: str) -> None:
    """Refuse what is no number from zero on. Raises ValueError."""
    if text and number_from(text, "4.5") < 0.0:
        raise ValueError(tr("“{text}” is less than nothing: type 0 or more").format(text=text))


def a_value(text: str) -> None:
    """Refuse what is no value with a unit. Raises ValueError."""
    if text:
        typed_with_unit(text)


def pieces(text: str) -> None:
    """Refuse what is no count. Raises ValueError."""
    if text and not (text.isascii() and text.isdigit() and 1 <= int(text[:9]) <= 9999):
        raise ValueError(
            tr("“{text}” is no number of pieces: type one from 1 to 9999").format(text=text[:20])
        )


def number_or_none(text: str) -> float | None:
    """The number that stands there; None where nothing does."""
    return number_from(text) if text else None


class StateEntry(Entry):
    """What was noted; a reason for having measured nothing is asked for only where nothing is told."""

    def __init__(
        self, blanks: dict[str, Blank], line: Sequence[object], because: Label, parent: QWidget
    ) -> None:
        super().__init__(blanks, line, parent)
        self._reason = (because, blanks["reason"])
        self.said.connect(self._fold)

    def show_words(self, words: Words) -> None:
        """Show what is kept."""
        super().show_words(words)
        self._fold()

    @Slot()
    def _fold(self) -> None:
        told = self.words
        asked = bool(told["reason"]) or self.unsaid or not (told["value"] or told["words"])
        for part in self._reason:
            part.setVisible(asked)


class StateList(EntryList):
    """What was measured or seen in one of the three states."""

    def __init__(self, state: State, pen: JobPen, now: Now, parent: QWidget | None = None) -> None:
        self._state = state
        super().__init__(pen, now, parent)

    def new_entry(self) -> Entry:
        """What, where, the value, what was seen, or why there is no value."""
        name = ShortBlank(
            tr("What, {state}").format(state=self._state.value),
            example=tr("mains, idle power, hum …"),
            wide=24,
        )
        channel = ShortBlank(tr("On which channel"), example=tr("left"), wide=8)
        value = ShortBlank(tr("Its value with the unit"), example="231 V", wide=10, check=a_value)
        words = ShortBlank(tr("What was seen"), example=tr("what was seen or heard"), wide=24)
        reason = ShortBlank(tr("Why it was not measured"), example=tr("the reason"), wide=16)
        blanks: dict[str, Blank] = {
            "name": name,
            "channel": channel,
            "value": value,
            "words": words,
            "reason": reason,
        }
        because = Label(tr("or not measured, because"))
        because.setFixedHeight(HEIGHT)
        line = [name, tr("on"), channel, ":", value, words, because, reason]
        return StateEntry(blanks, line, because, self)

    def key_of(self, fact: JobFact) -> str:
        """State, name and channel."""
        assert isinstance(fact, StateNoted)
        return fact.key

    def words_of(self, fact: JobFact) -> Words:
        """The value as one would type it."""
        assert isinstance(fact, StateNoted)
        value = ""
        if fact.value is not None:
            value = as_typed(fact.value, fact.unit) if fact.unit is not None else f"{fact.value:g}"
        told = {"name": fact.name, "channel": fact.channel, "words": fact.words, "reason": fact.reason}
        return told | {"value": value}

    def fact_of(self, words: Words, key: str) -> JobFact:
        """A value and a reason for having none exclude each other."""
        if words["value"] and words["reason"]:
            raise EntryRefused(
                "reason", tr("A value, and a reason for having none: empty one of the two to keep the other.")
            )
        value, unit = typed_with_unit(words["value"]) if words["value"] else (None, None)
        told = (words["channel"], words["words"], words["reason"])
        return StateNoted(self.now(), self._state, words["name"], value, unit, *told)

    def taking_back(self, key: str) -> JobFact:
        """By its key."""
        return TakenBack(self.now(), EntryKind.STATE, key)


_PART_BLANKS = (
    "reference",
    "rating_asked",
    "rating_fitted",
    "maker",
    "source",
    "batch",
    "matched",
    "price",
    "words",
)


class PartList(EntryList):
    """Parts that were fitted; what ought to be questioned about one stands below it."""

    def new_entry(self) -> Entry:
        """From the reference on the board to where the old part went."""
        short = {
            "reference": ShortBlank(tr("Reference on the board"), example="Q7", wide=8),
            "quantity": ShortBlank(tr("How many"), example="1", wide=4, check=pieces),
            "rating_asked": ShortBlank(tr("Rating asked for"), example=tr("type and rating"), wide=16),
            "rating_fitted": ShortBlank(tr("Rating fitted"), example=tr("type and rating"), wide=16),
            "maker": ShortBlank(tr("Maker of the part"), wide=10),
            "source": ShortBlank(tr("Where it was bought"), example=tr("unknown"), wide=12),
            "batch": ShortBlank(tr("Batch or date code"), wide=9),
            "matched": ShortBlank(tr("What it was matched to"), example=tr("gain, Vbe"), wide=10),
            "price": ShortBlank(tr("Price"), wide=7),
            "words": ShortBlank(
                tr("What else there is to say about the part"), example=tr("remarks"), wide=16
            ),
        }
        safety = Tick(tr("Safety-critical"), tr("safety-critical"))
        theirs = Tick(tr("Customer-supplied"), tr("brought by the customer"))
        answers = {"": tr("nobody has said"), "yes": tr("given back"), "no": tr("kept here")}
        returned = Choice(tr("The old part"), answers)
        blanks: dict[str, Blank] = {
            **short,
            "safety_critical": safety,
            "customer_supplied": theirs,
            "returned": returned,
        }
        line = [
            short["reference"],
            "×",
            short["quantity"],
            tr("asked for"),
            short["rating_asked"],
            tr("fitted"),
            short["rating_fitted"],
            tr("made by"),
            short["maker"],
            tr("bought from"),
            short["source"],
            tr("batch"),
            short["batch"],
            tr("matched"),
            short["matched"],
            tr("price"),
            short["price"],
            safety,
            theirs,
            tr("old part:"),
            returned,
            short["words"],
        ]
        return Entry(blanks, line, self)

    def key_of(self, fact: JobFact) -> str:
        """The part's own identifier."""
        assert isinstance(fact, PartFitted)
        return fact.part

    def words_of(self, fact: JobFact) -> Words:
        """One piece needs no number."""
        assert isinstance(fact, PartFitted)
        returned = "" if fact.returned is None else "yes" if fact.returned else "no"
        return {
            **{name: getattr(fact, name) for name in _PART_BLANKS},
            "quantity": str(fact.quantity) if fact.quantity != 1 else "",
            "safety_critical": "yes" if fact.safety_critical else "",
            "customer_supplied": "yes" if fact.customer_supplied else "",
            "returned": returned,
        }

    def fact_of(self, words: Words, key: str) -> JobFact:
        """Any of it may be blank."""
        return PartFitted(
            self.now(),
            key or secrets.token_hex(4),
            quantity=int(words["quantity"] or 1),
            safety_critical=bool(words["safety_critical"]),
            customer_supplied=bool(words["customer_supplied"]),
            returned=None if not words["returned"] else words["returned"] == "yes",
            **{name: words[name] for name in _PART_BLANKS},
        )

    def taking_back(self, key: str) -> JobFact:
        """By its identifier."""
        return PartTakenBack(self.now(), key)

    def cautions(self, fact: JobFact) -> Sequence[str]:
        """Unknown source, other rating."""
        assert isinstance(fact, PartFitted)
        return fact.questions


class WorkList(EntryList):
    """What was done, and how long it took."""

    def new_entry(self) -> Entry:
        """What, where, why, in which step, and the minutes."""
        action = ShortBlank(tr("What was done"), example=tr("what was done"), wide=22)
        reference = ShortBlank(tr("At which part"), example="RL1", wide=7)
        fault = ShortBlank(tr("Because of which fault"), example=tr("what was found"), wide=15)
        step = ShortBlank(tr("In which step"), example=tr("step"), wide=9)
        minutes = ShortBlank(tr("Minutes that it took"), example="20", wide=5, check=not_negative)
        blanks: dict[str, Blank] = {
            "action": action,
            "reference": reference,
            "fault": fault,
            "step": step,
            "minutes": minutes,
        }
        line = [
            action,
            tr("at part"),
            reference,
            tr("because"),
            fault,
            tr("in"),
            step,
            tr("took"),
            minutes,
            tr("min"),
        ]
        return Entry(blanks, line, self)

    def key_of(self, fact: JobFact) -> str:
        """Its own identifier."""
        assert isinstance(fact, Worked)
        return fact.key

    def words_of(self, fact: JobFact) -> Words:
        """Minutes without needless decimals."""
        assert isinstance(fact, Worked)
        minutes = "" if fact.minutes is None else f"{fact.minutes:.6g}"
        told = {"action": fact.action, "reference": fact.reference, "fault": fact.fault, "step": fact.step}
        return told | {"minutes": minutes}

    def fact_of(self, words: Words, key: str) -> JobFact:
        """An entry from before entries had identifiers gets one."""
        entry = key if key and "\n" not in key else secrets.token_hex(4)
        told = (words["action"], words["step"], words["reference"], words["fault"])
        return Worked(self.now(), *told, number_or_none(words["minutes"]), entry)

    def taking_back(self, key: str) -> JobFact:
        """By its key."""
        return TakenBack(self.now(), EntryKind.WORK, key)


class LeftOutList(EntryList):
    """Tests that were not done."""

    def new_entry(self) -> Entry:
        """Which, and why."""
        test = ShortBlank(tr("Test that was not done"), example=tr("load test"), wide=24)
        reason = ShortBlank(tr("Why the test was not done"), example=tr("the reason"), wide=34)
        blanks: dict[str, Blank] = {"test": test, "reason": reason}
        return Entry(blanks, [test, tr("was not done, because"), reason], self)

    def key_of(self, fact: JobFact) -> str:
        """The test."""
        assert isinstance(fact, TestLeftOut)
        return fact.key

    def words_of(self, fact: JobFact) -> Words:
        """As they were said."""
        assert isinstance(fact, TestLeftOut)
        return {"test": fact.test, "reason": fact.reason}

    def fact_of(self, words: Words, key: str) -> JobFact:
        """A reason alone says nothing."""
        if not words["test"]:
            raise EntryRefused("test", tr("Say which test it is."))
        return TestLeftOut(self.now(), words["test"], words["reason"])

    def taking_back(self, key: str) -> JobFact:
        """By the test."""
        return TakenBack(self.now(), EntryKind.TEST, key)
