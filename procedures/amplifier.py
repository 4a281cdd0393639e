"""The unit on the bench as data: ratings, output stage, test points, bias target and its condition."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class OutputStage(StrEnum):
    """Kind of output stage; decides what is plausible and whether trim advice may use the z domain."""

    EMITTER_FOLLOWER = "emitter follower"
    TRIPLE = "triple emitter follower"
    CFP = "complementary feedback pair"
    LATERAL_MOSFET = "lateral mosfet"
    VERTICAL_MOSFET = "vertical mosfet"
    CLASS_AB_B = "class ab+b"
    CLASS_GH = "class g or h"
    UNKNOWN = "unknown"


class ConditionKind(StrEnum):
    """Under which condition a target is to be met."""

    AT_REST = "at rest"
    AT_TIME = "at a stated time"
    BELOW_SINK = "below a sink temperature"
    COLD = "cold"


@dataclass(frozen=True, slots=True)
class Condition:
    """When a target counts. `time_s` from power-on for AT_TIME, `sink_degrees_c` for BELOW_SINK.

    `warm_up_s` is the shortest warm-up before a target at rest is judged.
    """

    kind: ConditionKind = ConditionKind.AT_REST
    time_s: float | None = None
    sink_degrees_c: float | None = None
    warm_up_s: float = 1200.0
