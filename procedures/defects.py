"""What may be the matter with a simulated unit: the words for it, and what the screen tells of it."""

from __future__ import annotations

from typing import Final

DEFECT_WORDS: Final = {
    "far too high": "one channel was set far too high",
    "runs away": "the sensors do not follow the heat: the current runs away",
    "falls as it warms": "the reading falls as it warms (over-compensated)",
    "creeps up": "the reading creeps up for the whole sitting (under-compensated)",
    "moves with the air": "the reading moves with the air",
    "scratchy trimmer": "a scratchy trimmer",
    "play in the trimmer": "a trimmer with much play",
    "mirrored trimmer": "a trimmer that works the other way round",
    "trimmer at its end": "a trimmer that ends before the target",
    "intermittent joint": "an intermittent joint",
    "trimmers change places": "each trimmer sets the other channel",
    "test points change places": "the test points of left and right change places",
    "pair not conducting": "an output pair that does not conduct",
    "far too low": "a channel was set far too low",
    "set at another temperature": "a trimmer was set at another temperature than its target is for",
    "hums": "hum on the outputs",
    "transformer buzzes": "a transformer that buzzes",
    "weak channel": "a channel that amplifies less than the other",
    "clips early": "a channel that clips early",
    "offset too high": "too much offset on an output",
    "worn relay contact": "a worn relay contact",
    "badly repaired": "traces of an earlier bad repair",
}
NO_TRIMMER_MENDS: Final = frozenset({"runs away", "trimmer at its end"})
MOVES_BY_ITSELF: Final = frozenset({"scratchy trimmer", "intermittent joint", "moves with the air"})
_STEPS: Final = frozenset({"step", "scratchy wiper", "intermittent joint"})
SHOWN_BY: Final = {
    "far too high": frozenset({"alarm act", "alarm off", "alarm look"}),
    "runs away": frozenset({"alarm act", "alarm off", "alarm look"}),
    "scratchy trimmer": _STEPS,
    "intermittent joint": _STEPS,
    "moves with the air": frozenset({"lid or draught"}),
    "trimmer at its end": frozenset({"range exhausted"}),
    "trimmers change places": frozenset({"wrong trimmer"}),
    "test points change places": frozenset({"wrong trimmer"}),
}
