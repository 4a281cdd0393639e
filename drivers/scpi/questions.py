"""Which questions make one round of readings: one input, a pair of displays, or the channels of a scanner."""

from __future__ import annotations

from dataclasses import dataclass

from drivers.errors import ReplyRefused
from drivers.links import Reply
from drivers.scpi.dialect import Dialect
from drivers.scpi.reply import ReplyValue, parse_reply


@dataclass(frozen=True, slots=True)
class Question:
    """One exchange. `takes` says which input is which field of the reply.

    `first` is sent before it and given `settle_s` to take effect. With `in_turn` the fields were measured
    one after another, so each has its share of the time.
    """

    line: str
    takes: tuple[tuple[str, int], ...]
    fields: int
    first: str = ""
    channel: str = ""
    settle_s: float = 0.0
    in_turn: bool = False


def questions_of(dialect: Dialect, read_line: str, inputs: tuple[str, ...]) -> tuple[Question, ...]:
    """The questions that give one reading of each of `inputs`, in their order."""
    form, scanner = dialect.reply, dialect.scanner
    if scanner is not None and scanner.scan:
        takes = tuple((name, index) for index, name in enumerate(inputs))
        return (Question(read_line, takes, len(inputs), in_turn=True),)
    if scanner is not None:
        return tuple(
            Question(
                read_line,
                ((name, form.index),),
                form.fields,
                first=scanner.close,
                channel=name,
                settle_s=scanner.settle_s,
            )
            for name in inputs
        )
    if not dialect.input:
        return (Question(read_line, ((inputs[0], form.index),), form.fields),)
    lines: dict[str, list[tuple[str, int]]] = {}
    for each in dialect.input:
        if each.name in inputs:
            lines.setdefault(each.line or read_line, []).append((each.name, each.index))
    return tuple(Question(line, tuple(takes), form.fields) for line, takes in lines.items())


def fields_of(question: Question, reply: Reply, dialect: Dialect) -> tuple[ReplyValue | ReplyRefused, ...]:
    """What the reply says for each input of the question.

    A field that is no reading beside others that are is that input's own trouble (a second display that is
    switched off says a word). A line without a single reading, or with another number of fields, is refused.

    Raises:
        ReplyRefused: when nothing in the line can be believed.
    """
    form = dialect.reply
    found: list[ReplyValue | ReplyRefused] = []
    for _, index in question.takes:
        try:
            value = parse_reply(
                reply.raw,
                fields=question.fields,
                index=index,
                shape=form.shape,
                overload_at=form.overload_at,
            )
            if value.unit is not None and value.unit is not form.unit:
                raise ReplyRefused(
                    f"the meter answers in {value.unit}, not in {form.unit}: set it to DC volts", reply.raw
                )
            found.append(value)
        except ReplyRefused as problem:
            found.append(problem)
    refused = [each for each in found if isinstance(each, ReplyRefused)]
    if len(refused) == len(found):
        raise refused[0]
    return tuple(found)
