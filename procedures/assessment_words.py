"""What an assessment says: one sentence a matter, plain and without marks out of anything.

Not here: the fold (`assessment`), and the words for what may be the matter (`defects`).
"""

from __future__ import annotations

from typing import Final

from procedures.analysis.figures import duration, figure, side
from procedures.assessment import Assessment, Heeded, Left, Seen
from procedures.defects import DEFECT_WORDS

_RESOLUTION: Final = 1e-5


def told(one: Assessment) -> tuple[str, ...]:
    """The sentences of an assessment, the outcome first."""
    lines = [_left(left) for left in one.left]
    lines += [_turning(one), *_overshoot(one), _time(one), *_waiting(one)]
    lines += [_alarm(alarm) for alarm in one.alarms] or ["No alarm about the current was raised."]
    lines += _matter(one)
    return tuple(filter(None, lines))


def _volts(volts: float) -> str:
    return figure(volts, resolution=_RESOLUTION)


def _left(left: Left) -> str:
    read = "was not read" if left.read_volts is None else f"read {_volts(left.read_volts)} at the end"
    begin = f"{left.channel[:1].upper()}{left.channel[1:]} {read}"
    if left.stays is None:
        return f"{begin}; where it would rest was not kept in this session."
    if left.rests_volts is None:
        return f"{begin}; as it was left it does not come to rest, or the channel is damaged."
    where = "inside the window" if left.stays else "outside the window"
    text = f"{begin}; as it was left it rests at {_volts(left.rests_volts)}, lid on: {where}."
    if left.moved_by:
        text += f" It does not stay there by itself: {DEFECT_WORDS[left.moved_by]}."
    return text


def _turning(one: Assessment) -> str:
    if not one.hands_kept:
        return "What the hands did was not kept in this session."
    many = len(one.visits)
    counted = {visit.channel: 0 for visit in one.visits}
    for visit in one.visits:
        counted[visit.channel] += 1
    each = ", ".join(f"{side(channel)} {count}" for channel, count in counted.items())
    text = "No trimmer was turned" if not many else f"Adjustments: {many} ({each})"
    if one.fewest is None:
        return f"{text}."
    if one.fewest == 0:
        return f"{text}; none could have improved it, or none was needed."
    return f"{text}; {one.fewest} would have done, one for each channel that was out."


def _overshoot(one: Assessment) -> list[str]:
    past = one.overshoots
    if not one.visits:
        return []
    if not past:
        return ["No adjustment went beyond the window."]
    largest = max(visit.past_volts for visit in past)
    return [f"Beyond the window: {_times(len(past))}, by {_volts(largest)} at the most."]


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _time(one: Assessment) -> str:
    if one.done_s is None:
        return "The amplifier was never said to be on, or the run was not ended."
    how = "to the end of the run" if one.finished else "until the run was stopped"
    fast = f" (bench time; the bench ran at up to ×{one.fastest:g})" if one.fastest > 1.0 else ""
    return f"From power-on {how}: {duration(one.done_s)}{fast}."


def _waiting(one: Assessment) -> list[str]:
    if not one.cuts:
        return ["No waiting was cut short."]
    said = [
        f"“{cut.step}” was cut short" + (f" by {duration(cut.left_s)}" if cut.left_s is not None else "")
        for cut in one.cuts
    ]
    return [f"Waiting: {'; '.join(said)}."]


def _alarm(heeded: Heeded) -> str:
    alarm = heeded.alarm
    name = alarm.channel or "the unit"
    tier = {"look": "look", "act": "act now", "off": "switch off"}.get(alarm.tier.value, alarm.tier.value)
    if heeded.stood_s is None:
        return f"Alarm ({tier}) about {name}: the current did not fall before the end."
    return f"Alarm ({tier}) about {name}: it stood {duration(heeded.stood_s)} before the current fell."


def _matter(one: Assessment) -> list[str]:
    lines = [_seen(seen, one.anything_named) for seen in one.seen]
    lines += [f"You named “{DEFECT_WORDS[kind]}”; this unit has none of that." for kind in one.wrongly_named]
    return lines


def _seen(seen: Seen, anything_named: bool) -> str:
    where = f", {seen.defect.channel}" if seen.defect.channel else ""
    words = DEFECT_WORDS.get(seen.defect.kind, seen.defect.kind)
    text = f"What was the matter: {words}{where}."
    if seen.told_s is not None:
        text += f" The screen told of it {duration(seen.told_s)} into the session."
    if seen.named:
        return f"{text} You named it."
    return f"{text} You did not name it." if anything_named else f"{text} Nobody was asked to name it."
