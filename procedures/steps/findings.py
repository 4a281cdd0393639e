"""What a measurement may find of a channel, in the words that conditions of later steps use."""

from __future__ import annotations

INSIDE = "inside"
LOW = "low"
HIGH = "high"
FAR_HIGH = "far high"
CHANGED = "changed"
NOT_MEASURED = "not measured"
RECORDED = "recorded"

FINDINGS = (INSIDE, LOW, HIGH, FAR_HIGH, CHANGED, NOT_MEASURED, RECORDED)
"""inside: accepted. low, high: not. far high: above 1.5 x target. changed: it was trimmed before it could
be measured as found. not measured: a person says why not. recorded: there is nothing to judge it by."""

FAR_HIGH_FACTOR = 1.5
"""The same as the lowest alarm on level, so that what is called far high has also been called out."""
