"""Step kinds: one file a kind, and one line each in the table here."""

from __future__ import annotations

from procedures.steps.step import StepFields
from procedures.steps.watch import Watch

Step = Watch
KINDS: dict[str, type[StepFields]] = {"watch": Watch}
