"""Step kinds: one file a kind, and one line in the table here."""

from __future__ import annotations

from typing import Annotated, get_args

from pydantic import Field

from procedures.steps.choose import Choose
from procedures.steps.compare import Compare
from procedures.steps.confirm import Confirm
from procedures.steps.connect import Connect
from procedures.steps.drive import Drive
from procedures.steps.inspect import Inspect
from procedures.steps.jump import Jump
from procedures.steps.lid import Lid
from procedures.steps.measure import Measure
from procedures.steps.note import Note
from procedures.steps.nudge import Nudge
from procedures.steps.power import Power
from procedures.steps.protection import ProtectionStep
from procedures.steps.record_value import RecordValue
from procedures.steps.repeat import Repeat
from procedures.steps.round import Round
from procedures.steps.signal import SignalStep
from procedures.steps.signal_path import SignalPath
from procedures.steps.soak import Soak
from procedures.steps.step import StepFields
from procedures.steps.summary import Summary
from procedures.steps.trim import Trim
from procedures.steps.turn_down import TurnDown
from procedures.steps.wait import Wait
from procedures.steps.warm_up import WarmUp
from procedures.steps.watch import Watch

Step = Annotated[
    Choose
    | Drive
    | SignalPath
    | SignalStep
    | Soak
    | Round
    | Nudge
    | Jump
    | Inspect
    | Compare
    | Confirm
    | Connect
    | Lid
    | Measure
    | Note
    | Power
    | ProtectionStep
    | RecordValue
    | Repeat
    | Summary
    | Trim
    | TurnDown
    | Wait
    | WarmUp
    | Watch,
    Field(discriminator="kind"),
]

KINDS: dict[str, type[StepFields]] = {
    get_args(kind.model_fields["kind"].annotation)[0]: kind for kind in get_args(get_args(Step)[0])
}
"""The kinds by the word that stands in a file."""
