"""What a person begins by a key on the working screen, as questions in the form that the run uses."""

from __future__ import annotations

from app.windows.answer_bar import OWN
from app.windows.ports import BenchPicture
from app.windows.wording import shown_unit, tr
from procedures.events import AnswerKind, Choice, Question, Supply


def note_question(picture: BenchPicture) -> Question:
    """Ask for the words of a note."""
    return Question(picture.view.at_s, OWN + "note", "", tr("Note (Enter keeps it):"), AnswerKind.TEXT)


def value_question(picture: BenchPicture, channel: str) -> Question:
    """Ask for a value read off a display."""
    unit = picture.setup_of(channel).unit
    text = tr("{channel} shows, {unit}:").format(channel=channel, unit=shown_unit(unit))
    return Question(picture.view.at_s, OWN + "value", "", text, AnswerKind.VALUE, unit=unit)


def supply_question(picture: BenchPicture) -> Question:
    """Ask what the amplifier is fed from; the program cannot see it."""
    words = {
        Supply.OFF: tr("Switched off"),
        Supply.MAINS: tr("On the mains"),
        Supply.SERIES_LAMP: tr("On the series lamp"),
        Supply.REDUCED: tr("Reduced mains"),
    }
    choices = tuple(
        Choice(kind.value, text) for kind, text in words.items() if kind is not picture.view.supply
    )
    return Question(picture.view.at_s, OWN + "supply", "", tr("The amplifier is now:"), choices=choices)


def lead_question(picture: BenchPicture) -> Question:
    """Ask which input touches which channel now, or none any more."""
    channels = [s.channel for s in picture.view.channels]
    choices = []
    for lead in picture.leads:
        places = [(channel, f"{lead.meter} → {channel}") for channel in channels]
        places.append(("", tr("{meter} → taken off").format(meter=lead.meter)))
        for channel, text in places:
            if channel != (lead.channel or ""):
                choices.append(Choice("\n".join((lead.meter, lead.input, channel)), text))
    return Question(picture.view.at_s, OWN + "lead", "", tr("Moved:"), choices=tuple(choices))


def next_lead_move(picture: BenchPicture) -> tuple[str, str, str | None] | None:
    """Where the lead can only have gone: one lead, the next channel in the row. None: it must be asked."""
    leads = list(picture.leads)
    channels = [s.channel for s in picture.view.channels]
    if len(leads) != 1 or len(channels) < 2:
        return None
    lead = leads[0]
    place = channels.index(lead.channel) + 1 if lead.channel in channels else 0
    return lead.meter, lead.input, channels[place % len(channels)]


def typed_channels(picture: BenchPicture) -> list[str]:
    """The channels whose values a person may type: declared as typed, or read by no lead.

    Focus first, then the one that was typed longest ago.
    """
    read = {lead.channel for lead in picture.leads if lead.channel is not None}
    typed = {s.channel for s in picture.setups if s.typed}
    found = [s.channel for s in picture.view.channels if s.channel in typed or s.channel not in read]
    return sorted(found, key=lambda name: (name != picture.view.focus, last_typed_s(picture, name)))


def last_typed_s(picture: BenchPicture, channel: str) -> float:
    """The session second of the newest value of a channel; -1 where there is none."""
    trace = next((one for one in picture.traces if one.channel == channel), None)
    return float(trace.seconds[-1]) if trace is not None and trace.seconds.size else -1.0


def lid_now(picture: BenchPicture) -> bool:
    """Whether the cover is on, as it was said last."""
    return picture.view.lid_fitted
